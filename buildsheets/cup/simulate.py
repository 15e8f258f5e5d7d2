"""Ops with amounts go in; what is in the cup and the shaker after each op comes out.

The one place where steps meet the fill model. It is run for every combination of options, so it
works on bare numbers; ``figures.build`` wraps what people look at.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from buildsheets.cup.chill import ICE_HEAT, WATER_HEAT, Chilled, chill
from buildsheets.cup.contents import BedLayer, Contents
from buildsheets.cup.line import poured_to
from buildsheets.cup.plan import Op


class Shaker(NamedTuple):
    """What the shaker holds: liquid in ml, g, g x degC; ice in g, solid and bulk ml, g x degC."""

    liquid_ml: float = 0.0
    liquid_g: float = 0.0
    heat_g_c: float = 0.0
    ice_g: float = 0.0
    ice_solid_ml: float = 0.0
    ice_bulk_ml: float = 0.0
    cold_g_c: float = 0.0


class After(NamedTuple):
    """The amount an op used (ml of a liquid, g of all else) and the vessels after it."""

    amount: float
    already_over_ml: float
    cup: Contents
    shaker: Shaker
    chilled: Chilled | None


def simulate(ops: Sequence[Op], amounts: Sequence[float | None]) -> list[After]:
    """Run the ops. ``amounts[i]`` is what op ``i`` adds; ``None`` pours to its line."""
    found: list[After] = []
    liquid_ml = liquid_g = heat = bed_ml = void_ml = 0.0
    ice_g = solid_ml = bulk_ml = cold = cap_ml = 0.0
    beds: tuple[BedLayer, ...] = ()
    shaker = EMPTY_SHAKER
    cup = EMPTY_CUP
    for op, given in zip(ops, amounts, strict=True):
        kind, amount, over = op.kind, given or 0.0, 0.0
        chilled: Chilled | None = None
        if op.shaker:
            shaker = _into_shaker(shaker, op, amount)
            found.append(After(amount, 0.0, cup, shaker, None))
            continue
        if kind == "liquid":
            if given is None:
                amount, over = poured_to(cup, op.line_ml or 0.0, op.density)
            liquid_ml += amount
            liquid_g += amount * op.density
            heat += amount * op.density * op.temperature_c
        elif kind == "bed":
            layer = amount / op.extra
            if layer > 0.0:
                void = 1.0 - op.extra / op.density
                beds = (*beds, BedLayer(layer, void))
                bed_ml += layer
                void_ml += layer * void
        elif kind == "ice":
            solid = amount / op.density
            ice_g += amount
            solid_ml += solid
            bulk_ml += solid / op.extra
            cold += amount * op.temperature_c
        elif kind == "cap":
            cap_ml += amount / op.density * (1.0 + op.extra / 100.0)
        elif kind in ("shake", "pour"):
            poured, chilled = _out_of_shaker(shaker, op)
            liquid_ml += poured.liquid_ml
            liquid_g += poured.liquid_g
            heat += poured.heat_g_c
            ice_g += poured.ice_g
            solid_ml += poured.ice_solid_ml
            bulk_ml += poured.ice_bulk_ml
            cold += poured.cold_g_c
            shaker = EMPTY_SHAKER
        elif kind == "chill" and liquid_g > 0.0 and ice_g > 0.0:
            chilled = _chilled(liquid_ml, liquid_g, heat, ice_g, solid_ml, cold)
            share = chilled.ice_left_g / ice_g
            liquid_ml, liquid_g = chilled.liquid_ml, chilled.liquid_g
            heat, cold = liquid_g * chilled.temperature_c, 0.0
            ice_g, solid_ml, bulk_ml = ice_g * share, solid_ml * share, bulk_ml * share
        else:  # dusted, or an action that moves nothing
            found.append(After(amount, 0.0, cup, shaker, None))
            continue
        cup = Contents(liquid_ml, liquid_g, beds, bed_ml, void_ml, ice_g, solid_ml, bulk_ml, cap_ml)
        found.append(After(amount, over, cup, shaker, chilled))
    return found


EMPTY_SHAKER = Shaker()
EMPTY_CUP = Contents()


def _into_shaker(shaker: Shaker, op: Op, amount: float) -> Shaker:
    liquid_ml, liquid_g, heat, ice_g, solid_ml, bulk_ml, cold = shaker
    if op.kind == "liquid":
        mass = amount * op.density
        return Shaker(
            liquid_ml + amount,
            liquid_g + mass,
            heat + mass * op.temperature_c,
            ice_g,
            solid_ml,
            bulk_ml,
            cold,
        )
    if op.kind == "ice":
        solid = amount / op.density
        return Shaker(
            liquid_ml,
            liquid_g,
            heat,
            ice_g + amount,
            solid_ml + solid,
            bulk_ml + solid / op.extra,
            cold + amount * op.temperature_c,
        )
    # Solids and powders shaken with the drink dissolve into it or pass with it.
    volume = amount / op.density
    return Shaker(
        liquid_ml + volume,
        liquid_g + amount,
        heat + amount * op.temperature_c,
        ice_g,
        solid_ml,
        bulk_ml,
        cold,
    )


def _out_of_shaker(shaker: Shaker, op: Op) -> tuple[Shaker, Chilled | None]:
    """What reaches the cup. A shake comes to equilibrium with its ice; a pour does not."""
    if op.kind == "pour" or shaker.ice_g <= 0.0 or shaker.liquid_g <= 0.0:
        return shaker, None
    chilled = _chilled(
        shaker.liquid_ml,
        shaker.liquid_g,
        shaker.heat_g_c,
        shaker.ice_g,
        shaker.ice_solid_ml,
        shaker.cold_g_c,
    )
    heat = chilled.liquid_g * chilled.temperature_c
    pour = getattr(op.step, "pour", "")
    if pour == "strained":
        return Shaker(chilled.liquid_ml, chilled.liquid_g, heat), chilled
    share = chilled.ice_left_g / shaker.ice_g
    return (
        Shaker(
            chilled.liquid_ml,
            chilled.liquid_g,
            heat,
            chilled.ice_left_g,
            shaker.ice_solid_ml * share,
            shaker.ice_bulk_ml * share,
        ),
        chilled,
    )


def _chilled(
    liquid_ml: float,
    liquid_g: float,
    heat_g_c: float,
    ice_g: float,
    solid_ml: float,
    cold_g_c: float,
) -> Chilled:
    # A drink below 0 degC would need its own freezing point, and the counter knows none: ice too
    # cold to melt at all leaves the drink at 0 degC, unfrozen, as its sugar does.
    liquid_c = max(0.0, heat_g_c / liquid_g)
    coldest_c = -liquid_g * WATER_HEAT * liquid_c / (ice_g * ICE_HEAT)
    return chill(
        liquid_g=liquid_g,
        liquid_density=liquid_g / liquid_ml,
        liquid_c=liquid_c,
        ice_g=ice_g,
        # a little above the coldest, lest rounding freezes a trace
        ice_c=max(coldest_c * (1.0 - 1e-12), cold_g_c / ice_g),
        ice_density=ice_g / solid_ml,
    )
