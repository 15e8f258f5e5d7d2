"""Every combination a guest can order goes in; which fit, and with how much base held back, out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import NamedTuple

from buildsheets.cup.build import Fitter, verdict_of
from buildsheets.cup.cup import FIT_TOLERANCE_ML
from buildsheets.cup.plan import Plan, plan
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddOn, CupSize, Drink


class Outcome(NamedTuple):
    """One choice of a drink in a cup and how it comes out."""

    choice: Choice
    verdict: str
    held_back_ml: float
    over_ml: float


@dataclass(frozen=True, slots=True)
class Scan:
    """All combinations of one drink in one cup."""

    drink: Drink
    cup: CupSize
    outcomes: tuple[Outcome, ...]

    @property
    def too_much(self) -> tuple[Outcome, ...]:
        """Those that do not fit even with base held back."""
        return tuple(o for o in self.outcomes if o.verdict == "too-much")


def choices(drink: Drink, size: CupSize) -> Iterator[Choice]:
    """Every allowed combination of sweetness, ice and add-ons, the default's options first."""
    offered = add_ons_for(drink, size)
    for count in range(min(drink.add_ons_at_most, len(offered)) + 1):
        for chosen in combinations(offered, count):
            keys = tuple(add_on.id for add_on in chosen)
            yield from _with(drink, keys)


def _with(drink: Drink, add_ons: tuple[str, ...]) -> Iterator[Choice]:
    """Every sweetness and ice on offer, with these add-ons."""
    sweets: Sequence[float | None] = drink.sweetness.levels if drink.sweetness else (None,)
    ices: Sequence[str | None] = tuple(drink.ice.levels) if drink.ice else (None,)
    for sweet in sweets:
        for ice in ices:
            yield Choice(sweet, ice, add_ons)


def fullest(fitter: Fitter, made: Choice, add_ons: tuple[str, ...]) -> Serving:
    """A drink with these add-ons as made, or, where another sweetness or ice on offer needs more
    base left out, that one: what is left out for it is enough for every choice.

    Choices that do not fit at all are left aside; ``made`` is what is made when nobody says.
    """
    best = replace(made, add_ons=add_ons)
    fitted = fitter.fit(best)
    if fitted.over_ml <= FIT_TOLERANCE_ML:
        most_ml = fitted.held_back_ml
        for other in _with(fitter.plan.drink, add_ons):
            fitted = fitter.fit(other)
            more = fitted.held_back_ml > most_ml + FIT_TOLERANCE_ML
            if more and fitted.over_ml <= FIT_TOLERANCE_ML:
                best, most_ml = other, fitted.held_back_ml
    return fitter.serving(best)


def add_ons_for(drink: Drink, size: CupSize) -> tuple[AddOn, ...]:
    """The add-ons a drink is offered with that have an amount for this cup."""
    return tuple(add_on for add_on in drink.add_ons if size.id in add_on.amounts)


def scan(drink: Drink, size: CupSize, the_plan: Plan | None = None) -> Scan:
    """Work out every combination. Raises ``FigureError`` as ``build.figure`` does."""
    fitter = Fitter(the_plan or plan(drink, size))
    outcomes = []
    for choice in choices(drink, size):
        fitted = fitter.fit(choice)
        verdict = verdict_of(fitter.plan, fitted)
        outcomes.append(Outcome(choice, verdict, fitted.held_back_ml, max(0.0, fitted.over_ml)))
    return Scan(drink, size, tuple(outcomes))
