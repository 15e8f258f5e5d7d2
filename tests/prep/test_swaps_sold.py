"""Swaps in costs, plans and caffeine, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import menu_samples as m
import pytest
from menu_samples import check_once

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.cost import Prices
from buildsheets.prep.dayplan import component_needs
from buildsheets.prep.nutrition import facts_of, strongest

MENU = Path(__file__).parents[1] / "wall" / "menus" / "swaps.yaml"


@pytest.fixture(scope="module")
def sold() -> tuple[Menu, dict[tuple[str, str], Serving]]:
    checked = check_once(MENU)
    assert checked.menu is not None
    return checked.menu, {(one.drink.id, one.cup.id): one for one in checked.servings}


# Prices a litre: tea 0.50, milk 1.10, oat drink 1.90, coconut milk 3.00, syrup 2.00, light 4.00.
# The tea that a line pours is read from the serving; all else is worked out here.
BY_HAND = [
    # drink, cup, swap, ml of syrup or milk that stay, ml of the swap and its price, charge
    ("poured", "small", "", ((30, "2.00"), (50, "1.10")), "3.90"),
    ("poured", "small", "oat", ((30, "2.00"), (50, "1.90")), "4.30"),
    ("poured", "large", "coconut", ((40, "2.00"), (70, "3.00")), "5.50"),
    ("weighed", "large", "", (("194.1747573", "1.10"),), "5.20"),
    ("weighed", "large", "coconut", (("206.1855670", "3.00"),), "5.80"),
    ("plain", "large", "", ((40, "2.00"),), "3.00"),
    ("plain", "large", "light", ((40, "4.00"),), "3.00"),
]


@pytest.mark.parametrize(("drink", "cup", "swap", "parts", "price"), BY_HAND)
def test_margins_of_three_drinks_with_their_swaps(
    sold: tuple[Menu, dict[tuple[str, str], Serving]],
    drink: str, cup: str, swap: str, parts: tuple[tuple[object, str], ...], price: str,
) -> None:  # fmt: skip
    menu, servings = sold
    serving = servings[drink, cup]
    if swap:
        serving = serving.with_swap(menu.swaps[swap])
    tea_ml = next(used.volume_ml for used in serving.used if used.component.id == "tea")
    by_hand = Decimal(str(tea_ml)) * Decimal("0.50") / 1000
    by_hand += sum(Decimal(str(ml)) * Decimal(litre) / 1000 for ml, litre in parts)
    found = Prices().drink(serving)
    assert found.cost.exact == pytest.approx(float(by_hand), abs=1e-6)
    assert found.price == Decimal(price)
    assert found.margin == Decimal(price) - by_hand.quantize(Decimal("0.01"))


def test_a_swap_costs_more_by_the_dearest_drink(
    sold: tuple[Menu, dict[tuple[str, str], Serving]],
) -> None:
    """Coconut in large: 70 ml for milk are 0.21 for 0.077, in the weighed drink 0.6186 for 0.2136:
    0.27 becomes 0.68, 0.41 more of the 0.60 that is charged."""
    _, servings = sold
    rows = {(one.swap.id, one.cup.id): one for one in Prices().swaps(servings.values())}
    coconut = rows["coconut", "large"]
    assert (coconut.cost, coconut.price, coconut.margin) == tuple(
        map(Decimal, ("0.41", "0.60", "0.19"))
    )
    assert {swap for swap, _ in rows} == {"oat", "coconut", "light"}


def test_a_swap_without_a_price_leaves_the_drink_without_one() -> None:
    text = MENU.read_text("utf-8").replace("with: oat, price: 0.40}", "with: oat}")
    menu = m.check_texts(text)
    serving = next(one for one in menu.servings if one.drink.id == "foamed")
    (oat,) = serving.choices.swapped
    found = Prices().drink(oat)
    assert (found.price, found.price_missing) == (None, ("oat",))


STRONG_FOR_MILK = (
    "drinks:\n  cloud:",
    "swaps:\n  strong-one: {of: plain-milk, with: strong}\ndrinks:\n  cloud:",
)


def test_a_day_takes_what_its_swaps_take() -> None:
    """Of 5 and 3 clouds 4 are with tea for milk, 2 in the one cup and 2 in the other: the smaller
    share first, rounded down; 8 servings of 100 ml of milk less 4."""
    files = m.edited(
        {"menu.yaml": m.SMALL},
        STRONG_FOR_MILK,
        ("add_ons: {add-pearls: 2}}", "add_ons: {add-pearls: 2}, swaps: {strong-one: 4}}"),
    )  # fmt: skip
    checked = m.check_texts(files)
    assert checked.menu is not None, m.said(checked.findings)
    day = checked.menu.days["busy"]
    assert [(line.cup.id, [count for _, count in line.swaps]) for line in day.lines] == [
        ("medium", [2]), ("tall", [2]), ("medium", []),
    ]  # fmt: skip
    servings = {(s.drink.id, s.cup.id): s for s in checked.servings}
    needs = {need.component.id: need for need in component_needs(day, servings)[0]}
    assert needs["plain-milk"].volume_ml == pytest.approx(4 * 100.0)
    assert needs["plain-milk"].servings == 4
    assert needs["strong"].volume_ml == pytest.approx(4 * 100.0 + 4 * 200.0)


def test_what_every_guest_swaps_is_not_needed() -> None:
    files = m.edited(
        {"menu.yaml": m.SMALL},
        STRONG_FOR_MILK,
        ("add_ons: {add-pearls: 2}}", "add_ons: {add-pearls: 2}, swaps: {strong-one: 8}}"),
    )  # fmt: skip
    checked = m.check_texts(files)
    assert checked.menu is not None
    servings = {(s.drink.id, s.cup.id): s for s in checked.servings}
    needs, _ = component_needs(checked.menu.days["busy"], servings)
    assert "plain-milk" not in {need.component.id for need in needs}


COFFEE = (
    ("  cane:\n    name: Syrup\n", "  shot:\n    name: Shot\n    contains: []\n"
     "    nutrition: {per: 100 g, energy_kcal: 0, fat_g: 0, saturates_g: 0, carbohydrate_g: 0,\n"
     "      sugars_g: 0, protein_g: 0, salt_g: 0, caffeine_mg: 200}\n"
     "    density: 1 g/ml\n    density_source: weighed here\n    cautions: [caffeine]\n"
     "  cane:\n    name: Syrup\n"),
    ("bases:\n", "bases:\n  shots: {from: shot, tool: jug, station: bar}\n"),
    ("drinks:\n  cloud:\n    name: Cloud\n",
     "swaps:\n  coffee: {of: plain-milk, with: shots, price: 1.00}\n"
     "drinks:\n  cloud:\n    name: Cloud\n    for_children: yes\n"),
)  # fmt: skip


def test_caffeine_that_only_a_swap_brings_is_of_the_strongest_choice_and_not_for_children() -> None:
    """100 ml of 200 mg in 100 g, at 1 g/ml."""
    checked = m.check_texts(m.edited({"menu.yaml": m.SMALL}, *COFFEE))
    cloud = next(one for one in checked.servings if one.drink.id == "cloud")
    assert facts_of(cloud)["caffeine_mg"].value == pytest.approx(0.0)
    assert strongest(cloud)["caffeine_mg"].value == pytest.approx(200.0)
    found = [one.message for one in checked.findings if one.code == "CHD01"]
    assert any("caffeine" in one and "coffee" in one for one in found), m.said(checked.findings)


def test_a_rule_finds_in_a_swap_what_it_finds_in_a_drink_and_names_it_once() -> None:
    """Soda for the milk that is shaken bursts the shaker open, in a drink that is sound as
    written."""
    text = m.swapped(
        m.SMALL, "bases:\n", "bases:\n  soda: {from: water, tool: jug, station: bar, fizzy: yes}\n"
    )
    text = m.swapped(
        text, "drinks:\n", "swaps:\n  fizz: {of: strong, with: soda, price: 0}\ndrinks:\n"
    )
    found = [one for one in m.check_texts(text).findings if one.code == "GAS01"]
    assert [one.subject for one in found] == [("shaken", "medium")]
    assert "'soda' holds gas" in found[0].message
    alone = m.swapped(text, "of: strong, with: soda", "of: plain-milk, with: soda")
    assert "GAS01" not in {one.code for one in m.check_texts(alone).findings}


def test_an_amount_that_its_tool_cannot_measure_is_found() -> None:
    """30 ml are half a pump of 60 ml; 40 ml lie between half a pump and a whole one."""
    text = MENU.read_text("utf-8").replace("holds: 8 ml", "holds: 60 ml")
    found = [one for one in m.check_texts(text).findings if one.code == "FIT05"]
    assert {one.subject for one in found} == {("poured", "large"), ("plain", "large")}
    assert all("with light" in one.message and not one.fixes for one in found)


def test_the_choice_of_a_serving_with_a_swap_is_the_one_asked_for(
    sold: tuple[Menu, dict[tuple[str, str], Serving]],
) -> None:
    menu, servings = sold
    one = servings["poured", "large"].with_swap(menu.swaps["oat"])
    assert one.choice == replace(servings["poured", "large"].choice, swaps=("oat",))
    assert [swap.id for swap in one.drink.swapped] == ["oat"]
    assert one.choices is servings["poured", "large"].choices
