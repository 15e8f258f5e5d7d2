"""Amounts as people write them: a text and a system of measures go in, a quantity comes out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Measures(StrEnum):
    """The spoons, cups and fluid ounces a shop means; a menu declares one."""

    US_CUSTOMARY = "us_customary"
    US_LABEL = "us_label"
    METRIC = "metric"
    AUSTRALIAN = "australian"
    IMPERIAL = "imperial"


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount as written (``magnitude``, ``unit``) and in the base unit of its kind (``value``).

    ======================  ====================================================
    kind                    ``value`` is in
    ======================  ====================================================
    volume                  ml
    mass                    g
    length                  mm
    temperature             degrees Celsius
    time                    s
    percent                 a fraction (``65 %`` is 0.65)
    density                 g/ml
    brix                    degrees Brix (g of sucrose in 100 g)
    speed                   turns per minute
    count                   pieces (a number alone, or ``3 pieces``)
    tool                    strokes or fills of the tool in ``unit`` (``pump``)
    ======================  ====================================================
    """

    magnitude: Decimal
    unit: str
    kind: str
    value: float
