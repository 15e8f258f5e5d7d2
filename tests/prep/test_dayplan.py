"""A day's plan: amounts conserved from sales to packs, making times, stock to have ready."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cli.plain_data import told
from buildsheets.cli.prep_results import Planned
from buildsheets.menu.model import Batch, Drink, Menu
from buildsheets.menu.when import clock
from buildsheets.prep import dayplan as dp


def servings(*drinks: Drink) -> Any:
    """Default servings with just the amounts a plan counts: those written in the steps."""
    found = {}
    for drink in drinks:
        for cup in drink.cups:
            used = [
                SimpleNamespace(
                    component=step.component,
                    mass_g=step.amounts[cup.id].mass_g,  # type: ignore[union-attr]
                    volume_ml=step.amounts[cup.id].volume_ml,  # type: ignore[union-attr]
                )
                for step in drink.steps
                if cup.id in step.amounts  # type: ignore[union-attr]
            ]
            found[drink.id, cup.id] = SimpleNamespace(used=tuple(used))
    return found


def pearls_batch(**given: Any) -> Batch:
    """Pearls doubling in cooking, cooked in 30 min, good for 4 h (common practice, no source)."""
    dry = s.ingredient("dry-pearls", pack=s.pack(1000, price="5.00"))
    values: dict[str, Any] = {
        "yield_factor": 2.0,
        "keeps_for": s.keeps(hours=4, at_c=21.0),
        "steps": (s.batch_step("boil", 20 * 60), s.batch_step("rest", 10 * 60)),
        "scales": {},
        **given,
    }
    return s.batch("pearls", [s.part(dry, 500)], **values)


def pearl_drink(batch: Batch) -> Drink:
    pearls = s.component("pearls", batch, behaves="settled")
    return s.drink("pearl-tea", [s.add_step(pearls, {"regular": s.amount(50)})])


def plan(menu: Menu, *lines: Any, **hours: int) -> dp.DayPlan:
    return dp.plan_day(menu, s.day(lines, **hours), servings(*menu.drinks.values()))


def test_pearls_are_cooked_three_times_in_twelve_hours() -> None:
    drink = pearl_drink(pearls_batch())
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 120))
    (pearls,) = made.batches
    assert pearls.share == pytest.approx(6.0)  # 120 x 50 g of 1000 g
    assert [
        (clock(r.start_min)[0], clock(r.ready_min)[0], clock(r.until_min)[0])
        for r in pearls.makings
    ] == [
        ("09:30", "10:00", "14:00"),
        ("13:30", "14:00", "18:00"),
        ("17:30", "18:00", "22:00"),
    ]
    assert [r.share for r in pearls.makings] == [pytest.approx(2.0)] * 3
    assert not pearls.carries_over


def test_stretches_are_equal_and_never_longer_than_it_keeps() -> None:
    drink = pearl_drink(pearls_batch())
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 90), opens=600, closes=1140)
    runs = made.batches[0].makings
    assert [r.until_min - r.ready_min for r in runs] == [pytest.approx(180.0)] * 3


def test_the_time_rule_shortens_a_longer_claim() -> None:
    # Food Code 3-501.19: 4 h out of temperature control, whatever the batch says.
    longer = pearls_batch(keeps_for=s.keeps(hours=12, at_c=21.0))
    drink = pearl_drink(longer)
    assert len(plan(s.menu(drinks=[drink]), s.sold(drink, 10)).batches[0].makings) == 3


def test_what_keeps_for_days_is_made_once_before_opening() -> None:
    tea = s.batch(
        "tea",
        [s.part(s.ingredient("water"), 2000)],
        steps=(s.batch_step("brew", 900),),
        keeps_for=s.keeps(days=2),
        scales={"full": 1.0, "half": 0.5},
    )
    drink = s.drink("tea", [s.add_step(s.component("tea", tea), {"regular": s.amount(200)})])
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 26))
    (run,) = made.batches[0].makings
    assert (clock(run.start_min)[0], run.share, run.figure.factor) == ("09:45", 2.6, 3.0)
    assert made.batches[0].left_share == pytest.approx(0.4)
    assert made.batches[0].carries_over


def test_nested_batches_are_ready_when_the_outer_one_starts() -> None:
    sugar = s.ingredient("sugar", pack=s.pack(1000, price="1.00"))
    syrup = s.batch("syrup", [s.part(sugar, 1000)], steps=(s.batch_step("stir", 600),), scales={})
    dry = s.ingredient("dry")
    pearls = s.batch(
        "pearls",
        [s.part(dry, 500), s.part(syrup, 500)],
        keeps_for=s.keeps(hours=4),
        steps=(s.batch_step("boil", 1800),),
        scales={},
    )
    drink = pearl_drink(pearls)
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 120))
    assert [p.batch.id for p in made.batches] == ["pearls", "syrup"]
    inner = made.batches[1]
    assert inner.share == pytest.approx(3.0)
    (run,) = inner.makings
    assert (clock(run.start_min)[0], clock(run.ready_min)[0]) == ("09:20", "09:30")
    bought = {one.ingredient.id: one for one in made.purchases}
    assert bought["sugar"].mass_g == pytest.approx(3000.0)
    assert bought["dry"].mass_g == pytest.approx(3000.0)


def test_bowl_loads_lengthen_the_work() -> None:
    drink = pearl_drink(pearls_batch(bowl_ml=1000.0))
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 120))
    (first, *_) = made.batches[0].makings
    assert len(first.loads) == 2  # 2 batches of 1000 ml into a pot of 1000 ml
    # One pair of hands and 30 min of work each: the first load for 10:00 at 09:30. The second is
    # good for 4 h and served to 14:00, so not before 10:00: it is due when the first has run out.
    assert [(load.start_min, load.ready_min) for load in first.loads] == [(570, 600), (690, 720)]
    assert [load.until_min for load in first.loads] == pytest.approx([720, 840])
    assert (first.first_ready_min, first.ready_min) == (600, 720)
    assert not made.not_in_time


def test_purchases_in_packs_with_what_is_left_and_cost() -> None:
    drink = pearl_drink(pearls_batch())
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 130))
    (one,) = made.purchases
    assert one.mass_g == pytest.approx(3250.0)
    assert one.packs is not None
    assert (one.packs.count, one.packs.left_over) == (4, pytest.approx(750.0))
    assert str(one.cost) == "20.00"


def test_ingredients_poured_straight_are_bought_too() -> None:
    milk = s.ingredient("milk", density_g_ml=1.03, pack=s.pack(1000, "ml", "1.10"))
    drink = s.drink(
        "milk",
        [s.add_step(s.component("milk", milk, density_g_ml=1.03), {"regular": s.amount(206, 200)})],
    )
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 11))
    (one,) = made.purchases
    assert one.packs is not None
    assert one.packs.need == pytest.approx(2200.0)
    assert one.packs.count == 3


def test_add_ons_sold_with_a_drink_count() -> None:
    batch = pearls_batch()
    extra = s.add_on("pearls", s.component("pearls", batch, behaves="settled"), 50)
    drink = s.drink("plain", [], add_ons=(extra,))
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 40, pearls=20))
    assert made.components[0].mass_g == pytest.approx(1000.0)
    assert made.components[0].servings == 20
    assert made.batches[0].share == pytest.approx(1.0)


def test_ready_at_opening_is_all_that_is_made_by_then() -> None:
    drink = pearl_drink(pearls_batch())
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 120))
    (par,) = made.batches
    assert (par.ready(made.opens_min), par.share) == (pytest.approx(2.0), pytest.approx(6.0))
    assert par.ready(made.closes_min) == pytest.approx(6.0)
    tea = s.batch("tea", [s.part(s.ingredient("w"), 1000)], keeps_for=s.keeps(days=3))
    drink = s.drink("tea", [s.add_step(s.component("tea", tea), {"regular": s.amount(100)})])
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 20))
    (par,) = made.batches
    assert (par.ready(made.opens_min), par.share) == (pytest.approx(2.0), pytest.approx(2.0))


def test_open_past_midnight() -> None:
    drink = pearl_drink(pearls_batch())
    made = plan(s.menu(drinks=[drink]), s.sold(drink, 10), opens=18 * 60, closes=2 * 60)
    assert [clock(r.ready_min)[0] for r in made.makings] == ["18:00", "22:00"]


def test_a_drink_without_a_serving_is_named_not_forgotten() -> None:
    drink = pearl_drink(pearls_batch())
    menu = s.menu(drinks=[drink])
    made = dp.plan_day(menu, s.day([s.sold(drink, 5)]), {})
    assert made.not_planned == (("pearl-tea", "regular"),)
    assert made.makings == ()


def test_unknown_yield_is_named() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None)
    brew = s.batch("brew", [s.part(leaf, 50)], measured_yield_ml=900.0)
    outer = s.batch("outer", [s.part(brew, 100, None)])
    drink = s.drink("d", [s.add_step(s.component("c", outer), {"regular": s.amount(10)})])
    assert plan(s.menu(drinks=[drink]), s.sold(drink, 1)).unknown == ("brew",)


def test_clock_rounds_early_and_wraps() -> None:
    assert [clock(m)[0] for m in (0, 569.9, 600, 1500, -30)] == [
        "00:00", "09:29", "10:00", "01:00", "23:30",
    ]  # fmt: skip


def test_json_of_the_plan() -> None:
    drink = pearl_drink(pearls_batch())
    data = told(Planned(plan(s.menu(drinks=[drink]), s.sold(drink, 120)), (), (), ()))
    assert data["opens_min"] == 10 * 60
    # half past nine, one and five
    assert [r["start_min"] for r in data["runs"]] == [570, 810, 1050]
    assert data["batches"][0]["ready"]["mass_g"] == pytest.approx(2000.0)
    assert data["batches"][0]["ready"]["volume_ml"] == pytest.approx(2000.0)  # at 1 g/ml
    assert data["not_planned"] == []


@given(
    st.integers(1, 400),
    st.floats(1, 24),
    st.integers(0, 20),
    st.integers(2, 20),
    st.floats(0.5, 3.0),
)
def test_what_is_sold_is_made_and_what_is_made_is_bought(
    sold: int, keeps: float, opens: int, hours: int, factor: float
) -> None:
    batch = pearls_batch(
        yield_factor=factor, keeps_for=s.keeps(hours=keeps), scales={"full": 1.0, "quarter": 0.25}
    )
    drink = pearl_drink(batch)
    made = plan(
        s.menu(drinks=[drink]),
        s.sold(drink, sold),
        opens=opens * 60,
        closes=(opens * 60 + hours * 60) % 1440 if hours < 24 else opens * 60,
    )
    (pearls,) = made.batches
    assert sum(r.share for r in pearls.makings) == pytest.approx(pearls.share)
    for run in pearls.makings:
        assert run.figure.factor >= run.share * (1 - 1e-8)
        assert run.figure.factor - run.share < 0.25 + 1e-8
        assert run.until_min - run.ready_min <= keeps * 60 * (1 + 1e-8)
    assert made.purchases[0].mass_g == pytest.approx(
        500 * sum(r.figure.factor for r in pearls.makings)
    )


def test_each_making_covers_what_its_hours_sell() -> None:
    # 12 h of 120 drinks, 100 of them in the first four hours: pearls that keep 4 h are made three
    # times, 50 g a drink of a batch that gives 1000 g: 5, 0.5 and 0.5 batches.
    drink = pearl_drink(pearls_batch())
    menu = s.menu(drinks=[drink])
    day = replace(s.day([s.sold(drink, 120)]), spread=((600.0, 840.0, 100 / 120),
                                                      (840.0, 1320.0, 20 / 120)))  # fmt: skip
    figured = dp.plan_day(menu, day, servings(drink))
    (pearls,) = figured.batches
    assert [making.share for making in pearls.makings] == pytest.approx([5.0, 0.5, 0.5])
    assert sum(making.share for making in pearls.makings) == pytest.approx(pearls.share)


def test_what_comes_from_the_tap_is_not_bought() -> None:
    water = s.ingredient("water", on_tap=True, pack=s.pack(1000, "ml"), density_g_ml=1.0)
    dry = s.ingredient("dry-pearls", pack=s.pack(1000))
    batch = s.batch("pearls", [s.part(dry, 500), s.part(water, 500)])
    drink = pearl_drink(batch)
    figured = plan(s.menu(drinks=[drink]), s.sold(drink, 10))
    assert [one.ingredient.id for one in figured.purchases] == ["dry-pearls"]
