"""Amounts with tolerances go in; the spread of a level and the odds of passing a line come out.

Fill model section 5; uncertainties combine as in JCGM 100:2008, 5.1.2, equation (10).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias, get_args

from buildsheets.cup.contents import judged_ml, levels
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import FigureError, finite, non_negative
from buildsheets.cup.fill import checked_working_ml
from buildsheets.cup.simulate import EMPTY, After, PlainStep, Step, ToLine, plain_steps, run

COVERAGE = 2.0
"""U = 2 u: about 95 % of cups (JCGM 100, 6.3.3, k = 2)."""
LEAST_DRAWS = 100_000
HALF_STEP = 1e-3
"""ml or g either side of an amount: levels are lines in pieces, so only kinks matter."""

Level = Literal["top", "fluid_top", "liquid"]
Reading: TypeAlias = Callable[[Sequence[After]], float]
"""What is read of a build's vessels after each of its steps."""
Stray: TypeAlias = tuple[int, str, "AmountTolerance"]


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
        if self.capacity_ml is None:
            return None
        if self.standard_total_ml == 0:
            return 0.0 if self.nominal_fits else 1.0
        score = (self.capacity_ml - self.nominal_ml) / self.standard_total_ml
        return 0.5 * math.erfc(score / math.sqrt(2))

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """(name, share of the variance of the level) per term; all 0 if nothing varies."""
        variance = sum(term.standard_ml**2 for term in self.terms)
        return tuple(
            (term.name, term.standard_ml**2 / variance if variance > 0 else 0.0)
            for term in self.terms
        )

    @property
    def largest(self) -> str | None:
        """Name of the term that contributes most; None if nothing varies."""
        share, name = max(((share, name) for name, share in self.shares), default=(0.0, None))
        return name if share > 0 else None

    def monte_carlo(self, *, draws: int = LEAST_DRAWS, seed: int = 1) -> Drawn:
        """Draw every term, and the capacity, from its own law; the level stays linear."""
        nominal = self.nominal_ml

        def level(amounts: Sequence[float]) -> float:
            return nominal + sum(
                term.sensitivity * (amount - term.amount)
                for term, amount in zip(self.terms, amounts, strict=True)
            )

        return _draw(self, level, draws, seed)


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
    if capacity_ml is not None:
        non_negative("capacity_ml", capacity_ml)
    return Spread(finite("nominal_ml", nominal_ml), listed, capacity_ml, capacity_tolerance)


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
    working = checked_working_ml(cup, working_ml)
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

    return _draw(spread, drawn_level, draws, seed)


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
) -> tuple[Sequence[PlainStep], Sequence[float], Sequence[Stray]]:
    plain, given = plain_steps(cup, steps)
    count = len(plain)
    if names is None:
        names = [f"step {number}" for number in range(1, count + 1)]
    for name, listed in (("tolerances", tolerances), ("names", names)):
        if len(listed) != count:
            raise FigureError(name, len(listed), f"must be one per step ({count})")
    strays = zip(range(count), names, (one or EXACT for one in tolerances), strict=True)
    return plain, amounts_at(plain, given), tuple(strays)


def amounts_at(steps: Sequence[PlainStep], given: Sequence[float | None]) -> list[float]:
    """What may stray in each step: its line if it is poured to one, else its amount."""
    return [
        step.line_ml if step.line_ml is not None else amount or 0.0
        for step, amount in zip(steps, given, strict=True)
    ]


def spread_of(
    steps: Sequence[PlainStep],
    amounts: Sequence[float],
    strays: Iterable[Stray],
    reading: Reading,
    capacity_ml: float | None = None,
    capacity_tolerance: AmountTolerance = EXACT,
) -> Spread:
    """Spread of a reading of a whole build, ``amounts`` as by :func:`amounts_at`.

    ``strays`` are the steps that may stray: (place, name, tolerance).
    """
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
    lined = [step.line_ml is not None for step in steps]
    return run(
        [
            replace(step, line_ml=amount) if to_line else step
            for step, amount, to_line in zip(steps, amounts, lined, strict=True)
        ],
        [None if to_line else amount for amount, to_line in zip(amounts, lined, strict=True)],
    )


def _draw(
    spread: Spread, level: Callable[[Sequence[float]], float], draws: int, seed: int
) -> Drawn:
    if draws < LEAST_DRAWS:
        raise FigureError("draws", draws, f"must be at least {LEAST_DRAWS}")
    chance = random.Random(seed)
    total = squares = 0.0
    low, high, over = math.inf, -math.inf, 0
    capacity = spread.capacity_ml
    for _ in range(draws):
        drawn = level([term.tolerance.drawn(term.amount, chance) for term in spread.terms])
        total += drawn - spread.nominal_ml
        squares += (drawn - spread.nominal_ml) ** 2
        low, high = min(low, drawn), max(high, drawn)
        if capacity is not None:
            limit = spread.capacity_tolerance.drawn(capacity, chance)
            over += drawn > limit + FIT_TOLERANCE_ML
    shift = total / draws
    return Drawn(
        draws=draws,
        mean_ml=spread.nominal_ml + shift,
        standard_ml=math.sqrt(max(0.0, squares / draws - shift * shift)),
        low_ml=low,
        high_ml=high,
        p_over=None if capacity is None else over / draws,
    )
