"""The fluid ounces of shops by law and standard, and how findings say a volume."""

from __future__ import annotations

from decimal import Decimal

import pytest

from buildsheets.menu.quantity import Measures
from buildsheets.menu.units import UNITS, in_base_unit, systems_with
from buildsheets.menu.volumes import FLUID_OUNCES, ML

INCH_ML = 16.387064  # the cubic inch of 25.4 mm (NIST Handbook 44, appendix C)


@pytest.mark.parametrize(
    ("measures", "ml"),
    [
        ("us_customary", 231 * INCH_ML / 128),  # NIST Handbook 44, appendix C
        ("us_label", 30.0),  # 21 CFR 101.9(b)(5)(viii)
        ("imperial", 4546.09 / 160),  # Weights and Measures Act 1985, schedule 1
    ],
)
def test_a_fluid_ounce_is_that_of_the_law(measures: str, ml: float) -> None:
    unit = FLUID_OUNCES[measures]
    assert unit.ml == pytest.approx(ml, rel=1e-12)
    assert unit.ml == in_base_unit(Decimal(1), UNITS["fl oz"], Measures(measures))
    assert unit.step_ml == pytest.approx(ml / 4)


def test_every_system_that_has_one_is_printed_in_it() -> None:
    assert list(FLUID_OUNCES) == [str(one) for one in systems_with(UNITS["fl oz"])]


@pytest.mark.parametrize("measures", FLUID_OUNCES)
def test_larger_and_smaller_units_are_those_a_menu_is_read_in(measures: str) -> None:
    unit = FLUID_OUNCES[measures]
    spelling = {"quarts": "qt", "pints": "pt", "teaspoons": "tsp"}
    for word, size in filter(None, (unit.large, unit.small)):
        ml = in_base_unit(Decimal(1), UNITS[spelling[word]], Measures(measures))
        assert size * unit.ml == pytest.approx(ml, rel=1e-9)


@pytest.mark.parametrize(
    ("volume_ml", "in_ml", "in_ounces"),
    [
        (354.88235475, "354.9 ml", "12 fl oz"),  # 12 of 29.5735295625 ml
        (0.2, "0.2 ml", "0.01 fl oz"),
        (-0.01, "-0.0 ml", "0 fl oz"),
        (14.5, "14.5 ml", "0.49 fl oz"),
    ],
)
def test_findings_say_tenths_of_a_ml_or_hundredths_of_an_ounce(
    volume_ml: float, in_ml: str, in_ounces: str
) -> None:
    assert ML.text(volume_ml, 1) == in_ml
    assert FLUID_OUNCES["us_customary"].text(volume_ml, 1) == in_ounces
