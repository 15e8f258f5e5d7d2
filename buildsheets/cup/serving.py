"""One drink in one cup with one choice of options, figured: the types every later stage reads."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from buildsheets.cup.allergens import (
    AllergenReport,
    SwapReport,
    allergen_report,
    measures_any,
    swap_report,
)
from buildsheets.cup.chill import Chilled
from buildsheets.cup.fill import FillState
from buildsheets.cup.layers import Standing, liquids
from buildsheets.cup.swaps import swap_sets
from buildsheets.menu.model import AddOn, AddStep, Component, CupSize, Drink, Menu, Step, Swap, Tool

if TYPE_CHECKING:
    from buildsheets.cup.scan import Scan
    from buildsheets.cup.steps import Build


@dataclass(frozen=True, slots=True)
class Choice:
    """What a guest chose: sweetness share, ice level id, add-on and swap ids in menu order."""

    sweetness: float | None
    ice: str | None
    add_ons: tuple[str, ...] = ()
    swaps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Used:
    """What one step really took: true material in g and ml (a cap's ml aerated, a bed's bulk).

    ``count`` is tool counts after rounding to the tool's step, ``None`` for a poured line.
    ``written_g`` is the amount before rounding, so the rounding error is ``mass_g - written_g``.
    """

    component: Component
    mass_g: float
    volume_ml: float
    count: float | None
    written_g: float
    to_line_ml: float | None = None  # water reading of the line poured to
    to_line_mm: float | None = None
    already_over_ml: float = 0.0  # the line was under the level already


class StepFigure(NamedTuple):
    """A step with what it used, ``None`` for an action, and the cup after it (a named tuple: it is
    made tens of thousands of times).

    ``shaker_ml`` is the liquid in the ``vessel`` beside the cup, "shaker" or "blender", "" where
    nothing is in one. ``idle``: nothing is done at this step for this choice,
    as 0 pumps are added, or what would be swirled or would chill the cup is left out.
    ``head_top_ml`` is what the foam of
    a fizzy liquid reads while it is poured, 0 where none rises.
    """

    number: int
    step: Step
    add_on: AddOn | None
    used: Used | None
    state: FillState
    shaker_ml: float
    chilled: Chilled | None
    idle: bool = False
    head_top_ml: float = 0.0
    vessel: str = ""


@dataclass(frozen=True, slots=True)
class Serving:
    """A drink x cup x choice, figured through. ``drink`` is as it is made, with the guest's swaps.

    ``held_back_ml`` is base left out for its add-ons, or, without any, so that it fits;
    ``verdict`` is "fits", "lid-pressed" (fits once a flat lid presses the ice) or "too-much" with
    ``over_ml``, room for hands included. ``worst_step`` is the
    number of the step whose contents stood highest over the working capacity. ``choices`` has
    every other choice of the same drink and cup.
    """

    drink: Drink
    cup: CupSize
    choice: Choice
    steps: tuple[StepFigure, ...]
    final: FillState
    working_ml: float
    held_back_ml: float
    verdict: str
    over_ml: float
    worst_step: int
    choices: Scan = field(compare=False, repr=False)

    @property
    def used(self) -> tuple[Used, ...]:
        return tuple(figure.used for figure in self.steps if figure.used is not None)

    @property
    def build(self) -> Build:
        """The steps in numbers, without add-ons."""
        return self.choices.with_swaps(self.choice.swaps).build

    @property
    def body(self) -> StepFigure:
        """The step of the base that makes room for the rest."""
        return next(f for f in self.steps if isinstance(f.step, AddStep) and f.step.makes_room)

    @property
    def liquids(self) -> tuple[Standing, ...]:
        """What stands on what in the finished drink, the heaviest lowest."""
        return liquids(self.steps)

    def allergens(self, add_on: AddOn | None = None) -> AllergenReport:
        """What the drink brings in this cup, or what one of its add-ons brings."""
        return allergen_report(self.drink if add_on is None else add_on, self.cup.id)

    def swap_allergens(self, swap: Swap) -> SwapReport:
        """What a swap brings into the drink and takes away from it."""
        others = (one for one in self.drink.swaps if one.replaced.id != swap.replaced.id)
        return swap_report(swap, self.with_swap(swap).allergens(), (*self.offered, *others))

    def tools_shared(self, swap: Swap, menu: Menu) -> tuple[Tool, ...]:
        """The tools a swap goes in with that also measure what has an allergen it takes away."""
        gone = self.swap_allergens(swap).gone
        steps = [f.step for f in self.with_swap(swap).steps if isinstance(f.step, AddStep)]
        tools = {step.tool.id: step.tool for step in steps if step.swap and step.tool}
        return tuple(tool for tool in tools.values() if measures_any(menu, tool, gone))

    def with_swap(self, swap: Swap) -> Serving:
        """The same order with a swap."""
        return self.choices[replace(self.choice, swaps=(swap.id,))]

    @property
    def with_least_ice(self) -> Serving:
        """The same order with as little ice as a guest may ask for."""
        levels = self.drink.ice.levels if self.drink.ice else {}
        least = min(levels, key=levels.__getitem__, default=self.choice.ice)
        return self.choices[replace(self.choice, ice=least)]

    def with_each(self, add_ons: Iterable[AddOn]) -> Iterator[Serving]:
        """The order as it is, then with each of some add-ons alone."""
        yield self
        for one in add_ons:
            yield self.choices[replace(self.choice, add_ons=(one.id,))]

    @property
    def swap_sets(self) -> tuple[tuple[Swap, ...], ...]:
        """Every set of swaps a guest may have, none first."""
        return tuple(swap_sets(self.drink))

    @property
    def offered(self) -> tuple[AddOn, ...]:
        return add_ons_for(self.drink, self.cup)

    @property
    def added(self) -> tuple[AddOn, ...]:
        """The add-ons that were asked for."""
        return tuple(add_on for add_on in self.offered if add_on.id in self.choice.add_ons)


def add_ons_for(drink: Drink, size: CupSize) -> tuple[AddOn, ...]:
    """The add-ons a drink is offered with that have an amount for this cup."""
    return tuple(add_on for add_on in drink.add_ons if size.id in add_on.amounts)
