"""The prep sheet and the owner's sheet say what is unknown instead of leaving it out."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import prep_samples as s

from buildsheets.cli.prep_text import sheet_text
from buildsheets.menu.model import Drink, Menu
from buildsheets.prep.cost import Prices
from buildsheets.prep.dayplan import plan_day
from buildsheets.print.layouts import Layouts
from buildsheets.views.sheets import cost_sheet, prep_sheet

EN = Layouts(None).words("en")


def serving(drink: Drink, grams: float) -> Any:
    used = [
        SimpleNamespace(component=step.component, mass_g=grams, volume_ml=grams)  # type: ignore[union-attr]
        for step in drink.steps
    ]
    choice = SimpleNamespace(add_ons=(), sweetness=None, ice=None)
    return SimpleNamespace(drink=drink, cup=drink.cups[0], used=tuple(used), choice=choice)


def simple(**pack: Any) -> tuple[Menu, Drink]:
    milk = s.ingredient("milk", **pack)
    drink = s.drink(
        "latte",
        [s.add_step(s.component("milk", milk), {"regular": s.amount(200)})],
        price={"regular": Decimal("4.00")},
    )
    return s.menu(drinks=[drink]), drink


def rows(view: Any, title: str) -> list[tuple[str, ...]]:
    return [row for table in view.tables if table.title == title for row in table.rows]


def costs_of(menu: Menu, drinks: Any, **given: Any) -> Any:
    prices = Prices()
    every = (prices.add_ons(menu), prices.batches(menu), prices.sizes(menu))
    return cost_sheet(menu, drinks, *every, EN, **given)


def test_no_pack_and_no_price_are_said() -> None:
    menu, drink = simple()
    day = s.day([s.sold(drink, 10)])
    view = prep_sheet(menu, plan_day(menu, day, {("latte", "regular"): serving(drink, 200)}), EN)
    assert rows(view, "To take from stock or buy") == [("milk", "2000 g", "no pack given", "", "")]
    menu, drink = simple(pack=s.pack(1500))
    view = prep_sheet(menu, plan_day(menu, day, {("latte", "regular"): serving(drink, 200)}), EN)
    assert rows(view, "To take from stock or buy") == [
        ("milk", "2000 g", "2 × 1500 g", "1000 g", "no price")
    ]


def test_drinks_that_cannot_be_planned_are_named_first() -> None:
    menu, drink = simple()
    view = prep_sheet(menu, plan_day(menu, s.day([s.sold(drink, 10)]), {}), EN)
    assert view.notes[0] == "Not planned, cannot be made as written: latte (regular)."
    assert view.subtitle == "Open 10:00 to 22:00, 10 drinks expected"
    assert view.tables == ()


def test_a_batch_of_unknown_yield_is_named() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None)
    brew = s.batch("brew", [s.part(leaf, 50)], measured_yield_ml=900.0, name="Brew")
    outer = s.batch("outer", [s.part(brew, 100)])
    drink = s.drink("d", [s.add_step(s.component("c", outer), {"regular": s.amount(10)})])
    menu = s.menu(drinks=[drink])
    plan = plan_day(menu, s.day([s.sold(drink, 1)]), {("d", "regular"): serving(drink, 10)})
    assert prep_sheet(menu, plan, EN).notes[0] == "Not planned, yield unknown: Brew."


def test_unknown_cost_is_not_computed_and_never_zero() -> None:
    menu, drink = simple(pack=s.pack(1000))
    view = costs_of(menu, [Prices().drink(serving(drink, 200))])
    assert rows(view, "Drinks") == [
        ("latte", "regular", "not computed", "€4.00", "not computed", "")
    ]


def test_cost_sheet_with_what_if_shows_the_difference() -> None:
    menu, drink = simple(pack=s.pack(1000, price="1.00"))
    dearer, dear_drink = simple(pack=s.pack(1000, price="2.00"))
    view = costs_of(
        menu,
        [Prices().drink(serving(drink, 200))],
        after=[Prices().drink(serving(dear_drink, 200))],
        what_if="If milk doubled",
    )
    assert rows(view, "Drinks") == [
        ("latte", "regular", "€0.20", "€4.00", "€3.80", "95%", "€0.40", "€0.20")
    ]
    assert "If milk doubled" in sheet_text(view)
    assert dearer.ingredients["milk"].pack != menu.ingredients["milk"].pack


def test_batches_show_what_whole_packs_leave() -> None:
    cream = s.ingredient("cream", pack=s.pack(300, price="3.00"))
    cap = s.batch("cap", [s.part(cream, 500)], name="Cap")
    view = costs_of(s.menu(batches=[cap]), [])
    assert rows(view, "Batches, full") == [("Cap", "500 ml · 500 g", "€5.00", "€1.00")]


def test_plain_text_lines_up_wide_letters() -> None:
    menu, drink = simple(pack=s.pack(1000, price="1.00"), name="牛奶")
    plan = plan_day(menu, s.day([s.sold(drink, 1)]), {("latte", "regular"): serving(drink, 10)})
    lines = sheet_text(prep_sheet(menu, plan, EN)).splitlines()
    header = next(line for line in lines if line.startswith("Ingredient"))
    row = next(line for line in lines if line.startswith("牛奶"))
    assert header.index("Needed") + len("Needed") == row.index("10 g") + len("10 g") + 2
