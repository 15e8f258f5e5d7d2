"""Told steps and a menu go in; what would go wrong at the counter comes out, as sentences.

A bookkeeping of its own, in plain volumes: it shares nothing with the fill model.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddStep, Component, DoStep, Tool
from buildsheets.views.words import Words
from buildsheets.wall.reading import Told
from buildsheets.wall.strings import said

MOVES = ("do_stir", "do_swirl", "do_chill", "do_pour")
SHAKES = tuple(
    f"do_shake_{pour}{timed}" for pour in ("strained", "dumped") for timed in ("", "_for")
)
BLENDS = ("do_blend", "do_blend_for")
LIDS = tuple(f"lid_on_{lid}" for lid in ("flat", "film", "dome", "none"))
NOISE_ML = 1.0


@dataclass
class Vessel:
    """Plain sums of what is in it, in ml of the material itself."""

    liquid_ml: float = 0.0
    solid_ml: float = 0.0
    ice_ml: float = 0.0
    cap_ml: float = 0.0
    kinds: list[str] = field(default_factory=list)

    @property
    def all_ml(self) -> float:
        return self.liquid_ml + self.solid_ml + self.ice_ml + self.cap_ml


def wrong_at_the_counter(told: Sequence[Told], made: Serving, words: Words) -> Iterator[str]:
    """What a person who does these steps would run into.

    The steps of the menu are the owner's; what is checked is where cards put add-ons among them,
    and the amounts and lines of all.
    """
    parts = _components(made, words)
    cup, shaker, lid, extra_on_top = Vessel(), Vessel(), False, ""
    for one in told:
        if one.amount is None:
            known = (*MOVES, *SHAKES, *BLENDS, *LIDS)
            keys = [key for key in known if said(one.thing, key, words) is not None]
            if any(key in MOVES + SHAKES + BLENDS for key in keys) and extra_on_top:
                yield f"'{one.thing}' after {extra_on_top} is on top"
            if any(key in SHAKES or key == "do_pour" for key in keys):
                cup.liquid_ml += shaker.liquid_ml + shaker.solid_ml
                strained = any("strained" in key for key in keys)
                cup.ice_ml += 0.0 if strained else shaker.ice_ml
                shaker = Vessel()
            if any(key in BLENDS for key in keys):  # crushed ice and air are of the drink
                air = next(
                    step.air_share
                    for step in made.drink.steps
                    if isinstance(step, DoStep) and step.air_share is not None
                )
                cup.liquid_ml += shaker.all_ml * (1 + air)
                shaker = Vessel()
            lid = lid or any(key in LIDS for key in keys)
            continue
        part, into = parts[one.thing], shaker if one.vessel else cup
        if lid:
            yield f"{one.thing} after the lid"
        if part.behaves in ("liquid", "settled", "ice") and not one.vessel and extra_on_top:
            yield f"{one.thing} after {extra_on_top} is on top"
        if not one.step and part.behaves in ("floated", "dusted"):
            if part.behaves == "floated" and "dusted" in cup.kinds:
                yield f"{one.thing} over what is dusted"
            extra_on_top = one.thing
        if not one.step and part.behaves == "settled" and "ice" in cup.kinds:
            yield f"{one.thing} on the ice"
        if one.unit == words("ml_line"):
            line_ml = one.amount * words.volumes.ml
            if line_ml < into.liquid_ml - NOISE_ML:
                yield f"{one.thing} to {line_ml:g} ml, with {into.liquid_ml:.0f} ml in"
            poured_ml = line_ml - into.solid_ml - into.ice_ml
            into.liquid_ml = max(into.liquid_ml, poured_ml)
        else:
            _put(into, part, _solid_ml(one, part, made, words))
        into.kinds.append(part.behaves)
    if shaker.all_ml > NOISE_ML:
        yield f"{shaker.all_ml:.0f} ml stay in the shaker"
    brimful, dome = made.final.cup.brimful_ml, made.final.dome
    if dome is not None:  # foam may stand in it: a spherical segment, any geometry handbook
        a, c, h = dome.rim_mm / 2, dome.hole_mm / 2, dome.height_mm
        dome_ml = math.pi * h * (3 * a * a + 3 * c * c + h * h) / 6000
        brimful += min(cup.cap_ml, dome_ml)
    if cup.all_ml > brimful + NOISE_ML:
        yield f"{cup.all_ml:.0f} ml in a cup of {brimful:.0f} ml"


def _components(made: Serving, words: Words) -> dict[str, Component]:
    drink = made.drink
    parts = {
        words.name(step.component): step.component
        for step in drink.steps
        if isinstance(step, AddStep)
    }
    parts |= {words.name(swap): swap.component for swap in drink.swapped}
    return parts | {words.name(add_on): add_on.component for add_on in drink.add_ons}


def _solid_ml(one: Told, part: Component, made: Serving, words: Words) -> float:
    """The material of an amount as told, without the gaps and the air it is measured with."""
    assert one.amount is not None
    bulk = part.bulk_density_g_ml or part.density_g_ml
    if part.behaves == "ice":
        bulk = part.density_g_ml * (part.packing or 1.0)
    if part.behaves == "floated":
        bulk = part.density_g_ml / (1 + part.overrun_pct / 100)
    if part.behaves == "liquid":
        bulk = part.density_g_ml
    if one.unit == "g":
        return one.amount / part.density_g_ml
    if one.unit in ("ml", "fl oz"):
        unit_ml = 1.0 if one.unit == "ml" else words.volumes.ml
        return one.amount * unit_ml * bulk / part.density_g_ml
    grams = next(
        tool.holds_g if tool.holds_g is not None else (tool.holds_ml or 0.0) * bulk
        for tool in _tools(made)
        if _counted_in(tool, words)
        >= {(said(one.unit, "each_of", words) or {"one": one.unit})["one"]}
    )
    return one.amount * grams / part.density_g_ml


def _tools(made: Serving) -> list[Tool]:
    """The tools of the drink and its add-ons."""
    drink = made.drink
    found = [step.tool for step in drink.steps if isinstance(step, AddStep)]
    found += [add_on.component.tool for add_on in drink.add_ons]
    return [tool for tool in found if tool is not None]


def _counted_in(tool: Tool, words: Words) -> set[str]:
    one = tool.one or tool.name
    return {words.text(one), words.text(tool.many or one)}


def _put(into: Vessel, part: Component, ml: float) -> None:
    if part.behaves == "liquid":
        into.liquid_ml += ml
    elif part.behaves in ("settled", "on-wall"):
        into.solid_ml += ml
    elif part.behaves == "swimming":  # what it pushes up of a drink like water
        into.solid_ml += ml * part.density_g_ml
    elif part.behaves == "ice":
        into.ice_ml += ml * part.density_g_ml
    elif part.behaves == "floated":
        into.cap_ml += ml * (1 + part.overrun_pct / 100)
