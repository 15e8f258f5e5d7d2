"""Tax and packaging taken off a margin: each sum worked by hand beside its check."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from menu_samples import SMALL, check_texts, swapped

from buildsheets import api
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding
from buildsheets.pipeline import Checked
from buildsheets.prep.cost import Cost, DrinkCost, Prices, rounded_net
from buildsheets.prep.packaging import handed_out

PACKAGING = """\
packaging:
  cup-medium: {name: medium cup, kind: cup, pack: {quantity: 1000 pieces, price: 75.00}}
  flat-lid: {name: flat lid, kind: lid, pack: {quantity: 1000 pieces, price: 40.00}}
  straw: {name: straw, kind: straw, pack: {quantity: 500 pieces, price: 10.00}}
  wide-straw: {name: wide straw, kind: straw, pack: {quantity: 250 pieces, price: 12.50}}
  napkin: {name: napkin, kind: napkin, pack: {quantity: 2000 pieces, price: 15.00}}
  sticker: {name: sticker, kind: other, pack: {quantity: 100 pieces, price: 1.00}}
"""
# One piece: cup 0.075, lid 0.04, straw 0.02, wide straw 0.05, napkin 0.0075, sticker 0.01.


def shop(*edits: tuple[str, str]) -> Checked:
    """The small menu with packaging for its medium cup, edited."""
    text = swapped(SMALL, "ingredients:\n", PACKAGING + "ingredients:\n")
    named = "    lid: flat\n    packaging: [cup-medium, flat-lid, straw, napkin, napkin]\n"
    text = swapped(text, "    lid: flat\n", named)
    for old, new in edits:
        text = swapped(text, old, new)
    checked = check_texts(text)
    assert checked.menu is not None
    return checked


def serving(checked: Checked, drink: str, cup: str = "medium", *add_ons: str) -> Serving:
    (found,) = [s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup)]
    return found.choices[replace(found.choice, add_ons=add_ons)]


def cost(checked: Checked, drink: str, cup: str = "medium", *add_ons: str) -> DrinkCost:
    return Prices().drink(serving(checked, drink, cup, *add_ons))


TAX = ("  currency: EUR\n", "  currency: EUR\n  tax: 10 %\n")


def test_a_margin_of_96_percent_is_92_after_tax_and_packaging() -> None:
    # Ten parts in a thousand of a litre at 18.40 are 0.184; packaging of 0.075 + 0.04 + 0.02 +
    # 2 x 0.0075 is 0.15. Price 4.60: shown as 1 - 0.184 / 4.60 = 96 %. Net is 4.60 / 1.10 =
    # 4.1818, cost 0.184 + 0.15 = 0.334, so that 1 - 0.334 / 4.1818 = 92.0 % is left.
    packed = Prices().packaging(serving(shop(TAX), "shaken").cup.packaging)
    assert packed.exact == Fraction("0.15")
    plain = cost(shop(TAX), "shaken")
    one = DrinkCost(plain.serving, (), packed, Cost(Fraction("0.334")), Decimal("4.60"), (), 0.1)
    assert one.net_price == Decimal("4.18")
    assert one.margin == Decimal("3.85")  # 4.18 - 0.33, as they are printed
    assert one.margin_share is not None
    assert round(float(one.margin_share), 3) == 0.92
    flattering = DrinkCost(
        plain.serving, (), packed, Cost(Fraction("0.184")), Decimal("4.60"), (), None
    )
    assert flattering.margin_share == Fraction(96, 100)


def test_the_least_price_without_a_loss_is_whole_cents_up() -> None:
    # 2.50 and 21 % are 3.025: 3.03, of which 2.504 are left; 3.02 would leave 2.496.
    plain = cost(shop(), "shaken")
    sold = replace(plain, cost=Cost(Fraction("2.50")), tax_in_price=0.21)
    assert sold.price_without_loss == Decimal("3.03")
    assert replace(sold, tax_in_price=None).price_without_loss == Decimal("2.50")
    assert replace(sold, cost=Cost(None, ("tea",))).price_without_loss is None


@pytest.mark.parametrize(
    ("price", "rate", "net"),
    [
        ("4.60", 0.1, "4.18"),  # 46 / 11 = 4.1818
        ("5.00", 0.21, "4.13"),  # 500 / 121 = 4.1322
        ("3.50", 0.08875, "3.21"),  # 3.5 / 1.08875 = 3.2147
        ("4.60", 0.0, "4.60"),
        ("4.60", None, "4.60"),
        ("1.05", 0.05, "1.00"),
    ],
)
def test_net_prices(price: str, rate: float | None, net: str) -> None:
    assert rounded_net(Decimal(price), rate) == Decimal(net)


def test_a_net_price_is_exact_for_other_programs() -> None:
    assert api.without_tax(4.60, 0.1) == Fraction(46, 11)


def test_a_drink_costs_its_packaging_and_its_own_rate_goes_before_the_shops() -> None:
    without, taxed = cost(shop(), "shaken"), cost(shop(TAX), "shaken")
    own_rate = ("    name: Shaken\n", "    name: Shaken\n    tax: 21 %\n")
    own = cost(shop(TAX, own_rate), "shaken")
    assert (without.price, without.net_price) == (Decimal("4.00"), Decimal("4.00"))
    assert taxed.net_price == Decimal("3.64")  # 4 / 1.1 = 3.6364
    assert own.net_price == Decimal("3.31")  # 4 / 1.21 = 3.3058
    parts = sum((part.cost.exact or Fraction(0) for part in taxed.parts), Fraction(0))
    assert taxed.cost.exact == parts + Fraction("0.15")
    assert taxed.packaging.rounded == Decimal("0.15")
    assert taxed.margin == Decimal("3.64") - (taxed.cost.rounded or Decimal(0))


def test_prices_without_tax_are_kept_whole() -> None:
    on_top = ("  currency: EUR\n", "  currency: EUR\n  tax: 10 %\n  prices: without tax\n")
    assert cost(shop(on_top), "shaken").net_price == Decimal("4.00")


PEARLS = "add-pearls: {topping: pearls, amount: 1 scoop, price: 0.60"


def names(checked: Checked, *add_ons: str) -> list[str]:
    made = serving(checked, "cloud", "medium", *add_ons)
    chosen = [one for one in made.drink.add_ons if one.id in add_ons]
    return sorted(item.id for item in handed_out(made.drink, made.cup, chosen))


def test_an_add_ons_straw_takes_the_place_of_the_sizes() -> None:
    checked = shop((PEARLS, PEARLS + ", packaging: [wide-straw, sticker]"))
    usual = ["cup-medium", "flat-lid", "napkin", "napkin"]
    assert names(checked) == [*usual, "straw"]
    assert names(checked, "add-pearls") == [*usual, "sticker", "wide-straw"]
    # 0.15 - 0.02 + 0.05 + 0.01
    packed = cost(checked, "cloud", "medium", "add-pearls").packaging
    assert packed.exact == Fraction("0.19")


def test_a_drinks_own_straw_goes_out_once_with_an_add_on_that_asks_for_it_too() -> None:
    of_drink = ("    name: Cloud\n", "    name: Cloud\n    packaging: wide-straw\n")
    checked = shop((PEARLS, PEARLS + ", packaging: wide-straw"), of_drink)
    both = ["cup-medium", "flat-lid", "napkin", "napkin", "wide-straw"]
    assert names(checked) == names(checked, "add-pearls") == both


def test_an_add_on_costs_what_its_straw_costs_more() -> None:
    checked = shop((PEARLS, PEARLS + ", packaging: wide-straw"), TAX)
    bare = shop(TAX)
    assert checked.menu is not None
    assert bare.menu is not None
    (more,) = [one for one in Prices().add_ons(checked.menu) if one.cup.id == "medium"]
    (less,) = [one for one in Prices().add_ons(bare.menu) if one.cup.id == "medium"]
    # A scoop holds 40 g of pearls at 4.00 a kilogram: 0.16, and 0.05 - 0.02 for the straw.
    assert (less.cost, more.cost) == (Decimal("0.16"), Decimal("0.19"))
    assert more.net_price == Decimal("0.55")  # 0.60 / 1.1 = 0.5455
    assert more.margin == Decimal("0.36")


def of_code(checked: Checked, code: str) -> list[Finding]:
    return [one for one in checked.findings if one.code == code]


def test_packaging_without_a_price_makes_the_cost_unknown_and_is_told() -> None:
    checked = shop((", kind: lid, pack: {quantity: 1000 pieces, price: 40.00}", ", kind: lid"))
    (found,) = of_code(checked, "COST01")
    assert "'flat-lid'" in found.message
    assert "2 drinks" in found.message
    assert cost(checked, "shaken").cost.missing == ("flat-lid",)
    assert cost(checked, "cloud", "tall").cost.exact is not None  # which names no lid


def test_a_loss_counts_tax_and_packaging_and_the_price_offered_ends_it() -> None:
    def priced(price: str) -> Checked:
        old = "    cups: [medium]\n    price: 4.00\n"
        return shop(TAX, (old, old.replace("4.00", price)))

    # 10 ml of syrup at 3.00 a litre are 0.03. The brew, 1 kg of water at 0.0024 and a litre of milk
    # at 1.05, costs 1.0524 for 1002 + 1000 ml, so that 200 ml are 0.105. With packaging 0.285.
    # 0.29 x 1.1 = 0.319 is up to the cent 0.32, which leaves 0.2909.
    assert cost(shop(TAX), "shaken").cost.rounded == Decimal("0.29")
    (found,) = of_code(priced("0.29"), "COST02")
    assert found.message.endswith("costs 0.29 and sells at 0.29, of which 0.26 is left without tax")
    assert [line.part for line in found.sums[-2:]] == ["packaging", "total"]
    assert [fix.text for fix in found.fixes] == ["sell it at 0.32 or more"]
    assert of_code(priced("0.32"), "COST02") == []


def test_an_unknown_packaging_is_named_with_the_nearest() -> None:
    (found,) = of_code(shop(("[cup-medium, flat-lid,", "[cup-medium, flat-lit,")), "REF01")
    assert "no packaging 'flat-lit'" in found.message
    assert found.fixes[0].replacement == "flat-lid"


def test_packaging_shares_its_names_with_ingredients() -> None:
    (found,) = of_code(shop(("  sticker: {name", "  milk: {name")), "REF02")
    assert "'milk'" in found.message


@pytest.mark.parametrize("written", ["400 g", "some", "0 pieces"])
def test_a_pack_of_packaging_is_counted_in_pieces(written: str) -> None:
    checked = shop(("quantity: 500 pieces", f"quantity: {written}"))
    assert {"VAL08", "RNG01"} & {one.code for one in checked.findings}
