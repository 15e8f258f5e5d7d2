"""Scaling a batch by factor, portions, packs, containers and the ingredient that runs short."""

from __future__ import annotations

from dataclasses import replace

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch
from buildsheets.prep import batches as b
from buildsheets.prep import scaling as sc


def condensed_cap() -> Batch:
    """A can of condensed milk (397 g) is used whole; cream comes in litres."""
    can = s.ingredient("condensed-milk", density_g_ml=1.29, pack=s.pack(397, "g"))
    cream = s.ingredient("cream", density_g_ml=1.006, pack=s.pack(1000, "ml"))
    return s.batch(
        "cap",
        [s.part(can, 397), s.part(cream, 603)],
        lead=can,
        overrun_pct=50.0,
        scales={"full": 1.0, "half": 0.5, "quarter": 0.25},
    )


def portion(batch: Batch, grams: float) -> b.Portion:
    return b.Portion(s.component("c", batch), s.cup(), None, None, grams, grams, 0, None)


def test_factor_for_portions_gives_those_portions() -> None:
    cap = replace(condensed_cap(), lead=None)
    wish = sc.for_portions(cap, [(portion(cap, 40), 30), (portion(cap, 60), 10)])
    assert wish.factor == pytest.approx(1.8)  # 30 x 40 g + 10 x 60 g of 1000 g
    assert wish.rounding == "up"
    assert b.figure_batch(cap, wish.factor).yield_g == pytest.approx(1800)


def test_portions_take_whole_cans_where_cans_go_in_whole() -> None:
    # 1.8 batches want 1.8 cans of 397 g: two are opened and both go in.
    cap = condensed_cap()
    wish = sc.for_portions(cap, [(portion(cap, 40), 30), (portion(cap, 60), 10)])
    assert wish.factor == pytest.approx(2.0)
    assert wish.limited_by is cap.lead


def test_stock_is_used_in_whole_cans_and_what_is_short_of_one_is_refused() -> None:
    # 1500 g are 3.8 cans: three go in. Cream for 2.9 batches allows two.
    cap = condensed_cap()
    assert sc.for_stock(cap, {"condensed-milk": 1500.0}).factor == pytest.approx(3.0)
    # a batch of two tins of 400 g: 1300 g are three tins, one batch and a half
    tin = s.ingredient("tin", pack=s.pack(400))
    paste = s.batch("paste", [s.part(tin, 800)], lead=tin)
    assert sc.for_stock(paste, {"tin": 1300.0}).factor == pytest.approx(1.5)
    few = sc.for_stock(cap, {"condensed-milk": 1500.0, "cream": 1750.0})
    assert few.factor == pytest.approx(2.0)
    assert few.limited_by is not None
    assert few.limited_by.id == "cream"
    with pytest.raises(FigureError, match="one pack of condensed-milk wants 603 g"):
        sc.for_stock(cap, {"cream": 600.0})


def test_stock_too_small_for_the_scale_is_refused() -> None:
    gum, water = s.ingredient("gum"), s.ingredient("water")
    syrup = s.batch("syrup", [s.part(gum, 2), s.part(water, 1000)])
    assert sc.for_stock(syrup, {"gum": 1.0}, 1.0).factor == pytest.approx(0.5)
    with pytest.raises(FigureError, match="less of it than the scale shows"):
        sc.for_stock(syrup, {"gum": 0.9}, 1.0)
    assert sc.for_stock(syrup, {"gum": 0.9}, 0.1).factor == pytest.approx(0.45)


def test_as_many_as_one_can_gives() -> None:
    lead = condensed_cap().lead
    cap = s.batch("cap", [s.part(lead, 250), s.part(s.ingredient("x"), 250)], lead=lead)
    wish = sc.for_packs(cap, 1)
    assert wish.factor == pytest.approx(397 / 250)
    assert wish.limited_by is not None
    assert wish.limited_by.id == "condensed-milk"


def test_packs_need_a_lead_with_a_pack() -> None:
    bare = s.batch("bare", [s.part(s.ingredient("x"), 1)])
    with pytest.raises(FigureError, match="add lead: to it"):
        sc.for_packs(bare, 1)
    with pytest.raises(FigureError, match="has no pack"):
        sc.for_packs(replace(bare, lead=bare.parts[0].item), 1)


def test_lead_goes_up_to_whole_cans() -> None:
    assert sc.to_scales(condensed_cap(), 1.2).factor == pytest.approx(2.0)
    assert sc.to_scales(condensed_cap(), 2.0).factor == pytest.approx(2.0)
    assert sc.to_scales(condensed_cap(), 0.3).factor == pytest.approx(1.0)


def test_without_a_lead_the_smallest_scale_is_the_step() -> None:
    tea = s.batch("tea", [s.part(s.ingredient("w"), 1000)], scales={"full": 1.0, "quarter": 0.25})
    assert sc.to_scales(tea, 1.6).factor == pytest.approx(1.75)
    assert sc.to_scales(tea, 0.75).factor == pytest.approx(0.75)
    plain = s.batch("tea", [s.part(s.ingredient("w"), 1000)], scales={})
    assert sc.to_scales(plain, 1.6).factor == 1.6


def test_containers_count_the_air() -> None:
    cap = condensed_cap()
    full = b.figure_batch(cap)
    wish = sc.for_containers(cap, 2, 500.0)
    assert b.figure_batch(cap, wish.factor).yield_ml == pytest.approx(1000.0)
    held = sc.containers(full, 500.0)
    assert full.yield_ml is not None
    assert held[0] == 3
    assert held[1] == pytest.approx(full.yield_ml - 1000.0)


def test_the_short_ingredient_sets_the_factor() -> None:
    cap = condensed_cap()
    wish = sc.for_stock(cap, {"condensed-milk": 794.0, "cream": 603.0})
    assert wish.factor == pytest.approx(1.0)
    assert wish.limited_by is not None
    assert wish.limited_by.id == "cream"
    with pytest.raises(FigureError, match="not part"):
        sc.for_stock(cap, {"sugar": 1.0})
    with pytest.raises(FigureError):
        sc.for_stock(cap, {})


def test_unknown_yield_is_refused_not_guessed() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None)
    brew = s.batch("brew", [s.part(leaf, 10)])
    with pytest.raises(FigureError, match="density"):
        sc.for_containers(brew, 1, 500.0)
    with pytest.raises(FigureError, match="density"):
        sc.containers(b.figure_batch(brew), 500.0)


def test_purchase_sums_an_item_used_twice() -> None:
    cream = s.ingredient("cream", density_g_ml=1.0, pack=s.pack(1000, "ml"))
    cap = s.batch("cap", [s.part(cream, 600), s.part(cream, 600)])
    ((item, packs),) = sc.purchase(b.figure_batch(cap))
    assert (item.id, packs.count, packs.left_over) == ("cream", 2, pytest.approx(800.0))


@given(st.floats(0.05, 30))
def test_whole_packs_cover_and_waste_less_than_one(factor: float) -> None:
    cap = condensed_cap()
    up = sc.to_scales(cap, factor)
    assert up.factor >= factor * (1 - 1e-8)
    cans = up.factor * 397 / 397
    assert cans == pytest.approx(round(cans))
    assert up.factor - factor < 1 + 1e-8


@given(st.floats(1, 5000), st.floats(1, 5000))
def test_stock_is_never_overdrawn_and_the_short_one_is_used_up(can: float, cream: float) -> None:
    cap = replace(condensed_cap(), lead=None)
    wish = sc.for_stock(cap, {"condensed-milk": can, "cream": cream}, 0.0001)
    used = {p.part.item.id: p.exact_g for p in b.figure_batch(cap, wish.factor).parts}
    assert used["condensed-milk"] <= can * (1 + 1e-9)
    assert used["cream"] <= cream * (1 + 1e-9)
    assert wish.limited_by is not None
    assert used[wish.limited_by.id] == pytest.approx(
        {"condensed-milk": can, "cream": cream}[wish.limited_by.id]
    )
