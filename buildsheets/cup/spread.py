"""A whole build and the tolerances of its amounts go in; the spread of a level of it comes out.

Fill model section 5: sensitivities are central differences of the whole run of the steps, shakes
and chills included.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Literal, TypeAlias, get_args

from buildsheets.cup.contents import judged_ml, levels
from buildsheets.cup.cup import Cup
from buildsheets.cup.errors import FigureError
from buildsheets.cup.simulate import EMPTY, After, PlainStep, Step, ToLine, plain_steps, run
from buildsheets.cup.tolerance import (
    EXACT,
    LEAST_DRAWS,
    AmountTolerance,
    Drawn,
    Spread,
    Term,
    combine,
    draw,
)

HALF_STEP = 1e-3
"""ml or g either side of an amount: levels are lines in pieces, so only kinks matter."""

Level = Literal["top", "fluid_top", "liquid"]
Reading: TypeAlias = Callable[[Sequence[After]], float]
"""What is read of a build's vessels after each of its steps."""
Stray: TypeAlias = tuple[int, str, AmountTolerance]
"""A step whose amount may stray: its place, its name, by how much."""


def build_spread(
    cup: Cup,
    steps: Sequence[Step],
    tolerances: Sequence[AmountTolerance | None],
    *,
    level: Level = "top",
    working_ml: float | None = None,
    capacity_tolerance: AmountTolerance = EXACT,
    names: Sequence[str] | None = None,
) -> Spread:
    """Spread of a whole build's ``level``; sensitivities are central differences of the fill model.

    A line step's amount is its line in ml (see :meth:`AmountTolerance.of_line`); what came before
    it moves into the poured amount and drops out of the liquid level by itself.
    """
    working = cup.checked_working_ml(working_ml)
    plain = _strays(cup, steps, tolerances, names)
    return spread_of(*plain, _reading(level), working, capacity_tolerance)


def pour_spread(
    cup: Cup,
    steps: Sequence[Step],
    index: int,
    tolerances: Sequence[AmountTolerance | None],
    *,
    names: Sequence[str] | None = None,
) -> Spread:
    """Spread of the ml that the line step at ``index`` pours: what earlier errors turn into."""
    if not 0 <= index < len(steps) or not isinstance(steps[index], ToLine):
        raise FigureError("index", index, "is not a line step")
    plain = _strays(cup, steps, tolerances, names)
    return spread_of(*plain, lambda after: after[index].amount)


def build_monte_carlo(
    cup: Cup,
    steps: Sequence[Step],
    tolerances: Sequence[AmountTolerance | None],
    *,
    level: Level = "top",
    working_ml: float | None = None,
    capacity_tolerance: AmountTolerance = EXACT,
    draws: int = LEAST_DRAWS,
    seed: int = 1,
) -> Drawn:
    """Monte Carlo of a whole build through the full fill model, amounts never below 0."""
    spread = build_spread(
        cup,
        steps,
        tolerances,
        level=level,
        working_ml=working_ml,
        capacity_tolerance=capacity_tolerance,
    )
    plain, read = plain_steps(cup, steps)[0], _reading(level)

    def drawn_level(amounts: Sequence[float]) -> float:
        return read(_run_at(plain, [max(0.0, amount) for amount in amounts]))

    return draw(spread, drawn_level, draws, seed)


def _reading(level: Level) -> Reading:
    if level not in get_args(Level):
        raise FigureError("level", level, f"must be one of {', '.join(get_args(Level))}")

    def read(after: Sequence[After]) -> float:
        cup = after[-1].cup if after else EMPTY
        if level == "liquid":
            return levels(cup).liquid
        return judged_ml("fits" if level == "top" else "fluid_fits", cup)

    return read


def _strays(
    cup: Cup,
    steps: Sequence[Step],
    tolerances: Sequence[AmountTolerance | None],
    names: Sequence[str] | None,
) -> tuple[Sequence[PlainStep], Sequence[float | None], Sequence[Stray]]:
    plain, given = plain_steps(cup, steps)
    count = len(plain)
    if names is None:
        names = [f"step {number}" for number in range(1, count + 1)]
    for name, listed in (("tolerances", tolerances), ("names", names)):
        if len(listed) != count:
            raise FigureError(name, len(listed), f"must be one per step ({count})")
    strays = zip(range(count), names, (one or EXACT for one in tolerances), strict=True)
    return plain, given, tuple(strays)


def straying(step: PlainStep, amount: float | None) -> float:
    """What may stray of a step: its line if it is poured to one, else its amount."""
    return step.line_ml if step.line_ml is not None else amount or 0.0


def spread_of(
    steps: Sequence[PlainStep],
    given: Sequence[float | None],
    strays: Iterable[Stray],
    reading: Reading,
    capacity_ml: float | None = None,
    capacity_tolerance: AmountTolerance = EXACT,
) -> Spread:
    """Spread of a reading of a whole build from its steps and amounts."""
    amounts = [straying(step, amount) for step, amount in zip(steps, given, strict=True)]
    terms = [
        Term(name, amounts[at], tolerance, _sensitivity(steps, amounts, at, reading))
        for at, name, tolerance in strays
    ]
    return combine(
        terms,
        nominal_ml=reading(_run_at(steps, amounts)),
        capacity_ml=capacity_ml,
        capacity_tolerance=capacity_tolerance,
    )


def _sensitivity(
    steps: Sequence[PlainStep], amounts: Sequence[float], index: int, reading: Reading
) -> float:
    """ml of a reading per unit of an amount, or per ml of a line: a central difference of the whole
    build (fill model section 5); near 0 the lower end stops at 0."""
    ends = []
    for shift in (-HALF_STEP, HALF_STEP):
        moved = list(amounts)
        moved[index] = max(0.0, moved[index] + shift)
        ends.append((moved[index], reading(_run_at(steps, moved))))
    (low, at_low), (high, at_high) = ends
    return (at_high - at_low) / (high - low)


def _run_at(steps: Sequence[PlainStep], amounts: Sequence[float]) -> list[After]:
    """Do the steps with other amounts; of a step poured to a line the amount is its line."""
    moved, given = list(steps), list[float | None](amounts)
    for i, step in enumerate(steps):
        if step.line_ml is not None:
            moved[i], given[i] = replace(step, line_ml=amounts[i]), None
    return run(moved, given)
