"""Steps with their amounts go in; what is in the cup and the shaker after each of them comes out.

A blender is a shaker here: a drink uses one of them at a time.

The one place where steps meet the fill model: every build of a menu, every public function of a
whole build and every tolerance goes through ``run``. It is called for every choice a guest has,
so it works on bare numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from buildsheets.cup.chill import ICE_HEAT, WATER_HEAT, Chilled, chill
from buildsheets.cup.contents import Contents, poured_to
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import AboveRimError, FigureError, each, non_negative, positive
from buildsheets.cup.items import Ice, Item, Liquid
from buildsheets.cup.strata import STIRS, Stratum, poured_on
from buildsheets.menu.tables import ROOM_C

EMPTYING = ("shake", "pour", "blend")
"""What brings the shaker or the blender into the cup."""


@dataclass(frozen=True, slots=True)
class ToLine:
    """A step that fills up to a line with a liquid of ``density``: give ``line_ml`` (ml of water in
    the empty cup) or ``line_mm`` (height above the inner floor)."""

    density: float
    line_ml: float | None = None
    line_mm: float | None = None

    def __post_init__(self) -> None:
        positive("density", self.density)
        if (self.line_ml is None) == (self.line_mm is None):
            raise FigureError("line_ml", self.line_ml, "give the line in ml or in mm, one of them")
        each(non_negative, line_ml=self.line_ml, line_mm=self.line_mm)

    def reading_ml(self, cup: Cup) -> float:
        """The line as a water reading of ``cup``; a line above the rim is refused."""
        if self.line_ml is None:
            line_mm = self.line_mm or 0.0
            if line_mm > cup.rim_height_mm:
                raise AboveRimError("line_mm", line_mm, f"the cup is {cup.rim_height_mm:g} mm high")
            return cup.volume_ml(line_mm)
        if self.line_ml > cup.brimful_ml + FIT_TOLERANCE_ML:
            reason = f"the cup holds {cup.brimful_ml:.0f} ml to the rim"
            raise AboveRimError("line_ml", self.line_ml, reason)
        return self.line_ml


Step: TypeAlias = Item | ToLine


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainStep:
    """One step in numbers: what is added, its amount apart, or what is done.

    An item goes into the cup or the ``shaker``, at ``temperature_c``; one with ``line_ml`` is
    poured to that reading unless an amount is given. ``density`` (g/ml) is that of the material:
    solids shaken with the drink add to it by that.
    """

    item: Item | None = None
    action: str = ""  # without an item: "shake", "blend", "chill"..., or what moves nothing
    air_share: float = 0.0  # of a blend
    strained: bool = False  # a shake leaves its ice in the shaker
    layered: bool = False  # of a drink whose liquids stay apart
    shaker: bool = False
    line_ml: float | None = None
    density: float = 1.0
    temperature_c: float = ROOM_C


class After(NamedTuple):
    """The amount a step used (ml of a liquid, g of all else) and the vessels after it."""

    amount: float
    already_over_ml: float
    cup: Contents
    shaker: Contents
    chilled: Chilled | None


EMPTY = Contents()
START = After(0.0, 0.0, EMPTY, EMPTY, None)


def run(
    steps: Sequence[PlainStep], amounts: Sequence[float | None], start: After = START
) -> list[After]:
    """Do the steps, from ``start`` on. ``amounts[i]`` is what step ``i`` adds; ``None`` pours to
    its line."""
    found: list[After] = []
    cup, shaker = start.cup, start.shaker
    for step, given in zip(steps, amounts, strict=True):
        item, amount, over = step.item, given or 0.0, 0.0
        chilled: Chilled | None = None
        if item is None:
            if step.action == "chill":
                cup, chilled = chilled_in(cup)
            elif step.action in EMPTYING:
                if step.action == "shake":
                    shaker, chilled = chilled_in(shaker)
                elif step.action == "blend":
                    shaker, chilled = _blended(shaker, step.air_share)
                if step.strained:
                    shaker = shaker._replace(ice_g=0.0, ice_solid_ml=0.0, ice_bulk_ml=0.0)
                strata = cup.strata
                if step.layered:
                    strata = poured_on(strata, shaker.liquid_ml, shaker.liquid_g)
                cup, shaker = cup.joined(shaker)._replace(strata=strata), EMPTY
            if step.action in STIRS and cup.strata:
                cup = cup._replace(strata=(Stratum(cup.liquid_ml, cup.liquid_g),))
        elif not step.shaker:
            if given is None:
                amount, over = poured_to(cup, step.line_ml or 0.0, step.density)
            cup = cup.plus(item, amount, step.temperature_c, step.layered)
        elif isinstance(item, Liquid | Ice):
            shaker = shaker.plus(item, amount, step.temperature_c)
        else:  # solids and powders shaken with the drink dissolve into it or pass with it
            liquid = Liquid(amount / step.density, step.density)
            shaker = shaker.plus(liquid, liquid.volume_ml, step.temperature_c)
        found.append(After(amount, over, cup, shaker, chilled))
    return found


def chilled_in(vessel: Contents) -> tuple[Contents, Chilled | None]:
    """A vessel whose liquid and ice have come to one temperature; as it is without either."""
    if vessel.liquid_g <= 0.0 or vessel.ice_g <= 0.0:
        return vessel, None
    # A drink below 0 degC would need its own freezing point, and the counter knows none: ice too
    # cold to melt at all leaves the drink at 0 degC, unfrozen, as its sugar does.
    liquid_c = max(0.0, vessel.heat_g_c / vessel.liquid_g)
    coldest_c = -vessel.liquid_g * WATER_HEAT * liquid_c / (vessel.ice_g * ICE_HEAT)
    chilled = chill(
        liquid_g=vessel.liquid_g,
        liquid_density=vessel.liquid_g / vessel.liquid_ml,
        liquid_c=liquid_c,
        ice_g=vessel.ice_g,
        # a little above the coldest, lest rounding freezes a trace
        ice_c=max(coldest_c * (1.0 - 1e-12), vessel.cold_g_c / vessel.ice_g),
        ice_density=vessel.ice_g / vessel.ice_solid_ml,
    )
    left = chilled.ice_left_g / vessel.ice_g
    after = vessel._replace(
        liquid_ml=chilled.liquid_ml,
        liquid_g=chilled.liquid_g,
        heat_g_c=chilled.liquid_g * chilled.temperature_c,
        ice_g=chilled.ice_left_g,
        ice_solid_ml=vessel.ice_solid_ml * left,
        ice_bulk_ml=vessel.ice_bulk_ml * left,
        cold_g_c=0.0,
    )
    return after, chilled


def _blended(vessel: Contents, air_share: float) -> tuple[Contents, Chilled | None]:
    """One liquid of all that is in a blender, with its ice and air. No mass is lost. The ice counts
    as solid, since crushed ice stays in the drink: melted it would take less room."""
    _, chilled = chilled_in(vessel)
    mass_g = vessel.liquid_g + vessel.ice_g
    return (
        Contents(
            liquid_ml=(vessel.liquid_ml + vessel.ice_solid_ml) * (1.0 + air_share),
            liquid_g=mass_g,
            heat_g_c=mass_g * chilled.temperature_c if chilled else vessel.heat_g_c,
        ),
        chilled,
    )


def items_after(steps: Sequence[PlainStep], after: Sequence[After]) -> Iterator[tuple[Item, ...]]:
    """The items in the cup after each step: what shakes, pours or chills replaces liquid and ice by
    what is left of them; beds and caps stay as they were put in."""
    items: tuple[Item, ...] = ()
    for step, now in zip(steps, after, strict=True):
        cup = now.cup
        if step.item is not None and not step.shaker:
            items = (*items, step.item.with_amount(now.amount))
        elif step.item is None and (step.action in EMPTYING or step.action == "chill"):
            air_ml = sum(one.volume_ml * one.air_share for one in items if isinstance(one, Liquid))
            items = tuple(item for item in items if not isinstance(item, Liquid | Ice))
            if cup.liquid_ml > 0.0:
                density, air = cup.liquid_g / cup.liquid_ml, air_ml / cup.liquid_ml
                items = (*items, Liquid(cup.liquid_ml, density, air))
            if cup.ice_g > 0.0:
                packing = cup.ice_solid_ml / cup.ice_bulk_ml
                items = (*items, Ice(cup.ice_g, cup.ice_g / cup.ice_solid_ml, packing))
        yield items


def plain_steps(cup: Cup, steps: Iterable[Step]) -> tuple[list[PlainStep], list[float | None]]:
    """Items and line steps made ready for ``run``, with their amounts; anything else is refused."""
    plain: list[PlainStep] = []
    amounts: list[float | None] = []
    for step in steps:
        if isinstance(step, ToLine):
            liquid, line_ml = Liquid(0.0, step.density), step.reading_ml(cup)
            plain.append(PlainStep(item=liquid, line_ml=line_ml, density=step.density))
            amounts.append(None)
        elif isinstance(step, Item):
            plain.append(PlainStep(item=step))
            amounts.append(step.amount)
        else:
            raise FigureError("steps", step, "is neither an item nor a line step")
    return plain, amounts


def resolve_lines(cup: Cup, steps: Iterable[Step]) -> tuple[Item, ...]:
    """The steps with every line step replaced by the volume that it pours."""
    plain, amounts = plain_steps(cup, steps)
    return tuple(
        step.item.with_amount(after.amount)
        for step, after in zip(plain, run(plain, amounts), strict=True)
        if step.item is not None
    )
