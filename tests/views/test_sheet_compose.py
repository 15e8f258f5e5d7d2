"""The prep sheet and the owner's sheet say what is unknown instead of leaving it out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import prep_samples as s

from buildsheets.cli.prep_text import sheet_text
from buildsheets.menu.model import Drink, Menu
from buildsheets.menu.packaging import Packaging, PiecePack
from buildsheets.prep.cost import Costs, Prices
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
    return cost_sheet(menu, replace(Prices().of_all(menu, [], []), drinks=drinks), EN, **given)


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
    assert view.notes[0] == "Not planned, cannot be made in the usual order: latte (regular)."
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
        then=Costs([Prices().drink(serving(dear_drink, 200))]),
        what_if="If milk doubled",
    )
    assert rows(view, "Drinks") == [
        ("latte", "regular", "€0.20", "€4.00", "€3.80", "95%", "€0.40", "€0.20", "€3.60")
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


def test_the_sheet_says_which_tax_was_taken_off_and_what_was_not_counted() -> None:
    menu, drink = simple(pack=s.pack(1000, price="1.00"))
    bare = costs_of(menu, [Prices().drink(serving(drink, 200))])
    assert bare.tables[0].header == ("Drink", "Size", "Cost", "Price", "Margin", "of price")
    assert bare.notes[1:] == (
        "No packaging is counted, since the menu names none: regular.",
        "No tax was taken off the prices: the menu does not say its rate.",
    )
    taxed = replace(drink, tax_in_price=0.08875)
    # 4.00 / 1.08875 = 3.6739; 200 g at 1.00 a kilogram are 0.20, and 1 - 0.20 / 3.6739 = 94.6 %.
    view = costs_of(menu, [Prices().drink(serving(taxed, 200))])
    assert rows(view, "Drinks") == [("latte", "regular", "€0.20", "€4.00", "€3.67", "€3.47", "95%")]
    assert view.tables[0].header[-3:] == ("Net price", "Margin", "of net")
    assert view.notes[-1] == (
        "Net price: the price without its tax (8.875%). Margins are of the net price."
    )
    both = costs_of(menu, [Prices().drink(serving(one, 200)) for one in (drink, taxed)])
    assert both.notes[-1] == "No tax was taken off, since the menu does not say its rate: latte."
    on_top = replace(menu, shop=s.shop(prices="without tax"))
    free = replace(drink, tax_in_price=0.0)
    view = costs_of(on_top, [Prices().drink(serving(free, 200))])
    assert view.notes[-1] == "Prices are without tax; it comes on top of them."
    assert "Net price" not in view.tables[0].header


def test_packaging_has_a_column_and_a_table_by_size() -> None:
    cup = packaging("cup", "cup", 100, "8.00")
    napkin = packaging("napkin", "napkin", 1000, "20.00")
    size = s.cup(packaging=(cup, napkin, napkin), places=s.placed(packaging=""))
    menu, drink = simple(pack=s.pack(1000, price="1.00"))
    drink = replace(drink, cups=(size,))
    menu = replace(menu, cups={size.id: size}, packaging={"cup": cup, "napkin": napkin})
    view = costs_of(menu, [Prices().drink(serving(drink, 200))])
    # 0.20 of milk, 0.08 and 2 x 0.02 of packaging; 1 - 0.32 / 4.00 = 92 %.
    assert rows(view, "Drinks") == [("latte", "regular", "€0.32", "€0.12", "€4.00", "€3.68", "92%")]
    assert rows(view, "Packaging") == [("regular", "cup, 2 × napkin", "€0.12")]
    assert not any("No packaging" in note for note in view.notes)


def packaging(id: str, kind: Any, pieces: int, price: str) -> Packaging:
    pack = PiecePack(span=s.SPAN, pieces=float(pieces), price=Decimal(price))
    return Packaging(span=s.SPAN, id=id, name=s.text(id), kind=kind, pack=pack)
