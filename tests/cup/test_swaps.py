"""Swaps: what goes in instead, how much of it, and what that does to allergens; worked by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from menu_samples import check_once

from buildsheets.cup.allergens import of_everything_sold
from buildsheets.cup.errors import FigureError
from buildsheets.cup.scan import choices, figure
from buildsheets.cup.serving import Choice, Serving, Used
from buildsheets.cup.swaps import swap_sets, swapped
from buildsheets.menu.model import Menu

MENU = Path(__file__).parents[1] / "wall" / "menus" / "swaps.yaml"


@pytest.fixture(scope="module")
def menu() -> Menu:
    checked = check_once(MENU)
    assert checked.menu is not None
    assert not checked.stopped
    return checked.menu


def made(menu: Menu, drink: str, cup: str, *swaps: str, ice: str = "regular") -> Serving:
    found = menu.drinks[drink]
    sweet = found.sweetness.default if found.sweetness else None
    return figure(found, menu.cups[cup], Choice(sweet, ice, (), swaps))


def used(serving: Serving, component: str) -> Used:
    return next(one for one in serving.used if one.component.id == component)


def test_as_many_ml_go_in_of_what_weighs_otherwise(menu: Menu) -> None:
    """70 ml of milk are 72.1 g at 1.03 g/ml, of coconut milk 67.9 g at 0.97."""
    milk = used(made(menu, "poured", "large"), "milk")
    coconut = used(made(menu, "poured", "large", "coconut"), "coconut")
    assert (milk.volume_ml, milk.mass_g) == pytest.approx((70.0, 72.1))
    assert (coconut.volume_ml, coconut.mass_g) == pytest.approx((70.0, 67.9))


def test_what_is_written_in_grams_stays_so_many_grams(menu: Menu) -> None:
    """200 g are 194.2 ml of milk and 206.2 ml of coconut milk; the drink stands 12 ml higher."""
    usual, coconut = made(menu, "weighed", "large"), made(menu, "weighed", "large", "coconut")
    assert used(usual, "milk").volume_ml == pytest.approx(200.0 / 1.03)
    assert used(coconut, "coconut").volume_ml == pytest.approx(200.0 / 0.97)
    assert coconut.final.liquid_ml - usual.final.liquid_ml == pytest.approx(
        200.0 / 0.97 - 200.0 / 1.03
    )


@pytest.mark.parametrize(
    ("cup", "counts", "volume_ml"), [("large", 5.0, 40.0), ("small", 3.5, 28.0)]
)
def test_counts_are_those_of_its_own_tool(
    menu: Menu, cup: str, counts: float, volume_ml: float
) -> None:
    """4 pumps of 10 ml are 5 of 8 ml; 3 are 3.75, halfway between 3.5 and 4, and the lower."""
    syrup = used(made(menu, "poured", cup, "light"), "light-syrup")
    assert (syrup.count, syrup.volume_ml) == pytest.approx((counts, volume_ml))


def test_a_line_stays_a_line(menu: Menu) -> None:
    usual, oat = made(menu, "foamed", "small"), made(menu, "foamed", "small", "oat")
    assert used(oat, "oat").to_line_ml == used(usual, "milk").to_line_ml == 250.0
    assert used(oat, "oat").volume_ml == pytest.approx(used(usual, "milk").volume_ml)  # as dense


def test_each_thing_is_replaced_once_and_two_at_most(menu: Menu) -> None:
    sets = [tuple(swap.id for swap in chosen) for chosen in swap_sets(menu.drinks["poured"])]
    assert sets == [
        (), ("oat",), ("coconut",), ("light",), ("oat", "light"), ("coconut", "light"),
    ]  # fmt: skip
    with pytest.raises(FigureError, match="not offered"):
        swapped(menu.drinks["poured"], ["oat", "coconut"])
    with pytest.raises(FigureError, match="not offered"):
        made(menu, "plain", "large", "oat")


def test_a_drink_lists_its_swaps_or_has_every_one_of_what_is_in_it(menu: Menu) -> None:
    offered = {id: [swap.id for swap in drink.swaps] for id, drink in menu.drinks.items()}
    assert offered == {
        "poured": ["oat", "coconut", "light"],
        "weighed": ["oat", "coconut"],
        "foamed": ["oat"],
        "plain": ["light"],
    }


def test_without_swaps_every_choice_is_as_it_was(menu: Menu) -> None:
    cup, drink = menu.cups["large"], menu.drinks["poured"]
    bare = replace(drink, swaps=())
    alone = list(choices(bare, cup))
    assert list(choices(drink, cup))[: len(alone)] == alone
    offered, without = figure(drink, cup).choices, figure(bare, cup).choices
    for choice in alone:
        assert [u.mass_g for u in offered[choice].used] == [u.mass_g for u in without[choice].used]


def test_more_that_goes_in_leaves_base_out_so_that_it_fits(menu: Menu) -> None:
    """No line on any card may stand over the fill limit, whatever the guest swaps."""
    for drink in menu.drinks.values():
        for cup in drink.cups:
            for one in figure(drink, cup).choices.made:
                assert one.final.top_ml <= one.working_ml + 1e-6


def test_an_allergen_that_another_part_brings_is_not_gone(menu: Menu) -> None:
    """The foam is a batch of milk: it stays what it is."""
    oat = menu.swaps["oat"]
    foamed = made(menu, "foamed", "small").swap_allergens(oat)
    assert foamed.gone == ()
    assert {one: [c.id for c in by] for one, by in foamed.still.items()} == {"milk": ["foam"]}
    poured = made(menu, "poured", "large").swap_allergens(oat)
    assert poured.gone == ("milk",)
    assert poured.still == {}
    assert {one: [a.id for a in by] for one, by in poured.again.items()} == {"milk": ["more-foam"]}
    assert set(poured.brings.contains) == {"oats"}
    assert set(poured.brings.may_contain) == {"soybeans"}


def test_what_may_contain_it_does_not_take_it_away(menu: Menu) -> None:
    """The coconut milk is packed where milk is: "may contain" takes nothing away."""
    found = made(menu, "poured", "large").swap_allergens(menu.swaps["coconut"])
    assert found.gone == ()
    assert set(found.brings.may_contain) == {"milk"}


def test_a_dusting_that_may_contain_it_is_told_where_the_milk_is_gone(menu: Menu) -> None:
    drink = menu.drinks["foamed"]
    bare = replace(drink, steps=tuple(s for s in drink.steps if getattr(
        getattr(s, "component", None), "id", "") != "foam"))  # fmt: skip
    found = figure(bare, menu.cups["small"]).swap_allergens(menu.swaps["oat"])
    assert found.gone == ("milk",)
    assert {one: [c.id for c in by] for one, by in found.perhaps_still.items()} == {
        "milk": ["dust"]
    }


def test_the_allergen_sheet_has_each_drink_as_it_is_made(menu: Menu) -> None:
    reports = {
        (one.id, *(swap.id for swap in getattr(one, "swapped", ()))): report
        for one, report in of_everything_sold(menu)
    }
    assert reports["foamed", "oat"].verdict("milk") == "contains"
    assert reports["poured", "oat"].verdict("milk") == "none-declared"
    assert reports["poured", "oat", "light"].verdict("sulphites") == "contains"
    assert reports["poured", "coconut"].verdict("milk") == "may-contain"
    assert reports["poured", "oat"].verdict("gluten") == "contains"  # oats are of the group
