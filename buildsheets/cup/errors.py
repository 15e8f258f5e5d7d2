"""A named input and its value go in; the number comes out, or an error that names the input."""

import math
from collections.abc import Callable
from numbers import Real

LARGEST = 1e12
"""No shop counts further, in any unit; a billion litres in ml. Products of two such numbers still
round exactly with the 28 digits of a ``Decimal`` (common practice, no source)."""


class FigureError(ValueError):
    """An input that the arithmetic refuses.

    Attributes: ``input_name`` (which input), ``value`` (as given), ``reason`` (why, in words).
    """

    def __init__(self, input_name: str, value: object, reason: str) -> None:
        super().__init__(input_name, value, reason)
        self.input_name = input_name
        self.value = value
        self.reason = reason

    def __str__(self) -> str:
        if self.value is None:  # a thing and what it lacks, no number
            return f"{self.input_name} {self.reason}"
        return f"{self.input_name} = {self.value!r}: {self.reason}"


class AboveRimError(FigureError):
    """A height, volume or line that lies above the rim of the cup."""


class NotEnoughHeatError(FigureError):
    """A chilling case outside the model: more would freeze than there is liquid."""


def finite(name: str, value: float) -> float:
    """``value`` as a float; NaN, what no shop counts to, booleans and non-numbers are refused."""
    known = type(value) is float  # asked first: it is the usual one, and quick
    if not known and (isinstance(value, bool) or not isinstance(value, Real)):
        raise FigureError(name, value, "must be a number")
    if not -LARGEST <= value <= LARGEST:
        if value != value or value in (math.inf, -math.inf):
            raise FigureError(name, value, "must be a finite number")
        raise FigureError(name, value, f"is more than anything a shop has: at most {LARGEST:g}")
    return float(value)


def non_negative(name: str, value: float) -> float:
    """``value`` if it is finite and at least 0."""
    number = finite(name, value)
    if number < 0:
        raise FigureError(name, value, "must not be negative")
    return number


def positive(name: str, value: float) -> float:
    """``value`` if it is finite and above 0."""
    number = finite(name, value)
    if number <= 0:
        raise FigureError(name, value, "must be above 0")
    return number


def each(rule: Callable[[str, float], float], **inputs: float | None) -> None:
    """Hold every input that is given to one rule, as ``each(positive, mass_g=3.0)``."""
    for name, value in inputs.items():
        if value is not None:
            rule(name, value)


def within(name: str, value: float, low: float, high: float) -> float:
    """``value`` if it is finite and ``low <= value <= high``."""
    number = finite(name, value)
    if not low <= number <= high:
        raise FigureError(name, value, f"must be between {low:g} and {high:g}")
    return number
