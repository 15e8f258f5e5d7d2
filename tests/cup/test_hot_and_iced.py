"""A drink sold hot in one cup and iced in others: one entry, two builds; figures worked by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from menu_samples import check_once, check_texts

from buildsheets.cli.order import Misread, in_cup, read_order
from buildsheets.cup.allergens import of_everything_sold
from buildsheets.cup.scan import Scan, choices, figure
from buildsheets.menu.model import Drink, Menu

MENU = Path(__file__).parents[1] / "wall" / "menus" / "hot-and-iced.yaml"


@pytest.fixture(scope="module")
def menu() -> Menu:
    checked = check_once(MENU)
    assert checked.menu is not None
    assert not checked.stopped
    return checked.menu


def ml(menu: Menu, drink: str, cup: str) -> dict[str, float]:
    used = figure(menu.drinks[drink], menu.cups[cup]).used
    return {one.component.id: one.volume_ml for one in used}


def test_each_cup_has_the_steps_it_shares_and_its_own(menu: Menu) -> None:
    """Hot: 3 pumps of 10 ml and 50 ml of milk, so 220 ml of tea up to the line of 300. Iced: a
    scoop of 60 g of ice, and cold tea."""
    assert ml(menu, "harbour", "mug") == pytest.approx({"syrup": 30, "milk": 50, "hot-tea": 220})
    iced = ml(menu, "harbour", "small")
    assert list(iced) == ["syrup", "cubes", "milk", "tea"]
    assert (iced["syrup"], iced["milk"]) == pytest.approx((30, 50))


def test_a_hot_cup_has_no_ice_to_choose_and_the_rest_in_common(menu: Menu) -> None:
    drink = menu.drinks["harbour"]
    hot, iced = (drink.in_cup(menu.cups[cup]) for cup in ("mug", "small"))
    assert [(one.served, [cup.id for cup in one.cups]) for one in drink.builds] == [
        ("hot", ["mug"]),
        ("iced", ["small", "large"]),
    ]
    assert hot.ice is None
    assert iced.ice is not None
    assert hot.sweetness == iced.sweetness is not None
    assert {choice.ice for choice in choices(drink, menu.cups["mug"])} == {None}
    assert {choice.ice for choice in choices(drink, menu.cups["small"])} == {"none", "regular"}


@pytest.mark.parametrize(("cup", "base"), [("mug", "hot-tea"), ("small", "tea")])
def test_each_build_has_a_base_of_its_own_that_makes_room(menu: Menu, cup: str, base: str) -> None:
    body = figure(menu.drinks["cocoa"], menu.cups[cup]).body
    assert body.used is not None
    assert body.used.component.id == base


def test_the_allergen_sheet_has_two_rows_where_the_builds_differ(menu: Menu) -> None:
    """Only the iced cocoa is dusted with what may contain milk: with oat drink, it alone may."""
    rows = [
        (one.id, one.served, [swap.id for swap in one.swapped], report.verdict("milk"))
        for one, report in of_everything_sold(menu)
        if isinstance(one, Drink) and one.id in ("cocoa", "harbour")
    ]
    assert [row for row in rows if row[0] == "cocoa"] == [
        ("cocoa", "hot", [], "contains"),
        ("cocoa", "hot", ["oat"], "none-declared"),
        ("cocoa", "iced", [], "contains"),
        ("cocoa", "iced", ["oat"], "may-contain"),
    ]
    assert {row[1] for row in rows if row[0] == "harbour"} == {""}


def test_swaps_of_a_day_go_to_the_cups_that_have_them(menu: Menu) -> None:
    """Of 12 hot and 8 iced cocoas 4 are with oat drink: 4 x 12 / 20 = 2 hot, and the rest."""
    lines = [one for one in menu.days["saturday"].lines if one.drink.id == "cocoa"]
    assert [(one.cup.id, [n for _, n in one.swaps]) for one in lines] == [
        ("mug", [2]),
        ("small", [2]),
    ]
    harbour = [one for one in menu.days["saturday"].lines if one.drink.id == "harbour"]
    foam = [{a.id: n for a, n in one.add_ons}.get("more-foam") for one in harbour]
    assert foam == [None, Fraction(9), Fraction(3)]  # 12 over 30 small and 10 large; none hot


def test_an_order_without_a_size_is_of_the_cups_that_offer_it(menu: Menu) -> None:
    order = read_order(menu, "hafentee ohne eis")
    offered = {cup.id: in_cup(order.drink, cup, order.choice) for cup in order.drink.cups}
    assert offered["mug"] is None
    assert offered["small"] is not None
    plain = read_order(menu, "hafentee")
    choice = in_cup(plain.drink, menu.cups["mug"], plain.choice)
    assert choice == Scan(plain.drink, menu.cups["mug"]).default
    with pytest.raises(Misread, match="harbour in mug is not offered with a choice of ice"):
        read_order(menu, "hafentee becher ohne eis")


def test_ice_that_the_hot_build_shares_is_told_of() -> None:
    text = MENU.read_text("utf-8")
    shared = check_texts(text.replace("amount: 1 scoop, only: iced}", "amount: 1 scoop}"))
    told = [one for one in shared.findings if one.code == "ORD04"]
    assert [one.subject for one in told] == [("cocoa",)]
    assert "goes into the hot build too (in mug)" in told[0].message
    assert "ORD04" not in {one.code for one in check_texts(text).findings}
