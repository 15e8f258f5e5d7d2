"""A shop of fluid ounces: what is figured is what its jugs show, and cards, cup drawing, gauge and
batches print that."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from menu_samples import applied, check_texts, place_of, starts, swapped

from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.volumes import FLUID_OUNCES, ML
from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.views import rounding
from buildsheets.views.addons import too_much
from buildsheets.views.build import build_view
from buildsheets.views.gauge import gauge_view
from buildsheets.views.words import Words
from buildsheets.wall.strings import number, said

US, IMPERIAL = 29.5735295625, 28.4130625
"""ml of a fluid ounce: NIST Handbook 44, appendix C; Weights and Measures Act 1985, schedule 1."""

MENU = """
shop: {name: Teal Dock, languages: [en], measures: us_customary, allergen_list: us9,
  shelf_rules: us-food-code, card: half-letter}
edition: {code: S26, name: Summer, valid_from: 2026-06-01, valid_to: 2026-09-30}
stations: {bar: {name: Bar, letter: B, accent: "#0b5563"}}
tools:
  jug: {name: jug, kind: jug, step: 1/4 fl oz, tolerance: 1/8 fl oz}
  pump: {name: pump, kind: pump, step: 1 pump, holds: 1/4 fl oz, one: pump, many: pumps}
  beaker: {name: beaker, kind: jug, step: 5 ml}
cups:
  tall: {name: Tall, base: 2 1/2 in, rim: 3 7/8 in, height: 6 in, floor: 1/8 in,
    headspace: 1/4 in, lid: flat}
ingredients:
  leaf: {name: Tea, contains: [], density: 1.0 g/ml, density_source: weighed for the test}
  white: {name: Milk, contains: [milk], density: 1.031 g/ml, density_source: USDA SR26 01077}
  cane: {name: Syrup, contains: [], brix: 65 °Bx}
bases:
  tea: {from: leaf, tool: jug, station: bar}
  milk: {from: white, tool: jug, station: bar}
sweeteners:
  syrup: {from: cane, tool: jug, station: bar}
options:
  sweetness: {levels: [0 %, 25 %, 50 %, 100 %], default: 100 %, with_less_sweet: more_base}
drinks:
  iced-tea:
    name: Tea
    cups: [tall]
    build:
      - {add: syrup, amount: 3 fl oz}
      - {add: milk, amount: 60 ml}
      - {add: tea, fill_to: 16 fl oz}
      - {do: lid, station: bar}
  short-tea:
    name: Short tea
    cups: [tall]
    build:
      - {add: syrup, amount: 2 1/4 fl oz}
      - {add: tea, amount: 5 fl oz}
      - {do: lid, station: bar}
"""


def checked(*changes: tuple[str, str]) -> Checked:
    text = MENU
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    found = check_texts(text)
    assert not found.stopped, found.findings
    return found


def served(of: Checked, drink: str = "iced-tea", sweetness: float = 1.0) -> Serving:
    usual = next(one for one in of.servings if one.drink.id == drink)
    return usual.choices[Choice(sweetness, None)]


def words_of(of: Checked, language: str = "en") -> Words:
    assert of.menu is not None
    return Layouts().words(language).measured_in(of.menu.shop)


def printed(of: Checked, drink: str = "iced-tea", sweetness: float = 1.0) -> list[tuple[str, str]]:
    """Amount and unit of each step that adds something."""
    serving, words = served(of, drink, sweetness), words_of(of)
    return [rounding.measured(one, words)[:2] for one in serving.steps if one.used]


IMPERIALLY = (
    ("us_customary", "imperial"),
    ("us9", "eu14"),
    ("us-food-code", "england"),
)


@pytest.mark.parametrize(("changes", "ounce_ml"), [((), US), (IMPERIALLY, IMPERIAL)])
def test_a_line_of_sixteen_ounces_is_figured_and_printed_as_that(
    changes: tuple[tuple[str, str], ...], ounce_ml: float
) -> None:
    of = checked(*changes)
    body = served(of).body
    assert body.used is not None
    # 16 x 29.5735295625 ml are 473.18 ml; 16 x 28.4130625 ml are 454.61 ml.
    assert body.used.to_line_ml == pytest.approx(16 * ounce_ml, abs=1e-9)
    assert printed(of)[2] == ("16", "fl oz line")


def test_an_amount_written_in_ml_is_poured_to_the_jugs_quarters() -> None:
    # 60 / 29.5735 = 2.029, nearest 2; 100 / 29.5735 = 3.381, 13.5 quarters, nearest 14.
    of = checked()
    milk = served(of).steps[1].used
    assert milk is not None
    assert milk.volume_ml == pytest.approx(2 * US, abs=1e-9)
    assert printed(of)[1] == ("2", "fl oz")
    more = checked(("60 ml", "100 ml"))
    milk = served(more).steps[1].used
    assert milk is not None
    assert milk.volume_ml == pytest.approx(3.5 * US, abs=1e-9)
    assert printed(more)[1] == ("3½", "fl oz")


def test_a_line_written_in_ml_is_poured_to_a_quarter() -> None:
    # 470 / 29.5735 = 15.893: 15.75 is 0.143 away, 16 is 0.107.
    body = served(of := checked(("16 fl oz", "470 ml"))).body
    assert body.used is not None
    assert body.used.to_line_ml == pytest.approx(16 * US, abs=1e-9)
    assert printed(of)[2] == ("16", "fl oz line")


@pytest.mark.parametrize(
    ("drink", "share", "ounces", "text"),
    [
        ("iced-tea", 0.5, 1.5, "1½"),  # 3 x 0.5
        ("iced-tea", 0.25, 0.75, "¾"),
        ("short-tea", 0.5, 1.0, "1"),  # 2.25 x 0.5 = 1.125 = 4.5 quarters: the lower, 4
        ("short-tea", 0.25, 0.5, "½"),  # 0.5625 = 2.25 quarters: 2
        ("short-tea", 0.0, 0.0, "0"),
    ],
)
def test_an_option_scales_to_the_jugs_quarters(
    drink: str, share: float, ounces: float, text: str
) -> None:
    syrup = served(of := checked(), drink, share).steps[0].used
    assert syrup is not None
    assert syrup.volume_ml == pytest.approx(ounces * US, abs=1e-9)
    assert printed(of, drink, share)[0] == (text, "fl oz")


@pytest.mark.parametrize(("share", "text"), [(0.5, "6¼"), (0.25, "6¾"), (0.0, "7¼")])
def test_the_base_makes_up_in_quarters(share: float, text: str) -> None:
    # 5 and what is missing of 2.25 fl oz: 5 + 1.25, 5 + 1.75, 5 + 2.25.
    assert printed(checked(), "short-tea", share)[1] == (text, "fl oz")


def test_a_tolerance_of_an_eighth_is_one() -> None:
    # Two pours of a jug that strays by 1/8 fl oz: at worst 2/8 of 29.5735295625 ml.
    spread = (one := served(checked(), "short-tea")).choices.spread(one.choice)
    assert spread.worst_ml == pytest.approx(US / 4, abs=1e-6)


def test_what_is_marked_in_ml_is_printed_in_ml() -> None:
    of = checked(("milk: {from: white, tool: jug", "milk: {from: white, tool: beaker"))
    assert printed(of) == [("3", "fl oz"), ("60", "ml"), ("16", "fl oz line")]


@pytest.mark.parametrize(
    ("step", "written", "printed_as"),
    [("0.1 g", "18.5 g", "18.5"), ("1 g", "90 g", "90"), ("0.5 g", "7.5 g", "7.5")],
)
def test_a_liquid_that_is_weighed_is_printed_in_what_the_scale_shows(
    step: str, written: str, printed_as: str
) -> None:
    """18.5 g of syrup were printed as 0.48 fl oz, and 18.5 g of powder as 19."""
    scale = f"  scale: {{name: scale, kind: scale, step: {step}}}\n"
    of = checked(
        ("  jug: {name: jug,", f"{scale}  jug: {{name: jug,"),
        ("syrup: {from: cane, tool: jug", "syrup: {from: cane, tool: scale"),
        ("3 fl oz", written), ("2 1/4 fl oz", "20 g"),
    )  # fmt: skip
    syrup = served(of).steps[0]
    assert rounding.measured(syrup, words_of(of)) == (printed_as, "g", "on the scale")


@pytest.mark.parametrize("shown", ["0.1 oz by weight", "1/8 oz wt", "1 lb"])
def test_a_scale_of_ounces_is_refused_and_each_fix_prints_grams(shown: str) -> None:
    """Cards said grams of a scale that shows none, to its steps of ounces."""
    scale = f"  scale: {{name: scale, kind: scale, step: {shown}}}\n"
    text = MENU
    for old, new in (
        ("  jug: {name: jug,", f"{scale}  jug: {{name: jug,"),
        ("syrup: {from: cane, tool: jug", "syrup: {from: cane, tool: scale"),
        ("3 fl oz", "18.5 g"), ("2 1/4 fl oz", "20 g"),
    ):  # fmt: skip
        text = swapped(text, old, new)
    (found,) = [one for one in check_texts(text).findings if one.code == "TOOL03"]
    assert found.span is not None
    assert starts(found.span) == place_of(text, shown)
    assert f"shows {shown.split()[1]}, and cards say weights in grams" in found.message
    assert "in g, kg or mg" in found.hint
    amounts = {}
    for fix in found.fixes:
        of = check_texts(applied({"menu.yaml": text}, fix))
        assert not of.stopped, of.findings
        amounts[fix.replacement] = rounding.measured(served(of).steps[0], words_of(of))
    assert amounts == {"1 g": ("19", "g", "on the scale"), "0.1 g": ("18.5", "g", "on the scale")}


def test_a_shop_may_have_its_lines_in_ml() -> None:
    of = checked(("measures: us_customary", "measures: us_customary, volumes: ml"))
    # 16 x 29.5735 = 473.18 ml, to the nearest 5 ml; the jug is marked in fl oz all the same.
    assert printed(of) == [("3", "fl oz"), ("2", "fl oz"), ("475", "ml line")]


def test_what_a_pump_gives_is_said_in_ounces() -> None:
    change = ("syrup: {from: cane, tool: jug", "syrup: {from: cane, tool: pump")
    of = checked(change, ("3 fl oz", "3 pumps"), ("2 1/4 fl oz", "2 pumps"))
    assert rounding.measured(served(of).steps[0], words_of(of)) == ("3", "pumps", "¾ fl oz")


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_cards_say_fluid_ounces_in_every_language(language: str) -> None:
    of = checked()
    assert of.menu is not None
    words, serving = words_of(of, language), served(of)
    card, strip = (
        build_view(of.menu, serving, words),
        gauge_view(of.menu, serving.cup, of.servings, words),
    )
    assert strip is not None
    assert " ml" not in repr((card, strip))
    # pi 6 (2.5^2 + 2.5 x 3.875 + 3.875^2) / 12 cubic inches of 231 / 128 to the ounce: 26.94.
    # 3 7/8 inches, as the cup is written
    rim = words("inches", n="3\u00a07/8")
    assert said(card.cup_name, "to_rim", words) == {"volume": "27 fl oz", "length": rim}
    assert " mm" not in repr((card, strip))
    assert card.steps[2].unit == words("ml_line")
    assert card.steps[2].unit.startswith("fl oz ")
    assert [row.line.label for row in strip.rows if row.line.kind == "line"] == ["16 fl oz"]
    assert "16 fl oz" in [line.label for line in card.drawing.lines]


IN_MM = (
    ("base: 2 1/2 in, rim: 3 7/8 in, height: 6 in", "base: 63.5 mm, rim: 98 mm, height: 152 mm"),
)


def test_heights_are_in_what_the_cups_are_written_in() -> None:
    """The rim stands 6 + 1/8 inches above the counter; one of 152 mm 155.2 mm."""
    for changes, high, unit in (((), "6\u00a01/8 in", "in"), (IN_MM, "155 mm", "mm")):
        of = checked(*changes)
        assert of.menu is not None
        serving, words = served(of, "short-tea"), words_of(of)
        strip = gauge_view(of.menu, serving.cup, of.servings, words)
        assert strip is not None
        assert words("step_height", length=high) in [row.height for row in strip.rows]
        free = rounding.height(words, serving.final.headspace_mm or 0.0, down=True)["length"]
        assert f"{free} free under the rim" in build_view(of.menu, serving, words).finish
        assert f"{free}".endswith(f" {unit}")


@pytest.mark.parametrize(
    ("height_mm", "nearest", "down"),
    [  # sixteenths of an inch of 25.4 mm (NIST Handbook 44, Appendix C): 1.5875 mm
        (0.0, "0 in", "0 in"),
        (1.5, "1/16 in", "0 in"),
        (25.4, "1 in", "1 in"),
        (40.5, "1\u00a05/8 in", "1\u00a09/16 in"),  # 25.51 sixteenths
        (114.3, "4½ in", "4½ in"),
    ],
)
def test_a_height_in_inches_is_one_that_a_ruler_shows(
    height_mm: float, nearest: str, down: str
) -> None:
    words = replace(Layouts().words("en"), in_inches=True)
    assert rounding.height(words, height_mm)["length"] == nearest
    assert rounding.height(words, height_mm, down=True)["length"] == down


def test_the_mark_of_a_line_stands_where_so_much_water_does() -> None:
    of = checked()
    assert of.menu is not None
    serving = served(of)
    strip = gauge_view(of.menu, serving.cup, of.servings, words_of(of))
    assert strip is not None
    (mark,) = [row.line for row in strip.rows if row.line.kind == "line"]
    floor_mm, height_mm = 25.4 / 8, mark.height_mm - 25.4 / 8
    assert serving.cup.floor_mm == pytest.approx(floor_mm)
    base, rim, high = 63.5, 98.425, 152.4  # mm of 2 1/2, 3 7/8 and 6 inches
    width = base + (rim - base) * height_mm / high
    water_ml = 3.141592653589793 * height_mm * (base**2 + base * width + width**2) / 12_000
    assert water_ml == pytest.approx(16 * US, abs=0.05)  # the volume of a frustum; 0.01 mm


def test_too_much_is_said_up_to_a_quarter() -> None:
    of = checked()
    over = replace(served(of), over_ml=0.3)  # a hundredth of an ounce
    assert too_much(over, words_of(of)) == "¼ fl oz too much"
    over = replace(served(of), over_ml=US / 4 + 0.3)
    assert too_much(over, words_of(of)) == "½ fl oz too much"


WORDS = {
    measures: replace(Layouts().words("en"), volumes=unit)
    for measures, unit in FLUID_OUNCES.items()
}


@pytest.mark.parametrize(
    ("measures", "value_ml", "down", "up"),
    [
        ("us_customary", 946.352946, "1 qt", "1 qt"),  # NIST Handbook 44: 57.75 cubic inches
        ("us_customary", 3785.411784, "4 qt", "4 qt"),  # a gallon
        ("us_customary", 1000.0, "1 qt 1½ fl oz", "1 qt 2 fl oz"),  # 33.814 fl oz
        ("us_customary", 500.0, "16¾ fl oz", "17 fl oz"),  # 16.907
        ("us_customary", 0.0, "0 fl oz", "0 fl oz"),
        ("us_customary", 5.0, "1 tsp", "1¼ tsp"),  # 1.0144 of 4.92892 ml
        ("us_label", 1000.0, "33¼ fl oz", "33½ fl oz"),  # 33.33 of 30 ml; its rule knows no quart
        ("imperial", 1000.0, "1 pt 15 fl oz", "1 pt 15½ fl oz"),  # 35.195 of 28.4130625 ml
        ("imperial", 4546.09, "8 pt", "8 pt"),  # a gallon
    ],
)
def test_yields_go_down_and_needs_up_to_what_vessels_show(
    measures: str, value_ml: float, down: str, up: str
) -> None:
    words = WORDS[measures]
    assert rounding.prep_volume(words, value_ml) == down
    assert rounding.prep_volume(words, value_ml, up=True) == up


@given(st.floats(1.5, 1e5), st.sampled_from(sorted(FLUID_OUNCES)))
def test_a_yield_in_ounces_never_promises_more_nor_a_need_less(
    value_ml: float, measures: str
) -> None:
    unit, words = FLUID_OUNCES[measures], WORDS[measures]
    sizes = {"fl": unit.ml, "qt": 32 * unit.ml, "pt": 20 * unit.ml}
    sizes["tsp"] = unit.small[1] * unit.ml if unit.small else 0.0

    def back(text: str) -> float:
        parts = text.replace("fl oz", "fl").split(" ")
        pairs = zip(parts[::2], parts[1::2], strict=True)
        return sum(number(count, words) * sizes[name] for count, name in pairs)

    down, up = (
        back(rounding.prep_volume(words, value_ml)),
        rounding.prep_volume(words, value_ml, up=True),
    )
    assert down <= value_ml + 0.01
    assert back(up) >= value_ml - 0.01
    assert back(up) - down <= unit.ml / 2 + 0.01


@pytest.mark.parametrize(
    ("ounces", "text"), [(0.125, "1/8"), (1.375, "1\u00a03/8"), (2.25, "2¼"), (0.2, "0.2")]
)
def test_an_eighth_is_printed_as_it_is_written_and_read_back(ounces: float, text: str) -> None:
    words, unit = WORDS["us_customary"], FLUID_OUNCES["us_customary"]
    assert rounding.volume(words, ounces * unit.ml, unit) == text
    assert number(text, words) == pytest.approx(ounces)


def test_the_sum_of_a_cup_too_full_adds_up_in_ounces() -> None:
    text = MENU.replace("16 fl oz", "26 fl oz")
    (found,) = [one for one in check_texts(text).findings if one.code == "FIT01"]
    assert " ml" not in f"{found.message}{found.sums}{found.fixes}{found.hint}".replace("60 ml", "")
    takes = {line.part: float(line.takes_up.removesuffix(" fl oz")) for line in found.sums}
    parts = takes["syrup"] + takes["milk"] + takes["tea"]
    assert takes["reaches"] == pytest.approx(parts, abs=1e-9)
    assert takes["reaches"] == 26.0
    too_much = takes["reaches"] - takes["may be filled"]
    assert takes["too much by"] == pytest.approx(too_much, abs=1e-9)


@pytest.mark.parametrize(
    ("milk", "fixes"),
    [
        # 12 / 29.5735 = 0.406 fl oz: 0.25 is 38 % less, 0.5 is 23 % more.
        ("12 ml", ["0.25 fl oz", "0.5 fl oz"]),
        ("0.4 fl oz", ["0.25 fl oz", "0.5 fl oz"]),
        ("60 ml", []),  # 2 fl oz are 1.4 % less; 10 % is allowed
    ],
)
def test_what_a_jug_shows_far_from_what_is_written_is_warned_of(
    milk: str, fixes: list[str]
) -> None:
    found = [one for one in checked(("60 ml", milk)).findings if one.code == "FIT05"]
    assert [fix.replacement for one in found for fix in one.fixes] == fixes


def test_a_fix_of_ml_is_in_ounces() -> None:
    # 780 ml, 26.4 fl oz, are above a lid that is 1/4 inch under a rim at 26.94.
    text = MENU.replace("16 fl oz", "780 ml")
    (found,) = [one for one in check_texts(text).findings if one.code == "FIT01"]
    (fix,) = [fix for fix in found.fixes if "tea" in fix.text]
    assert fix.replacement is not None
    number, unit = fix.replacement.split(" ", 1)
    assert unit == "fl oz"
    assert float(number) % 0.25 == 0.0
    assert "FIT01" not in {
        one.code for one in check_texts(text.replace("780 ml", fix.replacement)).findings
    }


def test_metric_shops_print_what_they_did() -> None:
    words = Layouts().words("en")
    assert (words.volumes, rounding.level(words, 354.88), rounding.level(words, 1250.0)) == (
        ML,
        "355 ml",
        "1,250 ml",
    )
