"""The units a menu may use and what each is worth: a number and a unit in, base units out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any


class Measures(StrEnum):
    """The spoons, cups and fluid ounces a shop means; a menu declares one."""

    US_CUSTOMARY = "us_customary"
    US_LABEL = "us_label"
    METRIC = "metric"
    AUSTRALIAN = "australian"
    IMPERIAL = "imperial"


# What is not decimal is read by Pint, which is given these lines and nothing else: its own file
# knows no metric or Australian spoon, takes `cup` and `pint` for US customary ones and `pinch` for
# a pico-inch. Pint takes a third of a second to start, so it is asked for nothing else.
DEFINITIONS = Path(__file__).with_suffix(".txt").read_text("utf-8")

BASE_UNITS = {"volume": "millilitre", "mass": "gram", "length": "millimetre"}

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
    "power": ("a power", "1800 W"),
    "count": ("a count", "3 pieces"),
    "tool": ("a count of a tool", "2 pumps"),
    "pieces": ("a count of pieces", "6 pieces"),
}
"""Every kind of quantity: what it is called in findings and an example of writing it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as shown (``name``), its kind, and how many of the kind's base unit it is.

    ``factor`` is 0 where Pint converts it by its name there, ``by_system`` with the shop's system
    of measures before it.
    """

    name: str
    kind: str
    factor: Decimal = Decimal(1)
    pint_name: str = ""
    by_system: bool = False


PACKS = ("can", "bag", "pack", "bottle", "carton")
TOOLS = ("pump", "scoop", "jigger", "ladle", "spoon", "jug", "shake", "shot")
COUNTED_WITH = {"shake": "shaker", "shot": "portafilter"}
"""The kind of tool a count belongs to, where it is not called as the count is."""

# Name; kind; factor (SI prefixes and times: SI Brochure, 9th edition, tables 7 and 8) or Pint's
# name; other spellings.
_TABLE = """
ml; volume; 1; millilitre millilitres milliliter milliliters
cl; volume; 10; centilitre centilitres centiliter centiliters
dl; volume; 100; decilitre decilitres deciliter deciliters
l; volume; 1000; litre litres liter liters
tsp; volume; system; tsps teaspoon teaspoons
tbsp; volume; system; tbsps tbs tablespoon tablespoons
cup; volume; system; cups
fl_oz; volume; system; floz fl._oz fl._oz. fl_oz. fluid_ounce fluid_ounces
pt; volume; system; pint pints
qt; volume; system; quart quarts
gal; volume; system; gallon gallons
mg; mass; 0.001; milligram milligrams
g; mass; 1; gram grams gramme grammes
kg; mass; 1000; kilo kilos kilogram kilograms
oz; mass; ounce; ounce ounces oz_by_weight ounces_by_weight oz_wt oz_wt.
lb; mass; pound; lbs pound pounds
mm; length; 1; millimetre millimetres millimeter millimeters
cm; length; 10; centimetre centimetres centimeter centimeters
in; length; inch; inch inches
°C; temperature; 1; C degC deg_C °_C celsius degrees_celsius
°F; temperature; degree_Fahrenheit; F degF deg_F °_F fahrenheit degrees_fahrenheit
s; time; 1; sec secs second seconds
min; time; 60; mins minute minutes
h; time; 3600; hr hrs hour hours
day; time; 86400; days
week; time; 604800; weeks
%; percent; 0.01; percent per_cent
g/ml; density; 1; g/cm3 g/cm³ g/cc
kg/l; density; 1;
g/l; density; 0.001;
kg/m³; density; 0.001; kg/m3
°Bx; brix; 1; Bx brix °brix °_Bx °_brix degrees_brix
rpm; speed; 1; r/min
W; power; 1; watt watts
kW; power; 1000; kilowatt kilowatts
piece; count; 1; pieces pc pcs
"""


def _units() -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for row in _TABLE.strip().splitlines():
        spelling, kind, size, others = (part.strip() for part in row.split(";"))
        name = spelling.replace("_", " ")
        if size == "system":
            unit = Unit(name, kind, Decimal(0), name.replace(" ", ""), by_system=True)
        elif size[0].isdigit():
            unit = Unit(name, kind, Decimal(size))
        else:
            unit = Unit(name, kind, Decimal(0), size)
        table |= {other.replace("_", " "): unit for other in [name, *others.split()]}
    for tool in (*TOOLS, *PACKS):
        table[tool] = table[f"{tool}s"] = Unit(tool, "tool")
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
    if unit.factor:
        return float(magnitude * unit.factor)
    if unit.kind == "temperature":  # its scales differ in zero, so there is no factor
        return float(_registry().Quantity(magnitude, unit.pint_name).to("degree_Celsius").magnitude)
    name = f"{measures}_{unit.pint_name}" if unit.by_system else unit.pint_name
    return float(magnitude * _factor(name, BASE_UNITS[unit.kind]))


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
