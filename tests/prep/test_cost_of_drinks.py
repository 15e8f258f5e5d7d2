"""Costs: exact arithmetic worked by hand, waste, margins and what-if."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.prep import cost as c


def serving(
    drink: Any, cup: Any, used: list[tuple[Any, float]], add_ons: tuple[str, ...] = ()
) -> Any:
    """Only what costing reads of a serving: drink, cup, choice and what was used."""
    return SimpleNamespace(
        drink=drink,
        cup=cup,
        choice=SimpleNamespace(add_ons=add_ons),
        used=tuple(
            SimpleNamespace(component=what, mass_g=grams, volume_ml=grams) for what, grams in used
        ),
    )


def test_one_third_of_a_pack_is_rounded_once() -> None:
    tea = s.ingredient("tea", pack=s.pack(3, price="1.00"))
    one = c.Prices().item(tea, 1.0)
    assert one.exact == Fraction(1, 3)
    assert one.rounded == Decimal("0.33")
    assert (one + one + one).rounded == Decimal("1.00")  # not three times 0.33


@pytest.mark.parametrize(("pack_g", "cost"), [(200, "0.01"), (201, "0.00")])
def test_half_a_cent_goes_up(pack_g: int, cost: str) -> None:
    item = s.ingredient("x", pack=s.pack(pack_g, price="1.00"))
    assert c.Prices().item(item, 1.0).rounded == Decimal(cost)


def test_trimmings_raise_the_cost() -> None:
    mango = s.ingredient("mango", pack=s.pack(1000, price="7.00", usable=0.7))
    assert c.Prices().item(mango, 100.0).exact == Fraction(1)


def test_packs_in_ml_go_by_volume() -> None:
    cream = s.ingredient("cream", density_g_ml=1.006, pack=s.pack(1000, "ml", "4.00"))
    assert c.Prices().item(cream, 503.0).exact == Fraction(2)
    assert c.Prices().item(cream, 503.0, 250.0).exact == Fraction(1)
    bare = s.ingredient("cream", density_g_ml=None, pack=s.pack(1000, "ml", "4.00"))
    assert c.Prices().item(bare, 503.0) == c.Cost(None, ("cream",))


def test_bowl_loss_is_paid_by_what_is_served() -> None:
    cream = s.ingredient("cream", pack=s.pack(1000, price="5.00"))
    cap = s.batch("cap", [s.part(cream, 1000)], loss_share=0.2)
    assert c.Prices().item(cap, 40.0).exact == Fraction(5, 20)
    assert c.Prices().full_batch(cap).exact == Fraction(5)


def test_nested_cost_adds_up() -> None:
    sugar = s.ingredient("sugar", pack=s.pack(1000, price="1.20"))
    water = s.ingredient("water", pack=s.pack(1000, price="0"))
    syrup = s.batch("syrup", [s.part(sugar, 600), s.part(water, 400)])
    sauce = s.batch("sauce", [s.part(syrup, 500), s.part(water, 500)])
    assert c.Prices().item(sauce, 1000.0).exact == Fraction("0.36")


def test_a_missing_price_is_named_and_never_free() -> None:
    sugar = s.ingredient("sugar", pack=s.pack(1000))
    milk = s.ingredient("milk", pack=s.pack(1000, price="1.00"))
    sauce = s.batch("sauce", [s.part(sugar, 1), s.part(milk, 1), s.part(s.ingredient("salt"), 1)])
    assert c.Prices().item(sauce, 1.0) == c.Cost(None, ("sugar", "salt"))
    assert c.Prices().item(sugar, 0.0) == c.FREE
    ice = s.component("ice", None, role="ice")
    assert c.Prices().component(ice, 200.0) == c.FREE


def test_drink_cost_price_and_margin() -> None:
    milk = s.component("milk", s.ingredient("milk", pack=s.pack(1000, price="1.10")))
    pearls = s.component("pearls", s.ingredient("pearls", pack=s.pack(1000, price="4.00")))
    extra = s.add_on("pearls", pearls, 50, price="0.60")
    drink = s.drink("tea", [], price={"regular": Decimal("4.50")}, add_ons=(extra,))
    plain = c.Prices().drink(serving(drink, drink.cups[0], [(milk, 200.0)]))
    assert (plain.cost.rounded, plain.price, plain.margin) == (
        Decimal("0.22"),
        Decimal("4.50"),
        Decimal("4.28"),
    )
    assert plain.margin_share == 1 - Fraction("0.22") / Fraction("4.50")
    none_of_it = (s.component("syrup", None), 0.0)
    unsweetened = c.Prices().drink(serving(drink, drink.cups[0], [(milk, 200.0), none_of_it]))
    assert unsweetened.parts == plain.parts
    both = c.Prices().drink(
        serving(drink, drink.cups[0], [(milk, 200.0), (pearls, 50.0)], ("pearls",))
    )
    assert (both.cost.rounded, both.price, both.margin) == (
        Decimal("0.42"),
        Decimal("5.10"),
        Decimal("4.68"),
    )
    assert [p.component.id for p in both.parts] == ["milk", "pearls"]


def test_sold_at_a_loss_has_a_margin_below_zero() -> None:
    gold = s.component("gold", s.ingredient("gold", pack=s.pack(10, price="100.00")))
    drink = s.drink("d", [], price={"regular": Decimal("5.00")})
    assert c.Prices().drink(serving(drink, drink.cups[0], [(gold, 1.0)])).margin == Decimal("-5.00")


def test_missing_prices_of_drink_or_add_on_are_named() -> None:
    milk = s.component("milk", s.ingredient("milk", pack=s.pack(1000, price="1.10")))
    extra = s.add_on("shot", milk, 10)
    drink = s.drink("d", [], add_ons=(extra,))
    costed = c.Prices().drink(serving(drink, drink.cups[0], [(milk, 10.0)], ("shot",)))
    assert costed.price is None
    assert costed.price_missing == ("d", "shot")
    assert costed.margin is None
    assert costed.margin_share is None


def test_whole_packs_and_what_they_leave() -> None:
    cream = s.ingredient("cream", pack=s.pack(300, price="3.00"))
    cap = s.batch("cap", [s.part(cream, 500)])
    (whole,) = c.Prices().batches(s.menu(batches=[cap]))
    assert (whole.cost.rounded, whole.left_in_packs) == (Decimal("5.00"), Decimal("1.00"))
    (unpacked,) = c.Prices().batches(s.menu(batches=[s.batch("x", [s.part(s.ingredient("y"), 1)])]))
    assert unpacked.left_in_packs is None


def test_what_if_one_price_changes_everything_that_uses_it() -> None:
    sugar = s.ingredient("sugar", pack=s.pack(1000, price="1.00"))
    milk = s.ingredient("milk", pack=s.pack(1000, price="1.00"))
    syrup = s.batch("syrup", [s.part(sugar, 500), s.part(milk, 500)], lead=sugar)
    sauce = s.batch("sauce", [s.part(syrup, 100)])
    part = s.component("sauce", sauce)
    drink = s.drink("d", [s.add_step(part, {"regular": s.amount(100)})])
    menu = s.menu(drinks=[drink])
    dearer = {"sugar": Decimal("3.00")}
    before = c.Prices().component(menu.components["sauce"], 100.0)
    after = c.Prices(dearer).component(menu.components["sauce"], 100.0)
    assert (before.exact, after.exact) == (Fraction("0.1"), Fraction("0.2"))
    assert c.Prices(dearer).item(menu.batches["syrup"], 1000.0).exact == Fraction(2)
    poured = serving(drink, drink.cups[0], [(part, 100.0)])
    then = c.Prices(dearer).drink(poured)
    assert c.Prices().drink(poured).cost.rounded == Decimal("0.10")
    assert then.cost.rounded == Decimal("0.20")


money = st.decimals("0.01", "500", places=2)


@given(money, st.integers(1, 5000), st.integers(1, 100), st.integers(1, 2000))
def test_cost_is_linear_and_exact(price: Decimal, pack: int, tenths: int, number: int) -> None:
    grams = tenths / 10
    item = s.ingredient("x", pack=s.pack(pack, price=str(price)))
    one = c.Prices().item(item, grams).exact
    assert one == Fraction(tenths, 10) / pack * Fraction(price)
    assert c.Prices().item(item, grams * number).exact == pytest.approx(one * number, rel=1e-12)


@given(st.lists(st.tuples(st.integers(1, 500), money), min_size=1, max_size=5))
def test_a_batch_costs_what_its_parts_cost(parts: list[tuple[int, Decimal]]) -> None:
    made = s.batch(
        "b",
        [
            s.part(s.ingredient(f"i{n}", pack=s.pack(100, price=str(price))), grams)
            for n, (grams, price) in enumerate(parts)
        ],
    )
    total = sum((Fraction(grams) / 100 * Fraction(price) for grams, price in parts), Fraction(0))
    assert c.Prices().full_batch(made).exact == total
    assert c.Prices().item(made, float(sum(g for g, _ in parts))).exact == total
