"""A printed string goes in; the number or the values it says come out, in the card's language.

The reader's eyes: nothing here knows how a card is made, only how its language is read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from string import Formatter

from buildsheets.views.words import Words

NOT_MADE = "–"
"""In the place of an amount: this is not made."""

_FRACTIONS = {"¼": 0.25, "½": 0.5, "¾": 0.75}


def number(text: str, words: Words) -> float:
    """A printed number: "120", "1½", "1,5". Raises ``ValueError`` for anything else.

    >>> number("1½", Words("en", {}))
    1.5
    """
    from babel.numbers import get_decimal_symbol, get_group_symbol

    plain = "".join(text.split())
    share = _FRACTIONS.get(plain[-1:], 0.0)
    whole = plain[:-1] if share else plain
    if not whole and share:
        return share
    if not re.fullmatch(r"\d[\d.,]*", whole):
        raise ValueError(f"'{text}' is no number")
    grouped = whole.replace(get_group_symbol(words.locale), "")
    return float(grouped.replace(get_decimal_symbol(words.locale), ".")) + share


def said(text: str, key: str, words: Words) -> Mapping[str, str] | None:
    """What stands in the places of a fixed word that a text is: "to 90 ml" is "to {level}" with
    "90 ml". ``None`` where it is not that word."""
    word = words.catalogue.get(key, "")
    forms = word.values() if isinstance(word, Mapping) else (word,)
    for form in forms:
        if found := _pattern(str(form)).fullmatch(text):
            return found.groupdict()
    return None


@lru_cache(maxsize=512)
def _pattern(word: str) -> re.Pattern[str]:
    parts = []
    for plain, name, _, _ in Formatter().parse(word):
        parts.append(re.escape(plain))
        if name is not None:
            parts.append(f"(?P<{name}>.+)")
    return re.compile("".join(parts))


def level(text: str, words: Words) -> float:
    """The ml of a level: "90 ml"."""
    found = said(text, "level_ml", words)
    if found is None:
        raise ValueError(f"'{text}' is no level")
    return number(found["ml"], words)


def reached(text: str, words: Words) -> float | None:
    """The ml of "to 90 ml"; ``None`` where no level is printed, or only the usual one."""
    if not text or said(text, "usually", words):
        return None
    found = said(text, "to_level", words)
    if found is None:
        raise ValueError(f"'{text}' says no level")
    return level(found["level"], words)


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
    any_cup: bool = False  # one with an add-on is spoken of, if there is one


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
    if text == words("ice_in"):
        return Seen(ice_only=True)
    if shaker := said(text, "in_shaker", words):
        return Seen(shaker_ml=level(shaker["level"], words))
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
        one.any_cup or other.any_cup,
    )
