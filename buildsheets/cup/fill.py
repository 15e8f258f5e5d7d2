"""A cup and what is in it go in; every level, the headspace and the verdicts come out.

Fill model sections 2 and 3. Levels are water readings (ml); mm are worked out only when asked for,
so that scanning many states is cheap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

from buildsheets.cup.contents import (
    Contents,
    Levels,
    Verdict,
    add_up,
    float_threshold_ml,
    judged_ml,
    levels,
    poured_to,
)
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.dome import Dome
from buildsheets.cup.items import Bed, Ice, Item, Liquid, Swimmer
from buildsheets.cup.simulate import Step, ToLine, resolve_lines

PROUD_MM = 3.0
"""Ice standing out by less is not worth a word (fill model, "What to show to a barista")."""

Limiting = Literal["nothing", "liquid", "bed", "ice", "cap"]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class FillWarning:
    """A state whose assumptions are strained: ``code`` and the two numbers that clash.

    * ``bed_may_float``: density of the lowest liquid (``value``) not below that of the particles.
    * ``bed_after_ice``: ``value`` g of bed added onto ``limit`` g of ice may lodge in the ice.
    * ``swimmer_may_sink``: density of the upper liquid (``value``) not above that of the pieces.
    * ``ice_under_one_layer``: the pack is ``value`` mm high, one piece ``limit`` mm; its top is a
      guess, the liquid level still right.
    """

    code: Literal["bed_may_float", "bed_after_ice", "ice_under_one_layer", "swimmer_may_sink"]
    value: float
    limit: float


class _Read(Generic[T]):
    """A figure of a state, read or worked out when it is asked for."""

    def __init__(self, figure: Callable[[FillState], T]) -> None:
        self.figure = figure

    def __get__(self, state: FillState, owner: type[FillState]) -> T:
        return self.figure(state)


def _mm(reading: str) -> _Read[float | None]:
    """The height in mm above the inner floor of a reading in ml; None above the rim."""

    def height_mm(state: FillState) -> float | None:
        ml: float | None = getattr(state, reading)
        above = ml is None or ml > state.cup.brimful_ml + FIT_TOLERANCE_ML
        return None if ml is None or above else state.cup.height_mm(ml)

    return _Read(height_mm)


def _holds(verdict: Verdict) -> _Read[bool]:
    """Whether a verdict keeps within the working capacity."""
    return _Read(
        lambda state: (
            judged_ml(verdict, state.contents, state.levels, state.dome_ml)
            <= state.working_ml + FIT_TOLERANCE_ML
        )
    )


def over_working_ml(cup: Cup, working_ml: float, dome: Dome | None) -> float:
    """How far a cap may stand over the working capacity of a cup: nothing without a dome."""
    return 0.0 if dome is None else cup.brimful_ml - working_ml + dome.volume_ml


@dataclass(frozen=True, slots=True)
class FillState:
    """Contents of a cup at rest. ``*_level_ml``, ``*_top_ml`` and so on are water readings.

    Their ``*_mm`` are heights above the inner floor, None above the rim. What is not in the cup
    has no level: ice and cap readings are then None. A cap may stand over the rim under a ``dome``.
    """

    cup: Cup
    items: tuple[Item, ...]
    working_ml: float
    contents: Contents
    levels: Levels
    final: bool = True
    dome: Dome | None = None

    # volumes
    liquid_ml = _Read(lambda state: state.contents.liquid_ml)
    cap_ml = _Read(lambda state: state.contents.cap_ml)  # whipped
    sum_ml = _Read(lambda state: state.contents.sum_ml)
    """S, the sum of true volumes; the top is never below it."""

    # levels
    liquid_level_ml = _Read(lambda state: state.levels.liquid)
    bed_top_ml = _Read(lambda state: state.levels.bed_top)
    ice_regime = _Read(lambda state: state.levels.ice_regime)
    """none; rests on the bed or floor; floats; or sunk: lies under liquid lighter than it.

    Ice levels are those of all that may float, with the pieces that swim."""
    ice_bottom_ml = _Read(
        lambda state: state.levels.ice_bottom if state.contents.afloat_ml else None
    )
    ice_top_ml = _Read(lambda state: state.levels.ice_top if state.contents.afloat_ml else None)
    cap_base_ml = _Read(lambda state: state.levels.cap_base if state.contents.cap_ml > 0 else None)
    cap_top_ml = _Read(lambda state: state.levels.cap_top if state.contents.cap_ml > 0 else None)
    solids_top_ml = _Read(lambda state: max(state.levels.bed_top, state.levels.ice_top))
    fluid_top_ml = _Read(lambda state: state.levels.fluid_top)
    """The higher of liquid and cap: what would splash."""
    seen_ml = _Read(lambda state: state.levels.seen)
    top_ml = _Read(lambda state: state.levels.top)
    """u_top, the highest of all."""

    liquid_level_mm = _mm("liquid_level_ml")
    bed_top_mm = _mm("bed_top_ml")
    ice_bottom_mm = _mm("ice_bottom_ml")
    ice_top_mm = _mm("ice_top_ml")
    solids_top_mm = _mm("solids_top_ml")
    cap_base_mm = _mm("cap_base_ml")
    cap_top_mm = _mm("cap_top_ml")
    cap_top_bridged_mm = _mm("cap_top_bridged_ml")
    fluid_top_mm = _mm("fluid_top_ml")
    top_mm = _mm("top_ml")

    # verdicts
    fits = _holds("fits")  # nothing stands above the working capacity
    fluid_fits = _holds("fluid_fits")  # liquid and cap do not; ice may stand proud
    simple_rule_fits = _holds("simple_rule_fits")  # the sum of true volumes is within it
    lid_fits = _holds("lid_fits")  # it fits once a flat lid has pressed the ice under

    @property
    def liquid_density(self) -> float | None:
        """g/ml of the mixed liquid; None without any."""
        return self.contents.liquid_g / self.liquid_ml if self.liquid_ml > 0 else None

    @property
    def cap_top_bridged_ml(self) -> float | None:
        """Top of a foam so stiff that it lies over the cubes and fills none of their voids."""
        at = self.levels
        return max(at.cap_base, at.ice_top) + self.cap_ml if self.cap_ml > 0 else None

    @property
    def limiting(self) -> Limiting:
        """What reaches the top; of equals the upper: cap, ice, liquid, bed."""
        at = self.levels
        if at.top <= 0:
            return "nothing"
        if at.cap_top >= at.top:
            return "cap"
        if at.ice_top >= at.top:
            return "ice"
        return "liquid" if at.liquid >= at.top else "bed"

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
        return max(0.0, -self.headspace_ml)

    @property
    def room_ml(self) -> float:
        """Working capacity less the top; negative when it does not fit. Of a cap under a dome the
        room left there, if that is less."""
        return self.working_ml - judged_ml("fits", self.contents, self.levels, self.dome_ml)

    @property
    def dome_ml(self) -> float:
        """How far a cap may stand over the working capacity: up to the rim, and in the dome."""
        return over_working_ml(self.cup, self.working_ml, self.dome)

    @property
    def in_dome_mm(self) -> float:
        """How high the cap stands over the rim, in the dome; 0 if it does not, or has none."""
        return self.dome.stands_mm(self.overflow_ml) if self.dome else 0.0

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

    @property
    def warnings(self) -> tuple[FillWarning, ...]:
        """Strained assumptions of a final state; a passing state has none."""
        if not self.final:
            return ()
        found = []
        cup, density, strata = self.cup, self.liquid_density, self.contents.strata
        density = strata[0].density_g_ml if strata else density  # a bed stands in the lowest
        ice_before, piece_mm = 0.0, 0.0
        for item in self.items:
            if isinstance(item, Ice) and item.mass_g > 0:
                ice_before += item.mass_g
                piece_mm = max(piece_mm, item.piece_mm)
            elif isinstance(item, Swimmer) and item.mass_g > 0:
                upper = strata[-1].density_g_ml if strata else self.liquid_density
                if upper is not None and item.particle_density >= upper:
                    found.append(FillWarning("swimmer_may_sink", upper, item.particle_density))
            elif isinstance(item, Bed) and item.mass_g > 0:
                if density is not None and density >= item.particle_density:
                    found.append(FillWarning("bed_may_float", density, item.particle_density))
                if ice_before > 0:
                    found.append(FillWarning("bed_after_ice", item.mass_g, ice_before))
        if piece_mm:
            ice_ml = self.contents.ice_bulk_ml
            middle = min(self.levels.ice_bottom + 0.5 * ice_ml, cup.brimful_ml)
            layer_ml = piece_mm * cup.area_mm2(cup.height_mm(middle)) / 1000.0
            if ice_ml < layer_ml:
                thick_mm = piece_mm * ice_ml / layer_ml
                found.append(FillWarning("ice_under_one_layer", thick_mm, piece_mm))
        return tuple(found)


def contents_state(
    cup: Cup,
    items: Iterable[Item],
    working_ml: float | None = None,
    *,
    final: bool = True,
    dome: Dome | None = None,
    layered: bool = False,
) -> FillState:
    """The state of ``items`` in ``cup``, judged against ``working_ml`` (default: brimful), and of a
    cap under a ``dome`` against what that holds. Liquids mix, unless they are ``layered``.

    Only the stacking of beds depends on the order. A working capacity above brimful is refused.
    """
    listed, working = tuple(items), cup.checked_working_ml(working_ml)
    contents = add_up(listed, layered=layered)
    return FillState(cup, listed, working, contents, levels(contents), final, dome)


def states_after_each_step(
    cup: Cup, steps: Iterable[Step], working_ml: float | None = None
) -> tuple[FillState, ...]:
    """One state per step, each of all steps so far, judged against ``working_ml`` (or brimful).

    Line steps (:class:`ToLine`) pour what reaches their line. Only the last state warns.
    """
    items = resolve_lines(cup, steps)
    ends = range(1, len(items) + 1)
    return tuple(contents_state(cup, items[:n], working_ml, final=n == ends[-1]) for n in ends)


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
