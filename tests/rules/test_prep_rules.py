"""Rules about batches, keeping, the guest and cost, through the whole reading of a menu.

Every rule's own documentation is put to the test: the menu it says trips it must trip it, and the
same menu fixed must not.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from typing import Any

import prep_samples as s
import pytest
import yaml

from buildsheets.cup.scan import figure
from buildsheets.findings.catalogue import catalogue
from buildsheets.findings.finding import Finding, Severity, Source
from buildsheets.menu.model import Menu, link
from buildsheets.menu.read import read
from buildsheets.rules import (
    gas_rules,
    guest_rules,
    keeping_rules,
    layer_rules,
    name_rules,
    prep_rules,
    safety_rules,
    slip_rules,
)
from buildsheets.rules.registry import RULES

BASE = """
shop:
  name: Sample stall
  languages: [en]
  measures: metric
  currency: EUR
  allergen_list: eu14
  shelf_rules: us-food-code
  label_rules: eu
  time_zone: Europe/Madrid
  card: A5
  warn_rounding: 10 %
edition: {code: S26, name: Sample, valid_from: 2026-03-01, valid_to: 2026-09-30}
stations:
  bar: {name: Bar, letter: B, accent: "#0b5563", reading_distance: 600 mm}
tools:
  jug: {name: jug, kind: jug, step: 1 ml}
cups:
  medium:
    name: Medium
    base: 58 mm
    rim: 91 mm
    height: 114 mm
    brimful: 505 ml
    floor: 3 mm
    headspace: 5 mm
    lid: flat
ingredients:
  water:
    name: Water
    contains: []
    density: 0.998 g/ml
    density_source: IAPWS-95
    brix: 0 °Bx
    nutrition:
      {per: 100 g, energy_kcal: 0, fat_g: 0, saturates_g: 0, carbohydrate_g: 0, sugars_g: 0,
       protein_g: 0, salt_g: 0, caffeine_mg: 0}
    pack: {quantity: 1000 l, price: 2.40}
  milk:
    name: Milk
    contains: [milk]
    density: 1.03 g/ml
    density_source: USDA SR26 01077
    nutrition:
      {per: 100 g, energy_kcal: 61, fat_g: 3.3, saturates_g: 1.9, carbohydrate_g: 4.8,
       sugars_g: 4.8, protein_g: 3.2, salt_g: 0.1, caffeine_mg: 0}
    pack: {quantity: 1 l, price: 1.05}
batches:
  tea-brew:
    name: Brew
    parts: [{use: water, amount: 1 kg}, {use: milk, amount: 100 g}]
    keeps_for: 2 days
    keeps_at: 5 °C
    scales: {full: 1}
bases:
  tea: {from: tea-brew, tool: jug, station: bar}
  plain-milk: {from: milk, tool: jug, station: bar}
drinks:
  cloud:
    name: Cloud
    group: milk
    cups: [medium]
    price: 4.00
    build:
      - {add: tea, amount: 100 ml, station: bar}
      - {add: plain-milk, amount: 200 ml, station: bar}
"""


def laid_over(below: Any, above: Any, depth: int = 3) -> Any:
    """``above`` over ``below`` by section, entry and key; the value of a key is exchanged whole."""
    if depth and isinstance(below, dict) and isinstance(above, dict):
        keys = {**below, **above}
        return {k: laid_over(below.get(k), above.get(k, below.get(k)), depth - 1) for k in keys}
    return above


def written(fragment: str = "") -> str:
    """The base menu with a fragment laid over it, key by key, as a menu file."""
    data = laid_over(yaml.load(BASE, yaml.BaseLoader), yaml.load(fragment, yaml.BaseLoader) or {})
    return yaml.safe_dump(data, allow_unicode=True, sort_keys=False)


def linked(text: str) -> Menu:
    root, findings = read({"menu.yaml": Source("menu.yaml", text)})
    assert root is not None
    done, more = link(root)
    errors = [f for f in findings + more if f.severity is Severity.ERROR]
    assert not errors, [f.message for f in errors]
    return done


def trips(menu: Menu, code: str) -> list[Finding]:
    servings = [figure(drink, cup) for drink in menu.drinks.values() for cup in drink.cups]
    return list(RULES[code].check(menu, servings))


MODULES = (
    guest_rules,
    keeping_rules,
    prep_rules,
    safety_rules,
    gas_rules,
    layer_rules,
    slip_rules,
    name_rules,
)


def mine() -> list[str]:
    modules = {module.__name__.rsplit(".", 1)[-1] for module in MODULES}
    return sorted(
        code for code, r in RULES.items() if r.check.__module__.rsplit(".", 1)[-1] in modules
    )


def block(code: str, title: str) -> str:
    found = re.search(rf"{title}::\n\n((?:    .*\n|\n)+)", catalogue()[code].documentation + "\n")
    assert found, f"{code} has no block {title!r}"
    return textwrap.dedent(found.group(1))


WITH_MENUS = [code for code in mine() if code != "ALG01"]


@pytest.mark.parametrize("code", WITH_MENUS)
def test_the_menu_that_trips_it_trips_it_once(code: str) -> None:
    found = trips(linked(written(block(code, "Trips it"))), code)
    assert len(found) == 1, [f.message for f in found]
    (one,) = found
    assert one.code == code
    assert one.span is not None
    assert one.subject


@pytest.mark.parametrize("code", WITH_MENUS)
def test_the_same_menu_fixed_is_clean(code: str) -> None:
    assert trips(linked(written(block(code, "Fixed"))), code) == []


@pytest.mark.parametrize("code", WITH_MENUS)
def test_the_base_menu_is_clean(code: str) -> None:
    assert trips(linked(written()), code) == []


@pytest.mark.parametrize("code", mine())
def test_every_rule_says_why_and_from_where(code: str) -> None:
    words = catalogue()[code].documentation
    assert "At the counter: " in words
    assert "Source: " in words


def applied(text: str, finding: Finding) -> list[str]:
    """The menu with each offered replacement written in its place, one at a time."""
    results = []
    for fix in finding.fixes:
        if fix.span is None or fix.replacement is None:
            continue
        lines = text.splitlines()
        line = lines[fix.span.line - 1]
        lines[fix.span.line - 1] = (
            line[: fix.span.column - 1] + fix.replacement + line[fix.span.end_column - 1 :]
        )
        results.append("\n".join(lines) + "\n")
    return results


@pytest.mark.parametrize("code", ["KEEP03", "KEEP04", "KEEP05", "DEN05"])
def test_each_offered_fix_makes_it_vanish_and_brings_nothing_new(code: str) -> None:
    text = written(block(code, "Trips it"))
    menu = linked(text)
    before = {c: len(trips(menu, c)) for c in mine()}
    (finding,) = trips(menu, code)
    fixed = applied(text, finding)
    assert fixed
    for one in fixed:
        after = linked(one)
        assert trips(after, code) == []
        assert all(len(trips(after, c)) <= before[c] for c in mine())


def test_undeclared_allergen_is_an_error_named_once_with_its_path() -> None:
    leaf = s.ingredient("leaf", contains=None)
    brew = s.batch("brew", [s.part(leaf, 10)])
    one, two = s.component("tea", brew), s.component("tea-two", brew)
    drink = s.drink("d", [s.add_step(c, {"regular": s.amount(10)}) for c in (one, two)])
    found = list(RULES["ALG01"].check(s.menu(drinks=[drink]), []))
    assert len(found) == 1
    assert found[0].severity is Severity.ERROR
    assert found[0].message == "'leaf' does not declare its allergens (tea <- brew <- leaf)"
    assert found[0].subject == ("leaf",)
    declared = s.component("tea", s.batch("brew", [s.part(s.ingredient("leaf"), 10)]))
    clean = s.drink("d", [s.add_step(declared, {"regular": s.amount(10)})])
    assert list(RULES["ALG01"].check(s.menu(drinks=[clean]), [])) == []


def test_bowl_finding_shows_the_air_in_its_sum() -> None:
    menu = linked(written("batches: {tea-brew: {bowl: 2 l, bowl_fill: 80 %, overrun: 100 %}}"))
    (found,) = trips(menu, "BAT06")
    # 1000 g / 0.998 and 100 g / 1.03 are 1099 ml, whipped twice that; 80 % of 2 l are 1600 ml.
    assert [(line.part, line.takes_up) for line in found.sums] == [
        ("unwhipped", "1099 ml"), ("air", "1099 ml"), ("total", "2198 ml"),
    ]  # fmt: skip
    assert "swells to 2198 ml and the bowl has room for 1600 ml: 2 loads" in found.message
    (flat,) = trips(linked(written(block("BAT06", "Trips it"))), "BAT06")
    assert "takes 1099 ml and the bowl has room for 800 ml: 2 loads" in flat.message


def test_a_part_by_the_litre_of_what_is_a_heap_is_named_too() -> None:
    # 500 ml of a heap of 0.65 g/ml weigh 325 g; without its gaps they would weigh 515 g.
    fragment = """
    batches:
      tea-brew: {parts: [{use: water, amount: 1 kg}, {use: milk, amount: 500 ml}]}
    toppings:
      curd: {from: milk, behaves: settled, density: 1.03 g/ml, bulk_density: 0.65 g/ml,
             tool: jug, station: bar}
    """
    text = written(textwrap.dedent(fragment))
    (found,) = trips(linked(text), "DEN05")
    assert "500 ml of 'milk' is figured as 515 g" in found.message
    assert "weighs 325 g" in found.message
    (fixed,) = applied(text, found)
    assert trips(linked(fixed), "DEN05") == []
    loose = text.replace("density: 1.03 g/ml\n", "density: 0.70 g/ml\n", 1)
    loose = loose.replace("bulk_density: 0.65", "bulk_density: 0.69")
    assert trips(linked(loose), "DEN05") == []  # the density written is the heap's own


@pytest.mark.parametrize(
    ("name", "honey"),
    [("Heather honey", True), ("Honeydew melon", False), ("Miel de brezo", True),
     ("Waldhonig", True), ("Honig", True), ("Honigmelone", False), ("Honigsirup", True)],
)  # fmt: skip
def test_honey_by_name(name: str, honey: bool) -> None:
    menu = s.menu(ingredients=[s.ingredient("x", name=name)])
    assert bool(list(RULES["CAU01"].check(menu, []))) is honey


def test_which_figures_of_nutrition_are_missing_is_said() -> None:
    (some,) = trips(linked(written(block("NUT01", "Trips it"))), "NUT01")
    assert some.message.startswith("nutrition of 'milk' is not complete: fat_g, saturates_g, ")
    (every,) = RULES["NUT01"].check(s.menu(ingredients=[s.ingredient("leaf")]), [])
    assert every.message == "nutrition of 'leaf' is not complete: all of it missing"


def test_a_strong_drink_named_tea_needs_no_statement() -> None:
    fragment = block("NUT02", "Trips it")
    named: Mapping[str, Any] = {"drinks": {"cloud": {"name": "Cloud tea"}}}
    assert trips(linked(written(fragment + yaml.safe_dump(named))), "NUT02") == []


@pytest.mark.parametrize(
    ("traces", "asked"), [("[nuts]", True), ("[nuts, hazelnuts]", False), ("[milk]", False)]
)
def test_a_kind_that_is_contained_names_no_trace(traces: str, asked: bool) -> None:
    menu = linked(written(f"ingredients: {{milk: {{contains: [almonds], may_contain: {traces}}}}}"))
    assert bool(trips(menu, "ALG05")) is asked


def test_england_counts_its_own_limits() -> None:
    fragment = "batches: {tea-brew: {keeps_for: 8 h, keeps_at: 8 °C}}"
    england = "\nshop: {shelf_rules: england}"
    assert len(trips(linked(written(fragment)), "KEEP04")) == 1
    assert trips(linked(written(fragment + england)), "KEEP04") == []


def test_every_rule_of_these_modules_is_entered() -> None:
    entered = {RULES[code].check.__module__ for code in mine()}
    assert entered == {module.__name__ for module in MODULES}
    assert len(mine()) == 41


def test_a_number_of_days_is_said_to_be_whose_it_is() -> None:
    # Food Safety and Hygiene (England) Regulations 2013, Schedule 4, name temperatures, no days.
    fragment = "batches: {tea-brew: {keeps_for: 9 days, keeps_at: 5 °C}}"
    (us,) = trips(linked(written(fragment)), "KEEP03")
    assert "the FDA Food Code allows 7" in us.message
    (england,) = trips(linked(written(fragment + "\nshop: {shelf_rules: england}")), "KEEP03")
    assert "the shop's limit is 7" in england.message
    assert "England names no days" in england.hint


def test_days_written_as_hours_are_held_to_the_same_limit() -> None:
    # FDA Food Code 2022, 3-501.17: 7 days at 5 °C are 168 h.
    fragment = "batches: {tea-brew: {keeps_for: 168 h, keeps_at: 5 °C}}"
    assert trips(linked(written(fragment)), "KEEP03") == []
    (found,) = trips(linked(written(fragment.replace("168", "169"))), "KEEP03")
    assert "'tea-brew' is said to keep 169 h; the FDA Food Code allows 7 days" in found.message


def test_what_has_no_sugar_is_not_held_to_a_sugar_solution() -> None:
    # Ethanol of 40 % by volume is 0.948 g/ml, of 96 % 0.807 g/ml (OIML R 22, from memory).
    fragment = "batches: {tea-brew: {parts: [{use: water, amount: 1 kg}], density: 0.85 g/ml}}"
    assert trips(linked(written(fragment)), "BAT08") == []


def test_four_hours_need_no_temperature() -> None:
    # FDA Food Code 2022, 3-501.19(B): time alone may be the control for 4 h.
    kept = "batches: {lemon-mix: {name: Mix, parts: [{use: water, amount: 1 kg}], keeps_for: %s}}"
    assert trips(linked(written(kept % "4 h")), "KEEP08") == []
    assert len(trips(linked(written(kept % "4.1 h")), "KEEP08")) == 1


def test_what_ends_first_is_found_two_batches_deep() -> None:
    # FDA Food Code 2022, 3-501.17: combined foods keep the earliest date.
    fragment = """
    ingredients:
      milk: {keeps_for: 2 days, keeps_at: 5 °C}
      water: {keeps_for: 3 days, keeps_at: 5 °C}
    batches:
      first: {name: First, parts: [{use: water, amount: 1 kg}, {use: milk, amount: 100 g}]}
      tea-brew:
        parts: [{use: first, amount: 1 kg}]
        keeps_for: 5 days
        keeps_at: 5 °C
    """
    (found,) = trips(linked(written(textwrap.dedent(fragment))), "KEEP05")
    assert found.message == "'tea-brew' is said to keep 5 days, but milk in it keeps 2 days"


def test_layers_that_run_together_tell_both_densities_and_what_would_keep_them() -> None:
    fragment = """
      bases: {tea: {density: 1.025 g/ml}}
      drinks:
        cloud:
          layered: yes
          build:
            - {add: plain-milk, amount: 200 ml, station: bar}
            - {add: tea, amount: 100 ml, station: bar}
    """
    (found,) = trips(linked(written(textwrap.dedent(fragment))), "LAY01")
    assert "tea (step 2, 1.025 g/ml) is only 0.005 g/ml lighter" in found.message
    assert "(1.030 g/ml)" in found.message
    assert "at least 1.035 g/ml under it" in found.hint
    assert "at most 1.020 g/ml for it" in found.hint
    assert "ice, or the back of a spoon, would break the fall" in found.hint


@pytest.mark.parametrize("late", ["{do: swirl}", "{do: chill}"])
def test_what_mixes_layers_is_told(late: str) -> None:
    fragment = f"""
      drinks:
        cloud:
          layered: yes
          build:
            - {{add: plain-milk, amount: 200 ml, station: bar}}
            - {{add: tea, amount: 100 ml, station: bar}}
            - {late}
    """
    (found,) = trips(linked(written(textwrap.dedent(fragment))), "LAY02")
    assert "(step 3) mixes them" in found.message
    assert found.hint == "write it before step 2 (tea), or leave layered: yes out"
    before = textwrap.dedent(fragment).replace(f"      - {late}\n", "")
    first = "      - {add: tea"
    assert trips(linked(written(before.replace(first, f"      - {late}\n{first}"))), "LAY02") == []


def test_what_goes_into_soda_is_told_with_both_steps() -> None:
    (found,) = trips(linked(written(block("GAS02", "Trips it"))), "GAS02")
    assert "plain-milk (step 2) goes into tea (step 1), which holds gas" in found.message
    assert found.hint == "write tea after step 2 (plain-milk)"


def test_one_liquid_makes_no_layers() -> None:
    fragment = """
      drinks:
        cloud:
          layered: yes
          build:
            - {add: plain-milk, amount: 200 ml, station: bar}
    """
    (found,) = trips(linked(written(textwrap.dedent(fragment))), "LAY02")
    assert "only one liquid" in found.message


def test_a_liquid_add_on_that_sinks_through_a_layer_is_told() -> None:
    fragment = """
      toppings:
        shot: {from: milk, behaves: liquid, density: 1.2 g/ml, tool: jug, station: bar}
      add_ons: {add-shot: {topping: shot, amount: 20 ml}}
      options: {add_ons: {at_most: 1, hold_back_at_most: 50 %}}
      drinks:
        cloud:
          layered: yes
          add_ons: [add-shot]
          build:
            - {add: plain-milk, amount: 100 ml, station: bar, makes_room: no}
            - {add: tea, amount: 100 ml, station: bar}
    """
    (found,) = trips(linked(written(textwrap.dedent(fragment))), "LAY01")
    assert "add-shot (step 2, 1.200 g/ml) is not lighter" in found.message
    assert "sinks through it" in found.message
