"""Allergens through batches, add-ons and choices: paths, both kinds of statement, the undeclared.

The two lists checked against are Annex II of Regulation (EU) 1169/2011 (14 entries) and the nine
major allergens of US law (21 USC 321(qq) with sesame since 1 January 2023).
"""

from __future__ import annotations

from typing import Any

import prep_samples as s
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.cli import prep_results  # noqa: F401 - the keys that a report is told by
from buildsheets.cli.plain_data import told
from buildsheets.cup import allergens as al
from buildsheets.menu.model import Batch, Declared, Ingredient

ANNEX_II = s.EU14
MAJOR_9 = ("milk", "eggs", "fish", "crustaceans", "nuts", "peanuts", "wheat", "soybeans", "sesame")


def cream_cap_drink() -> Any:
    condensed = s.ingredient("condensed-milk", contains=["milk"], may_contain=["soybeans"])
    cream = s.ingredient("cream", contains=["milk"])
    cap = s.batch(
        "cream-cap", [s.part(cream, 300), s.part(condensed, 100)], cross_contact=("nuts", "milk")
    )
    tea = s.component("black-tea", s.ingredient("tea-leaf"))
    top = s.component("cap", cap, name="cream cap", behaves="floated", role="topping")
    return s.drink(
        "capped-tea",
        [s.add_step(tea, {"regular": s.amount(200)}), s.add_step(top, {"regular": s.amount(40)})],
    )


def test_path_names_every_entry_between_drink_and_declaration() -> None:
    report = al.allergen_report(cream_cap_drink())
    paths = {trace.words("en") for trace in report.contains["milk"]}
    assert paths == {"cream cap <- cream", "cream cap <- condensed milk"}
    assert [t.path[-1].id for t in report.contains["milk"]] == ["cream", "condensed-milk"]


def test_contains_and_may_contain_stay_apart() -> None:
    report = al.allergen_report(cream_cap_drink())
    assert set(report.contains) == {"milk"}
    assert set(report.may_contain) == {"soybeans", "nuts"}
    assert report.may_contain["soybeans"][0].because == "may-contain"
    assert report.may_contain["nuts"][0].because == "cross-contact"
    assert report.verdict("milk") == "contains"
    assert report.verdict("nuts") == "may-contain"
    assert report.verdict("lupin") == "none-declared"


def test_undeclared_is_never_read_as_none() -> None:
    syrup = s.ingredient("syrup", contains=None)
    batch = s.batch("sauce", [s.part(syrup, 100)])
    report = al.allergen_report(batch)
    assert report.contains == {}
    assert [entry.id for entry in report.undeclared[0]] == ["sauce", "syrup"]
    assert all(report.verdict(a) == "undeclared" for a in ANNEX_II)


def test_an_explicit_empty_list_counts_as_declared() -> None:
    report = al.allergen_report(s.ingredient("sugar", contains=[]))
    assert report.undeclared == ()
    assert all(report.verdict(a) == "none-declared" for a in ANNEX_II)


def test_shop_water_ice_needs_no_declaration_but_other_sourceless_components_do() -> None:
    ice = s.component("ice", None, role="ice", behaves="ice", packing=0.55)
    assert al.allergen_report(ice).undeclared == ()
    milk_ice = s.component("milk-ice", None, role="ice", declared=Declared(("milk",), (), s.SPAN))
    assert set(al.allergen_report(milk_ice).contains) == {"milk"}
    foam = s.component("foam", None, role="topping", behaves="floated")
    assert [e.id for e in al.allergen_report(foam).undeclared[0]] == ["foam"]


def test_own_declaration_of_a_component_adds_to_its_source() -> None:
    base = s.component(
        "oat-tea",
        s.ingredient("tea"),
        declared=Declared(None, ("gluten",), s.SPAN),
    )
    report = al.allergen_report(base)
    assert report.undeclared == ()
    assert set(report.may_contain) == {"gluten"}


def test_add_on_brings_its_allergens_under_its_own_name() -> None:
    pudding = s.component("pudding", s.ingredient("egg-mix", contains=["eggs"]))
    report = al.allergen_report(s.add_on("egg-pudding", pudding, 50))
    assert report.contains["eggs"][0].words("en") == "pudding <- egg mix"
    assert report.contains["eggs"][0].path[0].id == "egg-pudding"


def test_cup_limits_the_steps_counted() -> None:
    syrup = s.component("syrup", s.ingredient("syrup", contains=["sulphites"]))
    drink = s.drink("punch", [s.add_step(syrup, {"large": s.amount(30)})])
    assert al.allergen_report(drink, cup="regular").contains == {}
    assert set(al.allergen_report(drink, cup="large").contains) == {"sulphites"}


def test_order_of_the_lists() -> None:
    assert s.shop().in_order(["sesame", "milk", "gluten"]) == ("gluten", "milk", "sesame")
    nine = s.shop(allergen_list="us9", allergens={a: s.text(a) for a in MAJOR_9})
    assert nine.in_order(["sesame", "milk", "nuts"]) == ("milk", "nuts", "sesame")
    assert len(ANNEX_II) == 14
    assert len(MAJOR_9) == 9


def test_json_carries_paths_and_reasons() -> None:
    data = told(al.allergen_report(cream_cap_drink()))
    through = ["capped-tea", "cap", "cream-cap"]  # drink, component, batch
    assert data["contains"] == {
        "milk": [
            {"path": [*through, "cream"], "because": "contains"},
            {"path": [*through, "condensed-milk"], "because": "contains"},
        ]
    }
    assert data["undeclared"] == []


allergen_sets = st.lists(st.sampled_from(ANNEX_II), max_size=3, unique=True)


@st.composite
def ingredients(draw: st.DrawFn) -> Ingredient:
    number = draw(st.integers(0, 30))
    contains = draw(st.none() | allergen_sets)
    return s.ingredient(f"item-{number}", contains=contains, may_contain=draw(allergen_sets))


@st.composite
def nested(draw: st.DrawFn, depth: int = 3) -> Batch:
    items: list[Any] = draw(st.lists(ingredients(), min_size=1, max_size=3))
    if depth and draw(st.booleans()):
        items.append(draw(nested(depth=depth - 1)))
    return s.batch(
        f"batch-{depth}", [s.part(i, 10) for i in items], cross_contact=draw(allergen_sets)
    )


def declared_below(item: Ingredient | Batch) -> tuple[set[str], set[str], int]:
    if isinstance(item, Ingredient):
        declared = item.declared
        return (
            set(declared.contains or ()),
            set(declared.may_contain),
            int(declared.contains is None),
        )
    below = [declared_below(part.item) for part in item.parts]
    return (
        set().union(*(b[0] for b in below)),
        set(item.cross_contact).union(*(b[1] for b in below)),
        sum(b[2] for b in below),
    )


@settings(max_examples=40)
@given(nested())
def test_nothing_declared_anywhere_is_lost_or_invented(batch: Batch) -> None:
    contains, may, undeclared = declared_below(batch)
    report = al.allergen_report(batch)
    assert set(report.contains) == contains
    assert set(report.may_contain) == may - contains
    assert bool(report.undeclared) == (undeclared > 0)
