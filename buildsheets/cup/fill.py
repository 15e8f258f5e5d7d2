"""A cup and what is in it go in; every level, the headspace and the verdicts come out.

Fill model sections 2 and 3. Levels are water readings (ml); mm are worked out only when asked for,
so that scanning many states is cheap.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from buildsheets.cup.contents import (
    Bed,
    Contents,
    Ice,
    IceRegime,
    Item,
    Levels,
    Liquid,
    Verdict,
    add_up,
    float_threshold_ml,
    judged_ml,
    levels,
    poured_to,
)
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import AboveRimError, non_negative
from buildsheets.cup.simulate import Step, ToLine, resolve_lines

PROUD_MM = 3.0
"""Ice standing out by less is not worth a word (fill model, "What to show to a barista")."""

Limiting = Literal["nothing", "liquid", "bed", "ice", "cap"]


@dataclass(frozen=True, slots=True)
class FillWarning:
    """A state whose assumptions are strained: ``code`` and the two numbers that clash.

    * ``bed_may_float``: density of the liquid (``value``) not below that of the particles.
    * ``bed_after_ice``: ``value`` g of bed added onto ``limit`` g of ice may lodge in the ice.
    * ``ice_under_one_layer``: the pack is ``value`` mm high, one piece ``limit`` mm; its top is a
      guess, the liquid level still right.
    """

    code: Literal["bed_may_float", "bed_after_ice", "ice_under_one_layer"]
    value: float
    limit: float


class _Height:
    """The height in mm above the inner floor of a reading of a state; None above the rim."""

    def __init__(self, reading: str) -> None:
        self.reading = reading

    def __get__(self, state: FillState, owner: type[FillState]) -> float | None:
        reading_ml: float | None = getattr(state, self.reading)
        if reading_ml is None or reading_ml > state.cup.brimful_ml + FIT_TOLERANCE_ML:
            return None
        return state.cup.height_mm(reading_ml)


@dataclass(frozen=True, slots=True)
class FillState:
    """Contents of a cup at rest. ``*_level_ml``, ``*_top_ml`` and so on are water readings.

    Their ``*_mm`` are heights above the inner floor, None above the rim. What is not in the cup
    has no level: ice and cap readings are then None.
    """

    cup: Cup
    items: tuple[Item, ...]
    working_ml: float
    contents: Contents
    levels: Levels
    final: bool = True

    # volumes -----------------------------------------------------------------------------------
    @property
    def liquid_ml(self) -> float:
        """V_l, all liquid in the cup."""
        return self.contents.liquid_ml

    @property
    def liquid_density(self) -> float | None:
        """g/ml of the mixed liquid; None without any."""
        return self.contents.liquid_g / self.contents.liquid_ml if self.liquid_ml > 0 else None

    @property
    def cap_ml(self) -> float:
        """Whipped volume of the cap."""
        return self.contents.cap_ml

    @property
    def sum_ml(self) -> float:
        """S, the sum of true volumes; the top is never below it."""
        return self.contents.sum_ml

    # levels ------------------------------------------------------------------------------------
    @property
    def liquid_level_ml(self) -> float:
        return self.levels.liquid

    @property
    def bed_top_ml(self) -> float:
        return self.levels.bed_top

    @property
    def ice_regime(self) -> IceRegime:
        """none; rests on the bed or floor; floats; or sunk: lies under liquid lighter than it."""
        return self.levels.ice_regime

    @property
    def ice_bottom_ml(self) -> float | None:
        return self.levels.ice_bottom if self.contents.ice_bulk_ml > 0 else None

    @property
    def ice_top_ml(self) -> float | None:
        return self.levels.ice_top if self.contents.ice_bulk_ml > 0 else None

    @property
    def solids_top_ml(self) -> float:
        """The higher of bed and ice."""
        return max(self.levels.bed_top, self.levels.ice_top)

    @property
    def cap_base_ml(self) -> float | None:
        return self.levels.cap_base if self.contents.cap_ml > 0 else None

    @property
    def cap_top_ml(self) -> float | None:
        return self.levels.cap_top if self.contents.cap_ml > 0 else None

    @property
    def cap_top_bridged_ml(self) -> float | None:
        """Top of a foam so stiff that it lies over the cubes and fills none of their voids."""
        if self.contents.cap_ml <= 0:
            return None
        return max(self.levels.cap_base, self.levels.ice_top) + self.contents.cap_ml

    @property
    def fluid_top_ml(self) -> float:
        """The higher of liquid and cap: what would splash."""
        return max(self.levels.liquid, self.levels.cap_top)

    @property
    def seen_ml(self) -> float:
        """The level that is seen from outside: the cap's top, else the drink's, else the bed's."""
        return self.levels.seen

    @property
    def top_ml(self) -> float:
        """u_top, the highest of all."""
        return self.levels.top

    liquid_level_mm = _Height("liquid_level_ml")
    bed_top_mm = _Height("bed_top_ml")
    ice_bottom_mm = _Height("ice_bottom_ml")
    ice_top_mm = _Height("ice_top_ml")
    solids_top_mm = _Height("solids_top_ml")
    cap_base_mm = _Height("cap_base_ml")
    cap_top_mm = _Height("cap_top_ml")
    cap_top_bridged_mm = _Height("cap_top_bridged_ml")
    fluid_top_mm = _Height("fluid_top_ml")
    top_mm = _Height("top_ml")

    @property
    def limiting(self) -> Limiting:
        """What reaches the top; of equals the upper: cap, ice, liquid, bed."""
        at = self.levels
        if at.top <= 0:
            return "nothing"
        reached: tuple[tuple[Limiting, float], ...] = (
            ("cap", at.cap_top),
            ("ice", at.ice_top),
            ("liquid", at.liquid),
        )
        return next((name for name, level in reached if level >= at.top), "bed")

    # room --------------------------------------------------------------------------------------
    @property
    def headspace_ml(self) -> float:
        """Brimful less the top; negative above the rim."""
        return self.cup.brimful_ml - self.levels.top

    @property
    def headspace_mm(self) -> float | None:
        """Rim less the top; None above the rim."""
        top_mm = self.top_mm
        return None if top_mm is None else self.cup.rim_height_mm - top_mm

    @property
    def overflow_ml(self) -> float:
        """How far the top reads above brimful; 0 below."""
        return max(0.0, self.levels.top - self.cup.brimful_ml)

    @property
    def room_ml(self) -> float:
        """Working capacity less the top; negative when it does not fit."""
        return self.working_ml - self.levels.top

    @property
    def ice_proud_ml(self) -> float:
        """How far the ice reads above liquid and cap; 0 if it does not."""
        return max(0.0, self.levels.ice_top - self.fluid_top_ml)

    @property
    def ice_proud_mm(self) -> float | None:
        """How far the ice stands above liquid and cap; None if it ends above the rim."""
        if self.ice_proud_ml <= 0:
            return 0.0
        ice_mm, fluid_mm = self.ice_top_mm, self.fluid_top_mm
        return None if ice_mm is None or fluid_mm is None else ice_mm - fluid_mm

    @property
    def liquid_to_float_ml(self) -> float | None:
        """Liquid like that in the cup needed to float the ice; None without liquid or ice, or if
        the ice cannot float in it."""
        density = self.liquid_density
        return None if density is None else float_threshold_ml(self.contents, density)

    # verdicts ----------------------------------------------------------------------------------
    @property
    def fits(self) -> bool:
        """Nothing stands above the working capacity."""
        return self._holds("fits")

    @property
    def fluid_fits(self) -> bool:
        """Liquid and cap stay within the working capacity; ice may stand proud."""
        return self._holds("fluid_fits")

    @property
    def simple_rule_fits(self) -> bool:
        """The sum of true volumes is within the working capacity."""
        return self._holds("simple_rule_fits")

    @property
    def lid_fits(self) -> bool:
        """It fits once a flat lid has pressed the ice under."""
        return self._holds("lid_fits")

    def _holds(self, verdict: Verdict) -> bool:
        reading_ml = judged_ml(verdict, self.contents, self.levels)
        return reading_ml <= self.working_ml + FIT_TOLERANCE_ML

    @property
    def warnings(self) -> tuple[FillWarning, ...]:
        """Strained assumptions of a final state; a passing state has none."""
        return _warnings(self) if self.final else ()


def contents_state(
    cup: Cup, items: Iterable[Item], working_ml: float | None = None, *, final: bool = True
) -> FillState:
    """The state of ``items`` in ``cup``, judged against ``working_ml`` (default: brimful).

    Only the stacking of beds depends on the order. A working capacity above brimful is refused.
    """
    listed = tuple(items)
    contents = add_up(listed)
    return FillState(
        cup, listed, checked_working_ml(cup, working_ml), contents, levels(contents), final
    )


def states_after_each_step(
    cup: Cup, steps: Iterable[Step], working_ml: float | None = None
) -> tuple[FillState, ...]:
    """One state per step, each of all steps so far, judged against ``working_ml`` (or brimful).

    Line steps (:class:`ToLine`) pour what reaches their line. Only the last state warns.
    """
    items = resolve_lines(cup, steps)
    last = len(items)
    return tuple(
        contents_state(cup, items[:number], working_ml, final=number == last)
        for number in range(1, last + 1)
    )


@dataclass(frozen=True, slots=True)
class LineFill:
    """``poured_ml`` reaches the line; if the liquid is over it already, nothing is poured and
    ``already_over_ml`` says by how much. ``state`` is that after pouring."""

    poured_ml: float
    already_over_ml: float
    line_ml: float
    line_mm: float
    state: FillState


def fill_to_line(
    cup: Cup,
    items: Iterable[Step],
    *,
    density: float,
    line_ml: float | None = None,
    line_mm: float | None = None,
    working_ml: float | None = None,
) -> LineFill:
    """Fill ``cup``, holding ``items``, up to a line with a liquid of ``density`` g/ml.

    Line steps among the items pour first.
    """
    line = ToLine(density, line_ml, line_mm).reading_ml(cup)
    listed = resolve_lines(cup, items)
    poured, over = poured_to(add_up(listed), line, density)
    state = contents_state(cup, (*listed, Liquid(poured, density)), working_ml)
    height = line_mm if line_mm is not None else cup.height_mm(min(line, cup.brimful_ml))
    return LineFill(poured, over, line, height, state)


def checked_working_ml(cup: Cup, working_ml: float | None) -> float:
    """``working_ml``, or brimful for None; above the rim it is refused."""
    if working_ml is None:
        return cup.brimful_ml
    if non_negative("working_ml", working_ml) > cup.brimful_ml + FIT_TOLERANCE_ML:
        raise AboveRimError(
            "working_ml", working_ml, f"the cup holds {cup.brimful_ml:.3f} ml to the rim"
        )
    return working_ml


def _warnings(state: FillState) -> tuple[FillWarning, ...]:
    found = []
    density = state.liquid_density
    ice_before = 0.0
    pieces_mm = []
    for item in state.items:
        if isinstance(item, Ice) and item.mass_g > 0:
            ice_before += item.mass_g
            pieces_mm.append(item.piece_mm)
        elif isinstance(item, Bed) and item.mass_g > 0:
            if density is not None and density >= item.particle_density:
                found.append(FillWarning("bed_may_float", density, item.particle_density))
            if ice_before > 0:
                found.append(FillWarning("bed_after_ice", item.mass_g, ice_before))
    if pieces_mm:
        cup = state.cup
        middle = state.levels.ice_bottom + 0.5 * state.contents.ice_bulk_ml
        area = cup.area_mm2(cup.height_mm(min(middle, cup.brimful_ml)))
        thickness = 1000.0 * state.contents.ice_bulk_ml / area if area > 0 else 0.0
        if thickness < max(pieces_mm):
            found.append(FillWarning("ice_under_one_layer", thickness, max(pieces_mm)))
    return tuple(found)
