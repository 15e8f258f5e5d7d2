"""Amounts: units against published values, ways of writing, refusals and the fixes they offer."""

from __future__ import annotations

import subprocess
import sys
import time
from decimal import Decimal

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from buildsheets.menu.quantity import Measures, QuantityError, parse_quantity
from buildsheets.menu.units import KIND_WORDS, UNITS, systems_with

US, LABEL, METRIC, AUS, IMP = (
    Measures.US_CUSTOMARY,
    Measures.US_LABEL,
    Measures.METRIC,
    Measures.AUSTRALIAN,
    Measures.IMPERIAL,
)

# (text, measures, kind, value in the kind's base unit), by published source.
PUBLISHED = [
    # NIST Handbook 44, Appendix C: US gallon of 231 cubic inches, and its parts, exact
    ("1 gal", US, "volume", 3785.411784),
    ("1 qt", US, "volume", 946.352946),
    ("1 pt", US, "volume", 473.176473),
    ("1 cup", US, "volume", 236.5882365),
    ("1 fl oz", US, "volume", 29.5735295625),
    ("1 tbsp", US, "volume", 14.78676478125),
    ("1 tsp", US, "volume", 4.92892159375),
    # 21 CFR 101.9(b)(5)(viii): label values
    ("1 tsp", LABEL, "volume", 5.0),
    ("1 tbsp", LABEL, "volume", 15.0),
    ("1 cup", LABEL, "volume", 240.0),
    ("1 fl oz", LABEL, "volume", 30.0),
    # Standards Australia sets, NSW Health recipe conversion chart
    ("1 cup", AUS, "volume", 250.0),
    ("1 tbsp", AUS, "volume", 20.0),
    ("1 tsp", AUS, "volume", 5.0),
    # GNU Units 2.22: metriccup, brtablespoon, brteaspoon
    ("1 cup", METRIC, "volume", 250.0),
    ("1 tbsp", METRIC, "volume", 15.0),
    ("1 tsp", METRIC, "volume", 5.0),
    ("1 tbsp", IMP, "volume", 15.0),
    ("1 tsp", IMP, "volume", 5.0),
    # imperial gallon 4.54609 dm3 and its parts: GNU Units 2.22 brgallon, brpint, brfloz
    ("1 gal", IMP, "volume", 4546.09),
    ("1 pt", IMP, "volume", 568.26125),
    ("1 fl oz", IMP, "volume", 28.4130625),
    # NIST Handbook 44, Appendix C: avoirdupois, exact
    ("1 oz", US, "mass", 28.349523125),
    ("1 lb", US, "mass", 453.59237),
    # NIST Handbook 44, Appendix C: the inch is 2.54 cm exactly
    ("1 in", US, "length", 25.4),
    # Fahrenheit by definition (Pint 0.25.3: 41 -> 5.00, 70 -> 21.11, 135 -> 57.22, 165 -> 73.89)
    ("41 °F", US, "temperature", 5.0),
    ("70 °F", US, "temperature", (70 - 32) * 5 / 9),
    ("135 °F", US, "temperature", (135 - 32) * 5 / 9),
    ("165 °F", US, "temperature", (165 - 32) * 5 / 9),
    ("-40 °F", US, "temperature", -40.0),
    # SI prefixes: SI Brochure (9th edition), table 7
    ("1 l", US, "volume", 1000.0),
    ("1 cl", US, "volume", 10.0),
    ("1 dl", US, "volume", 100.0),
    ("1 kg", US, "mass", 1000.0),
    ("1 mg", US, "mass", 0.001),
    ("1 cm", US, "length", 10.0),
    # SI Brochure (9th edition), table 8: minute, hour, day
    ("1 min", US, "time", 60.0),
    ("1 h", US, "time", 3600.0),
    ("3 days", US, "time", 259200.0),
    ("1 week", US, "time", 604800.0),
    ("1.03 kg/l", US, "density", 1.03),
    ("1030 kg/m3", US, "density", 1.03),
    ("1030 g/l", US, "density", 1.03),
    ("65 %", US, "percent", 0.65),
    ("65 °Bx", US, "brix", 65.0),
]


@pytest.mark.parametrize(("text", "measures", "kind", "value"), PUBLISHED)
def test_published_values(text: str, measures: Measures, kind: str, value: float) -> None:
    quantity = parse_quantity(text, measures, (kind,))
    assert quantity.kind == kind
    assert quantity.value == pytest.approx(value, rel=1e-14)


# Pint's own registry, with its own definitions, as a second opinion on ours.
OTHER_NAMES = {
    ("us_customary", "tsp"): "teaspoon",
    ("us_customary", "tbsp"): "tablespoon",
    ("us_customary", "cup"): "cup",
    ("us_customary", "fl oz"): "fluid_ounce",
    ("us_customary", "pt"): "pint",
    ("us_customary", "qt"): "quart",
    ("us_customary", "gal"): "gallon",
    ("imperial", "fl oz"): "imperial_fluid_ounce",
    ("imperial", "pt"): "imperial_pint",
    ("imperial", "qt"): "imperial_quart",
    ("imperial", "gal"): "imperial_gallon",
}


def test_own_definitions_agree_with_pints_file() -> None:
    registry = pint.UnitRegistry()
    for (system, unit), name in OTHER_NAMES.items():
        ours = parse_quantity(f"1 {unit}", Measures(system)).value
        assert ours == pytest.approx(registry.Quantity(1, name).to("ml").magnitude, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "magnitude", "unit"),
    [
        ("30", "30", "piece"),
        ("3 pieces", "3", "piece"),
        ("1.50 ml", "1.50", "ml"),
        ("30ml", "30", "ml"),
        ("30\u00a0ml", "30", "ml"),
        ("30\u202fml", "30", "ml"),
        ("30\u2009ml", "30", "ml"),
        ("  30   ml ", "30", "ml"),
        ("30 mL", "30", "ml"),
        ("30 ML", "30", "ml"),
        ("2 L", "2", "l"),
        ("2 litres", "2", "l"),
        ("1/2 ml", "0.5", "ml"),
        ("½ ml", "0.5", "ml"),
        ("1½ ml", "1.5", "ml"),
        ("1 ½ ml", "1.5", "ml"),
        ("1 1/2 ml", "1.5", "ml"),
        ("1⁄4 ml", "0.25", "ml"),
        (".5 l", "0.5", "l"),
        ("010 ml", "10", "ml"),
        ("+5 ml", "5", "ml"),
        ("−18 °C", "-18", "°C"),
        ("-18 C", "-18", "°C"),
        ("4 ℃", "4", "°C"),
        ("4 º C", "4", "°C"),
        ("2 pumps", "2", "pump"),
        ("1/2 pump", "0.5", "pump"),
        ("1 scoop", "1", "scoop"),
        ("1 can", "1", "can"),
        ("300 rpm", "300", "rpm"),
        ("65 Brix", "65", "°Bx"),
        ("12 hrs", "12", "h"),
        ("8 fl. oz", "8", "fl oz"),
        ("8 floz", "8", "fl oz"),
    ],
)
def test_ways_of_writing(text: str, magnitude: str, unit: str) -> None:
    quantity = parse_quantity(text, US)
    assert (str(quantity.magnitude), quantity.unit) == (magnitude, unit)


@pytest.mark.parametrize(
    ("text", "words", "fixes"),
    [
        ("30–40 ml", "range", []),
        ("30-40 ml", "range", []),
        ("30 ml - 40 ml", "range", []),
        ("30 to 40 ml", "range", []),
        ("30..40 ml", "range", []),
        ("1-1/2 cup", "range", []),
        ("-5 ml", "negative", []),
        ("−1/2 pump", "negative", []),
        ("-300 °C", "absolute zero", []),
        ("1,5 l", "comma", ["1.5 l"]),
        ("1,000 ml", "comma", ["1.000 ml", "1000 ml"]),
        ("1e3 ml", "exponent", []),
        (".inf", "not an amount", []),
        ("nan ml", "not an amount", []),
        ("", "missing", []),
        ("ml", "no number", []),
        ("5. l", "not an amount", []),
        ("1/0 l", "divides by nothing", []),
        ("10² ml", "not a known unit", []),
        ("٣ ml", "not an amount", []),
        ("1 pinch", "pinch", []),
        ("2 dashes", "dashes", []),
        ("2 heaped tsp", "heaped", []),
        ("a handful", "handful", []),
        ("to taste", "to taste", []),
        ("~30 ml", "not exact", ["30 ml"]),
        ("30+ ml", "not exact", ["30 ml"]),
        ("1 h 30 min", "more than one number", []),
        ("12:30", "more than one number", []),
        ("2 x 30 ml", "more than one number", []),
        ("90 mll", "not a known unit", ["90 ml"]),
        ("4 c", "two ways", ["4 cup", "4 °C"]),
        ("1 T", "two ways", ["1 tbsp", "1 tsp"]),
        ("8 oz", "a volume or a weight", ["8 fl oz", "8 oz by weight"]),
        ("9" * 13 + " ml", "digits", []),
        ("x" * 500, "too long", []),
    ],
)
def test_refusals(text: str, words: str, fixes: list[str]) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, US)
    assert words in caught.value.message
    assert [choice.write for choice in caught.value.choices] == fixes


@pytest.mark.parametrize("unit", ["oz by weight", "ounces by weight", "oz wt", "OZ WT."])
def test_an_ounce_by_weight_is_a_mass_wherever_it_stands(unit: str) -> None:
    """NIST SP 811, appendix B.8, from memory: an ounce (avoirdupois) is 28.34952 g."""
    for kinds in ((), ("volume", "mass"), ("mass",)):
        read = parse_quantity(f"3 {unit}", US, kinds)
        assert (read.kind, read.unit) == ("mass", "oz")
        assert read.value == pytest.approx(3 * 28.34952, abs=1e-4)
    with pytest.raises(QuantityError, match="is a mass; a volume is wanted"):
        parse_quantity(f"3 {unit}", US, ("volume",))


def test_undeclared_measures_are_refused_with_each_size() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity("2 tbsp")
    # 2 x (14.79 | 15 | 20) ml: NIST HB44; 21 CFR 101.9; NSW Health
    assert [c.write for c in caught.value.choices] == ["29.57 ml", "30 ml", "40 ml"]
    assert "no measures are declared" in caught.value.message


@pytest.mark.parametrize(
    ("text", "measures"), [("1 fl oz", METRIC), ("1 pt", LABEL), ("1 cup", IMP), ("1 gal", AUS)]
)
def test_a_system_without_the_unit_names_those_with_it(text: str, measures: Measures) -> None:
    with pytest.raises(QuantityError, match=f"{measures} has no") as caught:
        parse_quantity(text, measures)
    unit = UNITS[text.removeprefix("1 ")]
    for system in systems_with(unit):
        assert system in caught.value.message


def test_kinds() -> None:
    assert parse_quantity("8 oz", US, ("mass",)).kind == "mass"
    assert parse_quantity("2 pumps", US, ("volume", "pump")).unit == "pump"
    assert parse_quantity("2 pumps", US, ("tool",)).unit == "pump"
    with pytest.raises(QuantityError, match="count of scoops; a volume or a count of pumps"):
        parse_quantity("2 scoops", US, ("volume", "pump"))
    with pytest.raises(QuantityError, match="without a unit; a volume is wanted"):
        parse_quantity("30", US, ("volume",))
    with pytest.raises(QuantityError) as caught:
        parse_quantity("8 oz", US, ("volume",))
    assert [choice.write for choice in caught.value.choices] == ["8 fl oz"]


AMOUNTISH = st.text(
    alphabet="0123456789 ./,-–½¼+eE~°%µxmlgkcfozTtspbCFBupinéß\u00a0\t\n\0", max_size=14
)


@given(st.one_of(st.text(max_size=40), AMOUNTISH), st.sampled_from([None, *Measures]))
@example("1" * 400, None)
@example("\ud800", None)
def test_any_text_is_read_or_refused(text: str, measures: Measures | None) -> None:
    try:
        quantity = parse_quantity(text, measures)
    except QuantityError as error:
        for choice in error.choices:  # every offered amount can be read
            parse_quantity(choice.write, measures)
        said = error.message
    else:
        said = KIND_WORDS[quantity.kind][0]
    assert said


@given(
    st.decimals(min_value=0, max_value=99999, places=3),
    st.sampled_from(sorted(UNITS)),
    st.sampled_from(list(Measures)),
)
def test_twice_the_amount_is_twice_the_value(
    magnitude: Decimal, spelling: str, measures: Measures
) -> None:
    unit = UNITS[spelling]
    if unit.kind == "temperature" or (unit.by_system and measures not in systems_with(unit)):
        return
    once = parse_quantity(f"{magnitude} {spelling}", measures, (unit.kind,))
    twice = parse_quantity(f"{2 * magnitude} {spelling}", measures, (unit.kind,))
    assert twice.value == pytest.approx(2 * once.value, rel=1e-12)


@pytest.mark.parametrize("spelling", sorted(UNITS))
def test_every_spelling_is_read_in_any_case(spelling: str) -> None:
    unit = UNITS[spelling]
    system = systems_with(unit)[0] if unit.by_system else None
    for text in (f"2 {spelling}", f"2{spelling}"):
        assert parse_quantity(text, system, (unit.kind,)).unit == unit.name
    if len(spelling) > 1:
        assert parse_quantity(f"2 {spelling.upper()}", system, (unit.kind,)).unit == unit.name


def test_amounts_in_base_units_do_not_start_pint() -> None:
    code = (
        "import sys; from buildsheets.menu.quantity import parse_quantity as p;"
        "[p(f'{n} ml') and p(f'{n} g') and p(f'{n} pumps') for n in range(250)];"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_five_hundred_conversions_are_quick_once_started() -> None:
    parse_quantity("1 in", US)
    start = time.perf_counter()
    for number in range(500):
        parse_quantity(f"{number} fl oz", US)
    assert time.perf_counter() - start < 0.12  # the budget of a whole cold start
