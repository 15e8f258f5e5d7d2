"""What a station card says of a cup on its way goes in; what the cup looks like comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildsheets.views.words import Words
from buildsheets.wall.strings import level, said


@dataclass(frozen=True, slots=True)
class Seen:
    """What a cup looks like on its way, as far as it is said; ``usually`` if not always."""

    usually: bool = False
    empty: bool = False  # the cup
    cup_ml: float | None = None
    bed_ml: float | None = None
    shaker_ml: float | None = None
    ice_only: bool = False
    new_cup: bool = False  # an empty cup is to be taken, whatever came
    over_rim: bool = False  # foam stands over the rim, under its dome
    any_cup: bool = False  # one with an add-on is spoken of, if there is one
    blender_ml: float | None = None


def seen(text: str, words: Words) -> Seen:
    """What "topping to 90 ml + shaker 405 ml" says of a cup."""
    if usual := said(text, "usually", words):
        return replace(seen(usual["state"], words), usually=True)
    if both := said(text, "and_level", words):
        first, second = seen(both["first"], words), seen(both["second"], words)
        return _both(first, second)
    if text == words("empty_cup"):
        return Seen(empty=True)
    if text == words("take_cup"):
        return Seen(empty=True, new_cup=True)
    if text in (words("cup_with_add_on"), words("take_that_cup")):
        return Seen(any_cup=True)
    if text in (words("empty_shaker"), words("shaker_and_cup")):
        return Seen(shaker_ml=0.0, any_cup=text == words("shaker_and_cup"))
    if text in (words("empty_blender"), words("blender_and_cup")):
        return Seen(blender_ml=0.0, any_cup=text == words("blender_and_cup"))
    if text == words("over_rim"):
        return Seen(over_rim=True)
    if text in (words("ice_in"), words("pieces_in")):
        return Seen(ice_only=True)
    if shaker := said(text, "in_shaker", words):
        return Seen(shaker_ml=level(shaker["level"], words))
    if blender := said(text, "in_blender", words):
        return Seen(blender_ml=level(blender["level"], words))
    if bed := said(text, "with_bed", words):
        return Seen(bed_ml=level(bed["level"], words))
    return Seen(cup_ml=level(text, words))


def _both(one: Seen, other: Seen) -> Seen:
    return Seen(
        one.usually or other.usually,
        one.empty or other.empty,
        one.cup_ml if other.cup_ml is None else other.cup_ml,
        one.bed_ml if other.bed_ml is None else other.bed_ml,
        one.shaker_ml if other.shaker_ml is None else other.shaker_ml,
        one.ice_only or other.ice_only,
        one.new_cup or other.new_cup,
        one.over_rim or other.over_rim,
        one.any_cup or other.any_cup,
        one.blender_ml if other.blender_ml is None else other.blender_ml,
    )
