"""What no mark shows: amounts in ounces made as others, milk with no mark to steam to."""

from __future__ import annotations

import pytest
from menu_samples import applied, check_texts, swapped

from buildsheets.findings.finding import Finding, Severity

MENU = """
shop: {name: Teal Dock, languages: [en], measures: us_customary, allergen_list: us9,
  shelf_rules: us-food-code, card: half-letter}
edition: {code: S26, name: Summer, valid_from: 2026-06-01, valid_to: 2026-09-30}
stations: {bar: {name: Bar, letter: B, accent: "#0b5563"}}
tools:
  jug: {name: jug, kind: jug, step: 1/4 fl oz}
  beaker: {name: beaker, kind: jug, step: 5 ml}
  pitcher: {name: pitcher, kind: jug, step: 1/2 fl oz}
cups:
  tall: {name: Tall, base: 2 1/2 in, rim: 3 7/8 in, height: 6 in, floor: 1/8 in,
    headspace: 1/4 in, lid: flat}
  mug: {name: Mug, base: 2 1/2 in, rim: 3 7/8 in, height: 6 in, floor: 1/8 in,
    headspace: 1/4 in, lid: flat, hot: yes}
ingredients:
  leaf: {name: Tea, contains: [], density: 1.0 g/ml, density_source: weighed for the test}
  white: {name: Milk, contains: [milk], density: 1.031 g/ml, density_source: USDA SR26 01077}
bases:
  tea: {from: leaf, tool: jug, station: bar}
  milk: {from: white, tool: jug, station: bar}
  steamed: {from: white, steamed: {air: 20 %, to: 60 °C}, tool: pitcher, station: bar}
toppings:
  splash: {from: white, behaves: floated, tool: jug, station: bar}
options: {add_ons: {at_most: 1, hold_back_at_most: 40 %}}
add_ons: {splash: {topping: splash, amount: 1 fl oz}}
drinks:
  iced-tea:
    name: Tea
    cups: [tall]
    add_ons: [splash]
    build:
      - {add: milk, amount: 2 fl oz}
      - {add: tea, fill_to: 16 fl oz}
      - {do: lid, station: bar}
  hot-milk:
    name: Hot milk
    cups: [mug]
    build:
      - {add: steamed, amount: 8 fl oz}
      - {do: lid, station: bar}
"""

MILK, LINE, SPLASH, STEAMED = "amount: 2 fl oz", "fill_to: 16 fl oz", "amount: 1 fl oz", "8 fl oz"
PITCHER = "step: 1/2 fl oz"


def notes(code: str, *changes: tuple[str, str]) -> tuple[str, list[Finding]]:
    text = MENU
    for old, new in changes:
        text = swapped(text, old, new)
    return text, [one for one in check_texts(text).findings if one.code == code]


@pytest.mark.parametrize(
    ("change", "says", "fix", "other"),
    [
        # 1.6 lies between 1 1/2 and 1 3/4 and is nearer the first
        ((MILK, "amount: 1.6 fl oz"), "1.6 fl oz of milk is made as 1.5 fl oz: jug shows steps of "
         "0.25 fl oz", "1.5 fl oz", "1.75 fl oz"),
        # a cup has 8 fl oz (NIST Handbook 44, Appendix C): 2 2/3
        ((MILK, "amount: 1/3 cup"), "1/3 cup of milk is made as 2.75 fl oz", "2.75 fl oz",
         "2.5 fl oz"),
        ((LINE, "fill_to: 16.1 fl oz"), "16.1 fl oz of tea is poured to 16 fl oz: it is read to",
         "16 fl oz", "16.25 fl oz"),
        ((SPLASH, "amount: 1.05 fl oz"), "1.05 fl oz of splash is made as 1 fl oz", "1 fl oz",
         "1.25 fl oz"),
    ],
)  # fmt: skip
def test_an_amount_between_marks_is_told_with_what_is_made_of_it(
    change: tuple[str, str], says: str, fix: str, other: str
) -> None:
    text, (found,) = notes("FIT14", change)
    assert found.severity is Severity.NOTE
    assert says in found.message
    assert f"or write {other}" in found.hint
    (offered,) = found.fixes
    assert offered.replacement == fix
    fixed = applied({"menu.yaml": text}, offered)
    assert "FIT14" not in {one.code for one in check_texts(fixed).findings}
    nearest = text.replace(change[1].partition(": ")[2], other)
    assert "FIT14" not in {one.code for one in check_texts(nearest).findings}


@pytest.mark.parametrize(
    "changes",
    [
        (),
        ((MILK, "amount: 3 tbsp"),),  # 1 1/2 fl oz
        ((MILK, "amount: 50 ml"),),  # 1.69 fl oz: turned into ounces on purpose
        ((MILK, "amount: 1.2 fl oz"), ("step: 1/4 fl oz", "step: 1/2 fl oz")),  # FIT05: 17 % off
        ((MILK, "amount: 1.6 fl oz"), ("milk: {from: white, tool: jug",
                                       "milk: {from: white, tool: beaker")),
        ((LINE, "fill_to: 16.1 fl oz"), ("measures: us_customary", "volumes: ml, measures: "
                                         "us_customary")),
    ],
)  # fmt: skip
def test_what_marks_show_or_is_turned_into_ounces_is_not(changes: tuple[tuple[str, str]]) -> None:
    assert notes("FIT14", *changes)[1] == []


def test_one_text_for_several_cups_is_told_once() -> None:
    both = ("cups: [tall]", "cups: [tall, mug]")
    assert len(notes("FIT14", both, (MILK, "amount: 1.6 fl oz"))[1]) == 1


@pytest.mark.parametrize(
    ("pitcher", "milk", "has_none", "works"),
    [
        # 8 fl oz grow by 20 % to 9.6, read as 9 1/2: marks of 2 fl oz show 8, of 1 fl oz 9
        ("step: 2 fl oz", STEAMED, True, "marks of 1 fl oz, which shows 9 fl oz"),
        ("step: 1 fl oz", STEAMED, False, ""),
        # 240 ml grow to 288, read as 290: marks of 100 ml show 200, of 50 ml 250
        ("step: 100 ml", "240 ml", True, "marks of 50 ml, which shows 250 ml"),
        ("step: 50 ml", "240 ml", False, ""),
        # 0.25 fl oz grow to 0.3: no pitcher shows that
        ("step: 1/4 fl oz", "1/4 fl oz", False, ""),
    ],
)
def test_a_pitcher_with_no_mark_above_the_milk_is_told_one_that_has(
    pitcher: str, milk: str, has_none: bool, works: str
) -> None:
    changes = ((PITCHER, pitcher), (f"steamed, amount: {STEAMED}", f"steamed, amount: {milk}"))
    _, found = notes("STM02", *changes)
    assert bool(found) is has_none
    for one in found:
        assert works in one.hint
        finer = works.removeprefix("marks of ").partition(",")[0]
        assert notes("STM02", (PITCHER, f"step: {finer}"), changes[1])[1] == []
