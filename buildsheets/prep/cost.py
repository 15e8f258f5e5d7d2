"""Amounts used and pack prices go in; the cost comes out, exact and rounded once.

Fill model section 7. Binary floats are read as the decimal they print as: 0.1 is one tenth.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from numbers import Integral, Real
from typing import TypeAlias

from buildsheets.cup.errors import FigureError

Number: TypeAlias = Decimal | Fraction | int | float


@dataclass(frozen=True, slots=True)
class CostLine:
    """``used`` of a pack of ``pack_quantity`` (same unit) at ``pack_price``.

    ``usable`` is the share of the pack that can be used (peel, residue). A price of None is not
    known.
    """

    used: Number
    pack_quantity: Number
    pack_price: Number | None
    usable: Number = 1

    def __post_init__(self) -> None:
        _exact("used", self.used)
        if _exact("pack_quantity", self.pack_quantity) == 0:
            raise FigureError("pack_quantity", self.pack_quantity, "must be above 0")
        if not 0 < _exact("usable", self.usable) <= 1:
            raise FigureError("usable", self.usable, "must be above 0 and at most 1")
        if self.pack_price is not None:
            _exact("pack_price", self.pack_price)


def exact_cost(lines: Iterable[CostLine]) -> Fraction | None:
    """Sum of used / (pack quantity x usable) x pack price; None if a price is missing."""
    total = Fraction(0)
    for line in lines:
        used = _exact("used", line.used)
        if used > 0:
            if line.pack_price is None:
                return None
            pack = _exact("pack_quantity", line.pack_quantity) * _exact("usable", line.usable)
            total += used / pack * _exact("pack_price", line.pack_price)
    return total


def cost(lines: Iterable[CostLine]) -> Decimal | None:
    """As :func:`exact_cost`, rounded once at the end, half up, to 0.01."""
    exact = exact_cost(lines)
    return None if exact is None else rounded_money(exact)


def rounded_money(amount: Fraction) -> Decimal:
    """Half up to 0.01; money here is never negative."""
    if amount < 0:
        raise FigureError("amount", amount, "must not be negative")
    return Decimal(math.floor(amount * 100 + Fraction(1, 2))).scaleb(-2)


def _exact(name: str, value: Number) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, (Decimal, Real)):
        raise FigureError(name, value, "must be a number")
    if not math.isfinite(value):
        raise FigureError(name, value, "must be a finite number")
    if isinstance(value, (Decimal, Fraction)):
        exact = Fraction(value)
    else:
        exact = Fraction(int(value) if isinstance(value, Integral) else repr(float(value)))
    if exact < 0:
        raise FigureError(name, value, "must not be negative")
    return exact
