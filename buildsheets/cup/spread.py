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
from buildsheets.cup.tolerance import EXACT, LEAST_DRAWS, AmountTolerance, Drawn, Spread, Term, draw

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
    """Spread of a whole build's ``level`` at tolerances of its steps (None: exact).

    A line step's amount is its line in ml (see :meth:`AmountTolerance.of_line`); what came before
    it moves into the poured amount and drops out of the liquid level by itself.
    """
    strays = _strays(cup, steps, tolerances, names)
    working = cup.checked_working_ml(working_ml)
    return spread_of(*strays, _reading(level), working, capacity_tolerance)


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
    strays = _strays(cup, steps, tolerances, names)
    return spread_of(*strays, lambda after: after[index].amount)


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
    working, read = cup.checked_working_ml(working_ml), _reading(level)
    plain, given, strays = _strays(cup, steps, tolerances, None)
    spread = spread_of(plain, given, strays, read, working, capacity_tolerance)

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

    def read_with(index: int, amount: float) -> float:
        return reading(_run_at(steps, [*amounts[:index], amount, *amounts[index + 1 :]]))

    terms = []
    for at, name, tolerance in strays:
        # ml of the reading per unit of the amount, or per ml of a line: a central difference of
        # the whole build; near 0 the lower end stops at 0.
        low, high = max(0.0, amounts[at] - HALF_STEP), amounts[at] + HALF_STEP
        slope = (read_with(at, high) - read_with(at, low)) / (high - low)
        terms.append(Term(name, amounts[at], tolerance, slope))
    nominal_ml = reading(_run_at(steps, amounts))
    return Spread(nominal_ml, tuple(terms), capacity_ml, capacity_tolerance)


def _run_at(steps: Sequence[PlainStep], amounts: Sequence[float]) -> list[After]:
    """Do the steps with other amounts; of a step poured to a line the amount is its line."""
    moved, given = list(steps), list[float | None](amounts)
    for i, step in enumerate(steps):
        if step.line_ml is not None:
            moved[i], given[i] = replace(step, line_ml=amounts[i]), None
    return run(moved, given)
