"""Amounts with tolerances go in; the spread of a level and the odds of passing a line come out.

Fill model section 5; uncertainties combine as in JCGM 100:2008, 5.1.2, equation (10).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import FigureError, each, finite, non_negative
from buildsheets.cup.simulate import ToLine

COVERAGE = 2.0
"""U = 2 u: about 95 % of cups (JCGM 100, 6.3.3, k = 2)."""
LEAST_DRAWS = 100_000


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
    mean, p_over = fmean(found), None if capacity is None else over / draws
    standard_ml = math.sqrt(fmean((drawn - mean) ** 2 for drawn in found))
    return Drawn(draws, mean, standard_ml, min(found), max(found), p_over)
