"""A batch at a factor: mass, volume, yield, loss, packs, bowl, portions, Brix, brew ratio.

Portion weights are USDA National Nutrient Database SR26 (NDB numbers given); the US cup is
236.5882365 ml (231 cubic inch gallon).
"""

from __future__ import annotations

from dataclasses import replace

import prep_samples as s
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, LineTo
from buildsheets.prep import batches as b
from buildsheets.prep.cost import Prices
from buildsheets.prep.nutrition import brix_of
from buildsheets.prep.yields import portions_from

US_CUP_ML = 236.5882365


def test_whipping_doubles_cream_as_the_usda_weighs_it() -> None:
    # NDB 01053: 1 cup fluid 238 g; 1 cup whipped 120 g ("1 cup fluid makes 2 cups whipped").
    cream = s.ingredient("heavy-cream", density_g_ml=238 / US_CUP_ML)
    whipped = s.batch("whipped", [s.part(cream, 238)], overrun_pct=100 * (238 / 120 - 1))
    figure = b.figure_batch(whipped)
    assert figure.density_g_ml == pytest.approx(1.0060, abs=1e-4)
    assert figure.foam_density_g_ml == pytest.approx(0.507, abs=5e-4)
    assert figure.yield_ml == pytest.approx(2 * US_CUP_ML, rel=0.01)
    assert figure.unaerated_ml == pytest.approx(US_CUP_ML)


def test_cup_of_sugar_and_cup_of_water() -> None:
    # NDB 19335: 1 cup granulated sugar 200 g. With a cup of water (0.9982 g/ml) the syrup is
    # 45.9 Brix and 1.2072 g/ml (Bubnik), so it makes 361 ml and not 473.
    sugar = s.ingredient("sugar", brix=100.0, density_g_ml=None)
    water = s.ingredient("water", brix=0.0, density_g_ml=0.9982)
    syrup = s.batch(
        "syrup",
        [s.part(sugar, 200), s.part(water, US_CUP_ML * 0.9982)],
        density_g_ml=1.2072,
    )
    assert brix_of(syrup) == pytest.approx(45.9, abs=0.05)
    assert b.figure_batch(syrup).yield_ml == pytest.approx(361, abs=0.5)


def test_equal_masses_make_50_brix_and_two_to_one_66_67() -> None:
    sugar, water = s.ingredient("sugar", brix=100.0), s.ingredient("water", brix=0.0)
    one = s.batch("one", [s.part(sugar, 500), s.part(water, 500)])
    two = s.batch("two", [s.part(sugar, 1000), s.part(water, 500)])
    assert brix_of(one) == pytest.approx(50.0)
    assert brix_of(two) == pytest.approx(66.67, abs=0.005)


def test_boiling_down_raises_brix_by_what_leaves() -> None:
    sugar, water = s.ingredient("sugar", brix=100.0), s.ingredient("water", brix=0.0)
    reduced = s.batch("reduced", [s.part(sugar, 400), s.part(water, 600)], yield_factor=0.8)
    assert brix_of(reduced) == pytest.approx(50.0)


def test_brix_stays_unknown_when_one_part_is_unknown() -> None:
    mix = s.batch("mix", [s.part(s.ingredient("a", brix=10.0), 1), s.part(s.ingredient("b"), 1)])
    assert brix_of(mix) is None


def test_sugars_stand_in_for_brix() -> None:
    # NDB 01077 whole milk: 5.05 g sugars in 100 g, 244 g a cup.
    per_g = s.ingredient("milk", nutrition=s.nutrition("g", sugars_g=5.05))
    assert brix_of(per_g) == 5.05
    per_ml = s.ingredient(
        "milk", density_g_ml=1.0313, nutrition=s.nutrition("ml", sugars_g=5.05 * 1.0313)
    )
    assert brix_of(per_ml) == pytest.approx(5.05)


def test_missing_density_is_named_and_volume_stays_unknown() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None)
    brew = s.batch("brew", [s.part(leaf, 50), s.part(s.ingredient("water"), 1000)])
    figure = b.figure_batch(brew)
    assert figure.yield_g == 1050
    assert (figure.yield_ml, figure.whipped_ml, figure.density_g_ml) == (None, None, None)
    assert [item.id for item in figure.missing] == ["leaf"]


def test_leaves_hold_back_water_and_the_loss_is_shown() -> None:
    # Leaves hold back about twice their mass of water: common practice, no source.
    leaf = s.ingredient("leaf", density_g_ml=None)
    water = s.ingredient("water")
    parts = [s.part(leaf, 50), s.part(water, 1000)]
    brew = s.batch("brew", parts, yield_factor=900 / 1050, density_g_ml=1.0, brew=leaf)
    figure = b.figure_batch(brew)
    assert figure.yield_g == pytest.approx(900)
    assert figure.loss_g == pytest.approx(150)
    assert figure.basis == "factor"
    assert b.brew_ratio(brew) == pytest.approx(20.0)


def test_measured_yield_overrides_the_factor() -> None:
    pearls = s.batch(
        "pearls",
        [s.part(s.ingredient("dry-pearls"), 500)],
        yield_factor=2.0,
        measured_yield_g=1100.0,
    )
    figure = b.figure_batch(pearls, 0.5)
    assert figure.yield_g == 550
    assert figure.loss_g == -300  # water taken up
    assert figure.basis == "measured"


def test_measured_volume_with_density_gives_mass() -> None:
    tea = s.batch(
        "tea",
        [s.part(s.ingredient("water"), 1000)],
        measured_yield_ml=900.0,
        density_g_ml=1.002,
    )
    figure = b.figure_batch(tea)
    assert figure.yield_g == pytest.approx(901.8)
    no_density = s.batch(
        "tea", [s.part(s.ingredient("w", density_g_ml=None), 1000)], measured_yield_ml=900.0
    )
    unknown = b.figure_batch(no_density)
    assert unknown.yield_g is None
    assert unknown.share_of(90.0, 90.0) == pytest.approx(0.1)


def test_both_yields_measured_give_the_density() -> None:
    cap = s.batch(
        "cap",
        [s.part(s.ingredient("cream", density_g_ml=None), 400)],
        overrun_pct=100.0,
        measured_yield_g=390.0,
        measured_yield_ml=780.0,
    )
    figure = b.figure_batch(cap)
    assert figure.foam_density_g_ml == pytest.approx(0.5)
    assert figure.density_g_ml == pytest.approx(1.0)
    assert figure.missing == ()


def test_nested_batch_brings_its_own_density() -> None:
    condensed = s.ingredient("condensed-milk", density_g_ml=306 / US_CUP_ML)  # NDB 01095
    milk = s.ingredient("milk", density_g_ml=244 / US_CUP_ML)  # NDB 01077
    sauce = s.batch("sauce", [s.part(condensed, 306), s.part(milk, 244)])
    assert b.figure_batch(sauce).yield_ml == pytest.approx(2 * US_CUP_ML)
    cap = s.batch("cap", [s.part(sauce, 275)], loss_share=0.5)
    figure = b.figure_batch(cap)
    assert figure.whipped_ml == pytest.approx(US_CUP_ML)
    assert figure.yield_g == pytest.approx(137.5)


def test_500_ml_from_300_ml_packs_opens_two_and_leaves_100() -> None:
    # Handbook case (common practice): a need of 500 ml from 300 ml packs.
    cream = s.ingredient("cream", density_g_ml=1.006, pack=s.pack(300, "ml"))
    packs = b.pack_need(cream, 503.0)
    assert packs is not None
    assert (packs.count, packs.unit) == (2, "ml")
    assert packs.left_over == pytest.approx(100.0)


def test_trimmings_make_a_pack_smaller() -> None:
    mango = s.ingredient("mango", pack=s.pack(1000, "g", usable=0.7))
    packs = b.pack_need(mango, 1400.0)
    assert packs is not None
    assert (packs.count, packs.left_over) == (2, pytest.approx(0.0))


def test_pack_in_ml_without_density_is_unknown() -> None:
    oil = s.ingredient("oil", density_g_ml=None, pack=s.pack(1000, "ml"))
    assert b.pack_need(oil, 10.0) is None
    assert b.pack_grams(oil) is None
    trimmed = s.ingredient("oil", density_g_ml=0.92, pack=s.pack(1000, "ml", usable=0.75))
    assert b.pack_grams(trimmed) == pytest.approx(1000 * 0.75 * 0.92)


@pytest.mark.parametrize(
    ("grams", "step", "shown"),
    [(12.5, 1.0, 13.0), (12.4, 1.0, 12.0), (0.2, 1.0, 1.0), (0.0, 1.0, 0.0), (7.5, 5.0, 10.0),
     (0.35, 0.1, 0.4), (2.675, 0.01, 2.68)],
)  # fmt: skip
def test_rounding_to_the_scale_is_half_up_and_never_to_nothing(
    grams: float, step: float, shown: float
) -> None:
    assert b.to_step(grams, step) == pytest.approx(shown)


def test_quarter_batch_reports_what_the_scale_makes_of_it() -> None:
    salt = s.ingredient("salt")
    figure = b.figure_batch(s.batch("x", [s.part(salt, 5)]), 0.25)
    assert figure.parts[0].exact_g == 1.25
    assert figure.parts[0].weigh_g == 1.0
    assert figure.parts[0].error_share == pytest.approx(-0.2)


def test_bowl_counts_the_whipped_volume() -> None:
    cream = s.ingredient("cream")
    cap = s.batch(
        "cap", [s.part(cream, 1000)], overrun_pct=100.0, bowl_ml=2000.0, bowl_fill_share=0.75
    )
    check = b.bowl_check(b.figure_batch(cap))
    assert check is not None
    assert (check.usable_ml, check.loads, check.fits) == (1500.0, 2, False)
    assert check.largest_scale == pytest.approx(0.75)
    one_load = b.bowl_check(b.figure_batch(cap, check.largest_scale))
    assert one_load is not None
    assert one_load.fits


def test_bowl_unknown_without_bowl_or_volume() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None)
    assert b.bowl_check(b.figure_batch(s.batch("x", [s.part(leaf, 5)], bowl_ml=100.0))) is None
    assert b.bowl_check(b.figure_batch(s.batch("x", [s.part(s.ingredient("y"), 5)]))) is None


def test_portions_per_cup_with_what_is_left_over() -> None:
    cream = s.ingredient("cream")
    cap = s.batch("cap", [s.part(cream, 1000)], overrun_pct=60.0, loss_share=0.05)
    top = s.component("cap", cap, behaves="floated", overrun_pct=60.0)
    regular, large = s.cup("regular"), s.cup("large")
    drink = s.drink(
        "tea",
        [s.add_step(top, {"regular": s.amount(40, 64), "large": s.amount(60, 96)})],
        cups=(regular, large),
    )
    menu = s.menu(drinks=[drink])
    small, big = b.portions(menu, b.figure_batch(cap))
    assert (small.cup.id, small.count, small.left_over_g) == ("regular", 23, pytest.approx(30.0))
    assert (big.cup.id, big.count, big.left_over_g) == ("large", 15, pytest.approx(50.0))
    # the same by volume: 1520 ml as served, 64 ml each (fill model section 6)
    figure = b.figure_batch(cap)
    assert figure.yield_ml == pytest.approx(1520.0)
    assert (figure.yield_g, figure.finished_g) == (pytest.approx(950), pytest.approx(1000))
    assert portions_from(1520.0, 64.0) == (23, pytest.approx(48.0))


def test_poured_lines_count_once_a_serving_gives_grams() -> None:
    tea = s.batch("tea", [s.part(s.ingredient("water"), 1000)])
    base = s.component("tea", tea)
    drink = s.drink("iced", [s.add_step(base, {"regular": LineTo(300.0, None, s.written())})])  # type: ignore[dict-item]
    menu = s.menu(drinks=[drink])
    assert b.portions(menu, b.figure_batch(tea)) == ()
    (portion,) = b.portions(menu, b.figure_batch(tea), {("iced", "regular", "tea"): 150.0})
    assert portion.count == 6


def test_add_ons_count_as_uses() -> None:
    pearls = s.batch("pearls", [s.part(s.ingredient("dry"), 1000)], yield_factor=2.0)
    topping = s.component("pearls", pearls, behaves="settled")
    extra = s.add_on("pearls", topping, 50)
    drink = s.drink("plain", [], add_ons=(extra,))
    (portion,) = b.portions(s.menu(drinks=[drink]), b.figure_batch(pearls))
    assert portion.count == 40
    none_of_it = replace(drink, add_ons=(s.add_on("pearls", topping, 0),))
    assert b.portions(s.menu(drinks=[none_of_it]), b.figure_batch(pearls)) == ()


def test_an_add_on_is_for_the_cups_of_drinks_that_are_offered_with_it() -> None:
    pearls = s.batch("pearls", [s.part(s.ingredient("dry"), 1000)], yield_factor=2.0)
    topping = s.component("pearls", pearls, behaves="settled")
    small, tall, hot = (s.cup(id_) for id_ in ("small", "tall", "hot"))
    extra = replace(
        s.add_on("pearls", topping, 50), amounts={id_: s.amount(50, 60) for id_ in ("small", "hot")}
    )
    drinks = [
        s.drink("iced", [], cups=(small, tall), add_ons=(extra,)),
        s.drink("latte", [], cups=(hot,)),
    ]
    menu = s.menu(drinks=drinks)
    found = b.portions(menu, b.figure_batch(pearls))
    assert {cup.id for drink in drinks for cup in drink.cups} <= {*menu.cups}
    assert [one.cup.id for one in found] == ["small"]
    assert [one.cup.id for one in Prices().add_ons(menu)] == ["small"]


def test_scale_step_is_the_finest_scale_of_the_shop() -> None:
    assert b.scale_step_g(s.menu(tools=[])) == 1.0
    assert b.scale_step_g(s.menu(tools=[s.scale_tool(0.5)])) == 0.5


@pytest.mark.parametrize("factor", [0.0, -1.0, float("nan")])
def test_factor_must_be_above_0(factor: float) -> None:
    with pytest.raises(FigureError):
        b.figure_batch(s.batch("x", [s.part(s.ingredient("a"), 1)]), factor)


grams = st.floats(0.1, 5000)


@st.composite
def any_batch(draw: st.DrawFn, depth: int = 2) -> Batch:
    parts = [
        s.part(s.ingredient(f"i{n}", density_g_ml=draw(st.floats(0.3, 1.5))), draw(grams))
        for n in range(draw(st.integers(1, 4)))
    ]
    if depth and draw(st.booleans()):
        parts.append(s.part(draw(any_batch(depth=depth - 1)), draw(grams)))
    return s.batch(
        f"b{depth}",
        parts,
        overrun_pct=draw(st.floats(0, 200)),
        loss_share=draw(st.floats(0, 0.5)),
        yield_factor=draw(st.floats(0.3, 3.0)),
        bowl_ml=draw(st.floats(100, 20000)),
    )


@settings(max_examples=40)
@given(any_batch(), st.floats(0.05, 20))
def test_everything_scales_with_the_factor(batch: Batch, factor: float) -> None:
    one, scaled = b.figure_batch(batch), b.figure_batch(batch, factor)
    for name in ("parts_g", "finished_g", "unaerated_ml", "whipped_ml", "yield_g", "yield_ml"):
        assert getattr(scaled, name) == pytest.approx(getattr(one, name) * factor)
    assert scaled.density_g_ml == one.density_g_ml


@given(any_batch(), st.floats(0.05, 20))
def test_mass_is_conserved(batch: Batch, factor: float) -> None:
    figure = b.figure_batch(batch, factor)
    assert figure.yield_g is not None
    assert figure.loss_g is not None
    assert sum(p.exact_g for p in figure.parts) == pytest.approx(figure.parts_g)
    assert figure.yield_g + figure.loss_g == pytest.approx(figure.parts_g)
    assert sum(p.share for p in figure.parts) == pytest.approx(1.0)


@settings(max_examples=40)
@given(any_batch())
def test_loads_hold_the_batch_and_one_fewer_does_not(batch: Batch) -> None:
    check = b.bowl_check(b.figure_batch(batch))
    assert check is not None
    assert check.whipped_ml / check.loads <= check.usable_ml * (1 + 1e-8)
    if check.loads > 1:
        assert check.whipped_ml > (check.loads - 1) * check.usable_ml
    assert check.whipped_ml * check.largest_scale == pytest.approx(check.usable_ml)


@given(st.floats(0.01, 1e5), st.floats(1, 5000), st.floats(0.1, 1))
def test_packs_cover_the_need_with_less_than_one_pack_over(
    need: float, quantity: float, usable: float
) -> None:
    item = s.ingredient("x", pack=s.pack(quantity, "g", usable=usable))
    packs = b.pack_need(item, need)
    assert packs is not None
    one = quantity * usable
    assert packs.count * one >= need * (1 - 1e-8)
    assert packs.left_over < one * (1 + 1e-8)
    assert (packs.count - 1) * one < need


def test_a_pot_holds_the_cooking_water_beside_what_cooks() -> None:
    # 500 g of pearls at 1.1 g/ml are 454.5 ml; with 5 l of water 5454.5 ml of 8 l filled to 3/4.
    pearls = s.ingredient("pearls", density_g_ml=1.1)
    boil = s.batch_step("boil", water_ml=5000.0)
    cooked = s.batch(
        "cooked", [s.part(pearls, 500)], steps=(boil,), bowl_ml=8000.0, bowl_fill_share=0.75
    )
    full = b.bowl_check(b.figure_batch(cooked))
    assert full is not None
    assert full.whipped_ml == pytest.approx(5454.5, abs=0.1)
    assert full.loads == 1
    triple = b.bowl_check(b.figure_batch(cooked, 3.0))
    assert triple is not None
    assert triple.loads == 3  # 16.4 l in loads of 6 l
