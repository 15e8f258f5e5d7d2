"""A serving goes in; the drawing of its cup, with its layers and lines, comes out."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import get_args

from buildsheets.cup.layers import Standing
from buildsheets.cup.serving import Serving, Used
from buildsheets.menu.components import Drawn
from buildsheets.menu.model import AddStep, Menu
from buildsheets.views import rounding
from buildsheets.views.gauge import gauge_lines
from buildsheets.views.types import CupDrawing, DrawnLine, Layer
from buildsheets.views.words import Words

FORMS: tuple[str, ...] = get_args(Drawn)
DRAWN_AS_PIECES = ("settled", "swimming", "on-wall")
CAPS = ("grain", "wave")
ROOM_STEP_MM = 10.0
"""The scale of the drawings follows the largest cup in whole steps, so that a cup a little larger
than the others does not change every card."""


def cup_measures(serving: Serving, words: Words) -> str:
    """What tells this cup from the others on the shelf: its capacity, and its rim where known."""
    brimful = rounding.level(words, serving.final.cup.brimful_ml)
    rim_mm = serving.cup.rim_width_mm
    if rim_mm is None:
        return words("to_rim_only", volume=brimful)
    return words("to_rim", volume=brimful, **rounding.height(words, rim_mm))


def drawing(menu: Menu, serving: Serving, words: Words) -> CupDrawing:
    """The finished drink in true proportion, with its layers and lines."""
    cup, floor_mm = serving.final.cup, serving.cup.floor_mm
    layers = _layers(menu, serving, words)
    names = words.list([layer.name for layer in layers])
    top, dome = rounding.level(words, serving.final.top_ml), serving.final.dome
    if serving.final.in_dome_mm:
        top = words("over_rim")
    domed = [(cup.rim_height_mm + up, width) for up, width in dome.outline_mm()] if dome else []
    return CupDrawing(
        outline_mm=serving.cup.outline_mm,
        floor_mm=floor_mm,
        rim_mm=cup.rim_height_mm,
        working_mm=cup.height_mm(serving.working_ml),
        layers=layers,
        lines=tuple(
            DrawnLine(line.height_mm - floor_mm, line.label, line.kind)
            for line in gauge_lines(serving, words)
            if line.kind != "rim"
        ),
        alt=words("cup_drawing", layers=names, top=top),
        room_mm=_room_mm(menu),
        dome_mm=tuple((round(height, 1), round(width, 1)) for height, width in domed),
    )


def _room_mm(menu: Menu) -> tuple[float, float]:
    """Width and height of the largest cup that anything is sold in, in whole steps."""
    sold = {size.id: size for drink in menu.drinks.values() for size in drink.cups}
    wide = max(width for size in sold.values() for _, width in size.outline_mm)
    high = max(one.shape.height_mm + one.floor_mm + one.dome_high_mm for one in sold.values())
    return _stepped(wide), _stepped(high)


def _stepped(length_mm: float) -> float:
    return math.ceil(length_mm / ROOM_STEP_MM) * ROOM_STEP_MM


def topping_looks(menu: Menu) -> dict[str, tuple[str, int]]:
    """The form and variant of each topping of pieces: what the menu says, else one that is free.

    Forms are taken in the order of the menu. Where all are taken the one used least comes again,
    in its next variant, so that no two toppings of a menu look alike.
    """
    settled = [one for one in menu.toppings.values() if one.behaves in DRAWN_AS_PIECES]
    taken: Counter[str] = Counter()
    looks: dict[str, tuple[str, int]] = {}
    for topping in sorted(settled, key=lambda one: not one.drawn):  # those that say so first
        form = topping.drawn or min(FORMS, key=lambda form: taken[form])
        looks[topping.id] = form, taken[form]
        taken[form] += 1
    return looks


def _layers(menu: Menu, serving: Serving, words: Words) -> tuple[Layer, ...]:
    """Liquids from the lowest up, then beds, ice, caps, and what is dusted on them."""
    state, cup = serving.final, serving.final.cup
    in_cup: dict[str, list[Used]] = defaultdict(list)
    for figure in serving.steps:
        if figure.used and isinstance(figure.step, AddStep) and figure.step.into == "cup":
            in_cup[figure.used.component.behaves].append(figure.used)
    layers: list[Layer] = []

    def height(reading_ml: float) -> float:
        over_mm = state.dome.stands_mm(reading_ml - cup.brimful_ml) if state.dome else 0.0
        return cup.height_mm(min(reading_ml, cup.brimful_ml)) + over_mm

    def add(kind: str, low: float, high: float, name: str, pattern: str, variant: int = 0) -> None:
        low_mm, high_mm = height(low), height(high)
        layers.append(Layer(kind, round(low_mm, 1), round(high_mm, 1), name, pattern, variant))

    floor, standing = 0.0, serving.liquids
    for place, (name, liquid) in enumerate(zip(_names(standing, words), standing, strict=True)):
        add("liquid", floor, liquid.top_ml, name, "plain", place)
        floor = liquid.top_ml
    looks, floor = topping_looks(menu), 0.0
    for used in in_cup["settled"]:
        name, high = words.name(used.component), floor + used.volume_ml
        add("bed", floor, high, name, *looks[used.component.id])
        floor = high
    if state.ice_bottom_ml is not None and state.ice_top_ml is not None:
        floor = state.ice_bottom_ml
        if state.contents.has_ice:
            add("ice", floor, floor + state.contents.ice_bulk_ml, words("ice_layer"), "ice")
            floor += state.contents.ice_bulk_ml
        for used in in_cup["swimming"]:  # together with the ice they stand so high; drawn on it
            high = floor + used.volume_ml
            add("pieces", floor, high, words.name(used.component), *looks[used.component.id])
            floor = high
    for used in in_cup["on-wall"]:
        high = max(state.liquid_level_ml, state.bed_top_ml)
        add("wall", state.bed_top_ml, high, words.name(used.component), *looks[used.component.id])
    steamed = [(used, used.component.steamed) for used in in_cup["liquid"]]
    caps = [(words("steamed_foam"), u.volume_ml * how.air_share) for u, how in steamed if how]
    caps += [(words.name(used.component), used.volume_ml) for used in in_cup["floated"]]
    caps = [(name, foam_ml) for name, foam_ml in caps if foam_ml > 0.0]
    if state.cap_base_ml is not None and state.cap_top_ml is not None:
        floor, whole = state.cap_base_ml, state.cap_top_ml - state.cap_base_ml
        for place, (name, foam_ml) in enumerate(caps):
            high = floor + whole * foam_ml / sum(one_ml for _, one_ml in caps)
            add("cap", floor, high, name, CAPS[place % len(CAPS)], place // len(CAPS))
            floor = high
    for used in in_cup["dusted"]:
        add("dusted", state.top_ml, state.top_ml, words.name(used.component), "dust")
    return tuple(layers)


def _names(standing: Sequence[Standing], words: Words) -> list[str]:
    """One component by its name, a mixture as the drink; of several mixtures, what is in each."""
    mixtures = sum(len(one.components) > 1 for one in standing)
    names = [" + ".join(words.name(part) for part in one.components) for one in standing]
    if mixtures > 1:
        return names
    pairs = zip(names, standing, strict=True)
    return [words("drink_layer") if len(one.components) > 1 else name for name, one in pairs]
