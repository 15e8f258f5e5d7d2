"""Amounts with tolerances go in; the spread of a level and the odds of passing a line come out.

Fill model section 5; uncertainties combine as in JCGM 100:2008, 5.1.2, equation (10). Of a whole
build the sensitivities are central differences of a run of its steps, shakes and chills included.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal, TypeAlias, get_args

from buildsheets.cup.contents import judged_ml, levels, poured_to
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import FigureError, each, finite, non_negative
from buildsheets.cup.simulate import EMPTY, START, After, PlainStep, Step, ToLine, plain_steps, run

COVERAGE = 2.0
"""U = 2 u: about 95 % of cups (JCGM 100, 6.3.3, k = 2)."""
LEAST_DRAWS = 100_000
HALF_STEP = 1e-3
"""ml or g either side of an amount: levels are lines in pieces, so only kinks matter."""


@dataclass(frozen=True, slots=True)
class AmountTolerance:
    """``size`` in the unit of the amount, or in percent of it.

    ``limit``: never further off, anything within equally likely (rectangular, u = a / sqrt 3, JCGM
    100 4.3.7). ``std``: a standard uncertainty (normal, u = a).
    """

    size: float
    percent: bool = False
    kind: Literal["limit", "std"] = "limit"

    def __post_init__(self) -> None:
        non_negative("size", self.size)
        if self.kind not in ("limit", "std"):
            raise FigureError("kind", self.kind, "must be limit or std")

    @classmethod
    def of_line(
        cls, cup: Cup, line_ml: float, mm: float, kind: Literal["limit", "std"] = "limit"
    ) -> AmountTolerance:
        """The tolerance in ml of a line poured to within ``mm``: mm x A(line) / 1000."""
        area = cup.area_mm2(cup.height_mm(ToLine(1.0, line_ml).reading_ml(cup)))
        return cls(non_negative("mm", mm) * area / 1000.0, kind=kind)

    def half_width(self, amount: float) -> float:
        """a, in the unit of the amount."""
        return self.size * abs(amount) / 100 if self.percent else self.size

    def standard(self, amount: float) -> float:
        """u, the standard uncertainty."""
        width = self.half_width(amount)
        return width / math.sqrt(3) if self.kind == "limit" else width

    def worst(self, amount: float) -> float:
        """How far off a worst case goes: a for a limit, 2 u for a standard uncertainty."""
        width = self.half_width(amount)
        return width if self.kind == "limit" else COVERAGE * width

    def drawn(self, amount: float, chance: random.Random) -> float:
        """One amount of this law."""
        if self.kind == "limit":
            return amount + self.half_width(amount) * (2 * chance.random() - 1)
        return chance.gauss(amount, self.half_width(amount))


EXACT = AmountTolerance(0.0)


@dataclass(frozen=True, slots=True)
class Term:
    """One amount that moves the level by ``sensitivity`` ml per unit.

    1 for a volume; 1/particle density for bed grams; 1/liquid density for the liquid under floating
    ice, 1/ice density for covered ice; (1 + overrun/100)/density for cap grams.
    """

    name: str
    amount: float
    tolerance: AmountTolerance = EXACT
    sensitivity: float = 1.0

    def __post_init__(self) -> None:
        non_negative(f"{self.name}.amount", self.amount)
        finite(f"{self.name}.sensitivity", self.sensitivity)

    @property
    def worst_ml(self) -> float:
        return abs(self.sensitivity) * self.tolerance.worst(self.amount)

    @property
    def standard_ml(self) -> float:
        return abs(self.sensitivity) * self.tolerance.standard(self.amount)


@dataclass(frozen=True, slots=True)
class Spread:
    """Spread of a level: linear in its ``terms``, seen against a capacity if one is given."""

    nominal_ml: float
    terms: tuple[Term, ...]
    capacity_ml: float | None = None
    capacity_tolerance: AmountTolerance = EXACT

    @property
    def worst_ml(self) -> float:
        """Half the worst-case range: every tolerance in the same direction."""
        return sum(term.worst_ml for term in self.terms)

    @property
    def worst_low_ml(self) -> float:
        return self.nominal_ml - self.worst_ml

    @property
    def worst_high_ml(self) -> float:
        return self.nominal_ml + self.worst_ml

    @property
    def standard_ml(self) -> float:
        """u of the level: root of the summed squares."""
        return math.hypot(*(term.standard_ml for term in self.terms))

    @property
    def expanded_ml(self) -> float:
        """U = 2 u."""
        return COVERAGE * self.standard_ml

    @property
    def capacity_worst_ml(self) -> float:
        """What the capacity may lack in the worst case."""
        return 0.0 if self.capacity_ml is None else self.capacity_tolerance.worst(self.capacity_ml)

    @property
    def standard_total_ml(self) -> float:
        """u of the level and of the capacity together."""
        if self.capacity_ml is None:
            return self.standard_ml
        return math.hypot(self.standard_ml, self.capacity_tolerance.standard(self.capacity_ml))

    @property
    def nominal_fits(self) -> bool | None:
        if self.capacity_ml is None:
            return None
        return self.nominal_ml <= self.capacity_ml + FIT_TOLERANCE_ML

    @property
    def worst_fits(self) -> bool | None:
        """Even the fullest cup stays within the smallest capacity; None without a capacity."""
        if self.capacity_ml is None:
            return None
        limit = self.capacity_ml - self.capacity_worst_ml
        return self.worst_high_ml <= limit + FIT_TOLERANCE_ML

    @property
    def p_over(self) -> float | None:
        """Share of cups above the capacity by the normal approximation 1 - Phi; see worst_fits too,
        as limits are bounded and the normal law is not. None without a capacity."""
        return None if self.capacity_ml is None else self.share_over(self.capacity_ml)

    def share_over(self, limit_ml: float) -> float:
        """Share of cups above a limit that strays as the capacity does, such as the rim."""
        if self.standard_total_ml == 0:
            return 0.0 if self.nominal_ml <= limit_ml + FIT_TOLERANCE_ML else 1.0
        score = (limit_ml - self.nominal_ml) / self.standard_total_ml
        return 0.5 * math.erfc(score / math.sqrt(2))

    def room_ml(self, share: float) -> float:
        """What must stay empty under the capacity so that at most ``share`` of cups pass it; never
        more than the worst case, as limits are bounded and the normal law is not."""
        worst_ml = self.worst_ml + self.capacity_worst_ml
        if share <= 0.0:
            return worst_ml
        score = NormalDist().inv_cdf(1.0 - share) if share < 0.5 else 0.0
        return min(worst_ml, score * self.standard_total_ml)

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """(name, share of the variance of the level) per term; all 0 if nothing varies."""
        variance = sum(term.standard_ml**2 for term in self.terms) or 1.0
        return tuple((term.name, term.standard_ml**2 / variance) for term in self.terms)

    @property
    def largest(self) -> str | None:
        """Name of the term that contributes most; None if nothing varies."""
        share, name = max(((share, name) for name, share in self.shares), default=(0.0, None))
        return name if share > 0 else None

    def monte_carlo(self, *, draws: int = LEAST_DRAWS, seed: int = 1) -> Drawn:
        """Draw every term, and the capacity, from its own law; the level stays linear."""

        def level(amounts: Sequence[float]) -> float:
            drawn = zip(self.terms, amounts, strict=True)
            off = (term.sensitivity * (amount - term.amount) for term, amount in drawn)
            return self.nominal_ml + sum(off)

        return draw(self, level, draws, seed)


@dataclass(frozen=True, slots=True)
class Drawn:
    """Result of a Monte Carlo run. ``p_over`` is None without a capacity."""

    draws: int
    mean_ml: float
    standard_ml: float
    low_ml: float
    high_ml: float
    p_over: float | None


def combine(
    terms: Iterable[Term],
    *,
    nominal_ml: float | None = None,
    capacity_ml: float | None = None,
    capacity_tolerance: AmountTolerance = EXACT,
) -> Spread:
    """The spread of a sum of terms; the nominal level is the sum of sensitivity x amount, or as
    given."""
    listed = tuple(terms)
    if nominal_ml is None:
        nominal_ml = math.fsum(term.sensitivity * term.amount for term in listed)
    each(non_negative, capacity_ml=capacity_ml)
    return Spread(finite("nominal_ml", nominal_ml), listed, capacity_ml, capacity_tolerance)


def draw(spread: Spread, level: Callable[[Sequence[float]], float], draws: int, seed: int) -> Drawn:
    """Draw every amount, and the capacity, from its own law and read the level each time."""
    if draws < LEAST_DRAWS:
        raise FigureError("draws", draws, f"must be at least {LEAST_DRAWS}")
    chance = random.Random(seed)
    found: list[float] = []
    over, capacity = 0, spread.capacity_ml
    for _ in range(draws):
        found.append(level([term.tolerance.drawn(term.amount, chance) for term in spread.terms]))
        if capacity is not None:
            limit = spread.capacity_tolerance.drawn(capacity, chance)
            over += found[-1] > limit + FIT_TOLERANCE_ML
    mean = math.fsum(found) / draws
    standard_ml = math.sqrt(math.fsum((drawn - mean) ** 2 for drawn in found) / draws)
    p_over = None if capacity is None else over / draws
    return Drawn(draws, mean, standard_ml, min(found), max(found), p_over)


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
    *,
    central: bool = True,
) -> Spread:
    """Spread of a reading of a whole build from its steps and amounts; with differences to one side
    only where many builds are asked for."""
    poured = [
        None if step.line_ml is not None else amount or 0.0
        for step, amount in zip(steps, given, strict=True)
    ]
    after = run(steps, poured)

    def read_with(at: int, amount: float) -> float:
        """The reading with another amount, or another line, of one step."""
        start, step = after[at - 1] if at else START, steps[at]
        if step.line_ml is not None:
            amount = poured_to(start.cup, amount, step.density)[0]
        return reading([*after[:at], *run(steps[at:], [amount, *poured[at + 1 :]], start)])

    nominal_ml, terms = reading(after), []
    for at, name, tolerance in strays:
        # ml of the reading per unit of the amount, or per ml of a line: a central difference of
        # the whole build; near 0 the lower end stops at 0.
        amount = straying(steps[at], poured[at])
        low, high = max(0.0, amount - HALF_STEP), amount + HALF_STEP
        low_ml = read_with(at, low) if central else nominal_ml
        slope = (read_with(at, high) - low_ml) / (high - (low if central else amount))
        terms.append(Term(name, amount, tolerance, slope))
    return Spread(nominal_ml, tuple(terms), capacity_ml, capacity_tolerance)


def _run_at(steps: Sequence[PlainStep], amounts: Sequence[float]) -> list[After]:
    """Do the steps with other amounts; of a step poured to a line the amount is its line."""
    moved, given = list(steps), list[float | None](amounts)
    for i, step in enumerate(steps):
        if step.line_ml is not None:
            moved[i], given[i] = replace(step, line_ml=amounts[i]), None
    return run(moved, given)
