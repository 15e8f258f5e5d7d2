"""The units a menu may use and what each is worth: a number and a unit in, base units out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any


class Measures(StrEnum):
    """The spoons, cups and fluid ounces a shop means; a menu declares one."""

    US_CUSTOMARY = "us_customary"
    US_LABEL = "us_label"
    METRIC = "metric"
    AUSTRALIAN = "australian"
    IMPERIAL = "imperial"


# Read by Pint, which is given these lines and nothing else: its own file knows no metric or
# Australian spoon, takes `cup` and `pint` for US customary ones and `pinch` for a pico-inch.
DEFINITIONS = """
milli- = 1e-3
centi- = 1e-2
deci- = 1e-1
kilo- = 1e3
metre = [length]
gram = [mass]
second = [time]
kelvin = [temperature]; offset: 0
percent = 1e-2
# The litre is a cubic decimetre: SI Brochure (9th edition), table 8.
litre = decimetre ** 3
minute = 60 * second
hour = 60 * minute
day = 24 * hour
week = 7 * day
degree_Celsius = kelvin; offset: 273.15
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9
# Inch, avoirdupois pound and the gallon of 231 cubic inches, all exact: NIST Handbook 44,
# Appendix C.
inch = 2.54 * centimetre
pound = 453.59237 * gram
ounce = pound / 16
us_customary_gal = 231 * inch ** 3
us_customary_qt = us_customary_gal / 4
us_customary_pt = us_customary_gal / 8
us_customary_cup = us_customary_gal / 16
us_customary_floz = us_customary_gal / 128
us_customary_tbsp = us_customary_gal / 256
us_customary_tsp = us_customary_gal / 768
# Nutrition labels in the USA: 21 CFR 101.9(b)(5)(viii).
us_label_tsp = 5 * millilitre
us_label_tbsp = 15 * millilitre
us_label_cup = 240 * millilitre
us_label_floz = 30 * millilitre
# Metric kitchen measures: GNU Units 2.22 (metriccup, brtablespoon, brteaspoon).
metric_tsp = 5 * millilitre
metric_tbsp = 15 * millilitre
metric_cup = 250 * millilitre
# Australian sets, where a tablespoon holds 20 ml: NSW Health, recipe conversion chart.
australian_tsp = 5 * millilitre
australian_tbsp = 20 * millilitre
australian_cup = 250 * millilitre
# The imperial gallon, exact, and its parts; the British spoons: GNU Units 2.22.
imperial_gal = 4.54609 * litre
imperial_qt = imperial_gal / 4
imperial_pt = imperial_gal / 8
imperial_floz = imperial_gal / 160
imperial_tsp = 5 * millilitre
imperial_tbsp = 15 * millilitre
"""

BASE_UNITS = {
    "volume": "millilitre",
    "mass": "gram",
    "length": "millimetre",
    "temperature": "degree_Celsius",
    "time": "second",
    "percent": "dimensionless",
    "density": "gram / millilitre",
}
"""Kinds that have more than one unit, and the one their values are in."""

KIND_WORDS = {
    "volume": ("a volume", "30 ml"),
    "mass": ("a mass", "30 g"),
    "length": ("a length", "90 mm"),
    "temperature": ("a temperature", "4 °C"),
    "time": ("a time", "4 h"),
    "percent": ("a share", "65 %"),
    "density": ("a density", "1.03 g/ml"),
    "brix": ("a sugar content", "65 °Bx"),
    "speed": ("a speed", "300 rpm"),
    "count": ("a count", "3 pieces"),
    "tool": ("a count of a tool", "2 pumps"),
}
"""Every kind of quantity: what it is called in findings and an example of writing it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as shown (``name``), its kind, and what Pint calls it.

    ``pint_name`` is empty where the unit is the only one of its kind, and where the system of
    measures decides (``by_system``).
    """

    name: str
    kind: str
    pint_name: str = ""
    by_system: bool = False


PACKS = ("can", "bag", "pack", "bottle", "carton")


def _units() -> dict[str, Unit]:
    table: dict[str, Unit] = {}

    def add(kind: str, name: str, pint_name: str, spellings: str, by_system: bool = False) -> None:
        unit = Unit(name, kind, pint_name, by_system)
        table.update((spelling, unit) for spelling in [name, *spellings.split(",")] if spelling)

    for name, prefix in [("ml", "milli"), ("cl", "centi"), ("dl", "deci"), ("l", "")]:
        words = (f"{prefix}{word}" for word in ("litre", "litres", "liter", "liters"))
        add("volume", name, f"{prefix}litre", ",".join(words))
    spoons = {
        "tsp": "tsps,teaspoon,teaspoons",
        "tbsp": "tbsps,tbs,tablespoon,tablespoons",
        "cup": "cups",
        "fl oz": "floz,fl. oz,fl. oz.,fl oz.,fluid ounce,fluid ounces",
        "pt": "pint,pints",
        "qt": "quart,quarts",
        "gal": "gallon,gallons",
    }
    for name, spellings in spoons.items():
        add("volume", name, name.replace(" ", ""), spellings, by_system=True)
    add("mass", "g", "gram", "gram,grams,gramme,grammes")
    add("mass", "kg", "kilogram", "kilo,kilos,kilogram,kilograms")
    add("mass", "mg", "milligram", "milligram,milligrams")
    add("mass", "oz", "ounce", "ounce,ounces")
    add("mass", "lb", "pound", "lbs,pound,pounds")
    add("length", "mm", "millimetre", "millimetre,millimetres,millimeter,millimeters")
    add("length", "cm", "centimetre", "centimetre,centimetres,centimeter,centimeters")
    add("length", "in", "inch", "inch,inches")
    add("temperature", "°C", "degree_Celsius", "C,degC,deg C,° C,celsius,degrees celsius")
    add("temperature", "°F", "degree_Fahrenheit", "F,degF,deg F,° F,fahrenheit,degrees fahrenheit")
    add("time", "s", "second", "sec,secs,second,seconds")
    add("time", "min", "minute", "mins,minute,minutes")
    add("time", "h", "hour", "hr,hrs,hour,hours")
    add("time", "day", "day", "days")
    add("time", "week", "week", "weeks")
    add("percent", "%", "percent", "percent,per cent")
    for name, pint_name, spellings in [
        ("g/ml", "gram / millilitre", "g/cm3,g/cm³,g/cc"),
        ("kg/l", "kilogram / litre", ""),
        ("g/l", "gram / litre", ""),
        ("kg/m³", "kilogram / metre ** 3", "kg/m3"),
    ]:
        add("density", name, pint_name, spellings)
    add("brix", "°Bx", "", "Bx,brix,°brix,° Bx,° brix,degrees brix")
    add("speed", "rpm", "", "r/min")
    add("count", "piece", "", "pieces,pc,pcs")
    for tool in ("pump", "scoop", "jigger", "ladle", "spoon", "jug", *PACKS):
        add("tool", tool, "", f"{tool}s")
    return table


UNITS = _units()
"""Every accepted spelling; the upper or lower case of its letters does not matter."""

_FOLDED = {spelling.casefold(): unit for spelling, unit in UNITS.items()}

# `c` is a cup to some and degrees Celsius to others, `f` is as unclear: only the capitals stand.
_CAPITALS_ONLY = {"c", "f"}


def find_unit(spelling: str) -> Unit | None:
    """The unit a spelling stands for, or None."""
    return None if spelling in _CAPITALS_ONLY else _FOLDED.get(spelling.casefold())


def systems_with(unit: Unit) -> list[Measures]:
    """The systems of measures that define a unit whose size depends on the system."""
    return [system for system in Measures if f"\n{system}_{unit.pint_name} =" in DEFINITIONS]


def in_base_unit(magnitude: Decimal, unit: Unit, measures: Measures | None = None) -> float:
    """A magnitude in the base unit of its kind.

    ``measures`` must be one of :func:`systems_with` for a unit that depends on the system.
    """
    name = f"{measures}_{unit.pint_name}" if unit.by_system else unit.pint_name
    base = BASE_UNITS.get(unit.kind, "")
    if name in ("", base):  # nothing to convert, so no need to wait for Pint's start
        return float(magnitude)
    if unit.kind == "temperature":  # its scales differ in zero, so there is no factor
        return float(_registry().Quantity(magnitude, name).to(base).magnitude)
    return float(magnitude * _factor(name, base))


@cache
def _factor(name: str, base: str) -> Decimal:
    factor: Decimal = _registry().Quantity(Decimal(1), name).to(base).magnitude
    return factor


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None, non_int_type=Decimal)
    registry.load_definitions(DEFINITIONS.splitlines())
    return registry
