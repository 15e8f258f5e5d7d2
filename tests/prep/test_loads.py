"""Loads and the minutes of their steps, worked by hand; what cools too slowly."""

from __future__ import annotations

from typing import Any

import prep_samples as s
import pytest

from buildsheets.menu.model import Batch, Thing
from buildsheets.prep.batches import figure_batch
from buildsheets.prep.loads import (
    amount_of,
    goes_in_at,
    largest_load,
    load_figure,
    pieces_of,
    slow_cooling,
    split,
    step_times,
)

WATER = s.ingredient("water")
LEAF = s.ingredient("leaf")


def thing(id: str, **given: Any) -> Thing:
    return Thing(id=id, name=s.text(id), span=s.SPAN, **given)


BOILER = thing("boiler", power_w=2000.0, holds_ml=5000.0)
POT = thing("pot", holds_ml=8000.0, fill_share=0.75)
BATH = thing("bath", power_w=800.0, ice=True)
FRIDGE = thing("fridge", count=2, holds_ml=50_000.0, fill_share=0.8, keeps=True)


def tea(**given: Any) -> Batch:
    """3 l of tea: heated from 15 to 95 °C, steeped, cooled to 21 °C in ice and to 5 °C."""
    steps = (
        s.batch_step("heat", on=(BOILER,), adds=(WATER,), from_c=15.0, temperature_c=95.0,
                     hands_on_s=60.0),
        s.batch_step("steep", 300, on=(POT,), adds=(LEAF,), hands_on_s=0.0),
        s.batch_step("cool", on=(POT, BATH), temperature_c=21.0, hands_on_s=90.0),
        s.batch_step("chill", 3600, on=(FRIDGE,), temperature_c=5.0, hands_on_s=60.0),
    )  # fmt: skip
    values: dict[str, Any] = {
        "steps": steps,
        "keeps_for": s.keeps(hours=8, at_c=5.0),
        "scales": {"full": 1.0, "half": 0.5},
        **given,
    }
    return s.batch("tea", [s.part(WATER, 3000), s.part(LEAF, 60)], **values)


def test_minutes_hands_and_ice_by_hand() -> None:
    # Heat: 3000 g x 4.19 x 80 K = 1 005 600 J; / 2000 W = 502.8 s, 9 min begun.
    # Cool: 3060 g x 4.19 x 74 K = 948 784 J; / 800 W = 1186 s, 20 min; / 333.4 J/g = 2846 g ice.
    heat, steep, cool, chill = step_times(tea())
    assert [one.minutes for one in (heat, steep, cool, chill)] == [9, 5, 20, 60]
    assert [one.hands_min for one in (heat, steep, cool, chill)] == [1, 0, 2, 1]
    assert [round(one.ice_g) for one in (heat, steep, cool, chill)] == [0, 0, 2846, 0]
    assert (heat.from_c, heat.to_c, steep.to_c, cool.from_c) == (15.0, 95.0, 95.0, 95.0)


def test_figured_times_grow_with_the_load_and_written_ones_do_not() -> None:
    # 1 508 400 J / 2000 W = 754 s, 13 min; 1 423 176 J / 800 W = 1779 s, 30 min.
    assert [one.minutes for one in step_times(tea(), 1.5)] == [13, 5, 30, 60]


def test_cooking_water_is_heated_too_and_grows_with_the_load() -> None:
    # 4 l at half a batch: 2000 g x 4.19 x 80 K / 2000 W = 335 s, 6 min.
    step = s.batch_step("boil", on=(BOILER,), water_ml=4000.0, temperature_c=100.0)
    batch = s.batch("pearls", [s.part(LEAF, 500)], steps=(
        step, s.batch_step("add", 60, adds=(LEAF,))), scales={"full": 1.0})  # fmt: skip
    (boil, _) = step_times(batch, 0.5)
    assert (boil.minutes, boil.in_ml) == (6, 2000.0)


def test_a_step_without_time_or_power_is_not_known_and_counts_nothing() -> None:
    batch = tea(steps=(s.batch_step("strain"), s.batch_step("hold", on=(BOILER,))))
    assert [(one.minutes, one.known) for one in step_times(batch)] == [(0, False)] * 2
    assert pieces_of(step_times(batch)) == ()


def test_parts_no_step_names_are_in_from_the_start() -> None:
    assert goes_in_at(tea(), "leaf") == 1
    assert goes_in_at(tea(), "sugar") == 0


def test_a_fridge_is_taken_by_the_ml_and_a_pot_whole() -> None:
    *_, cool, chill = pieces_of(step_times(tea()))
    assert cool.uses == (("pot", 1.0), ("bath", 1.0))
    assert chill.uses == (("fridge", 3060.0),)
    assert [amount_of(one) for one in (POT, FRIDGE)] == [1.0, 80_000.0]
    assert amount_of(thing("shelf", keeps=True)) is None


def test_each_vessel_holds_what_is_in_it_at_its_step() -> None:
    # The boiler has 5000 ml for 3000 ml of water, the pot 6000 ml for 3060 ml.
    assert largest_load(tea()) == pytest.approx(5000 / 3000)
    assert largest_load(tea(bowl_ml=4000.0, bowl_fill_share=0.9)) == pytest.approx(3600 / 3060)
    assert largest_load(s.batch("plain", [s.part(WATER, 100)])) is None


@pytest.mark.parametrize(
    ("share", "loads"),
    [
        (0.3, (0.5,)),
        (1.5, (1.5,)),
        (1.6, (1.0, 1.0)),  # 2.0 in all, at most 1.5 at once
        (3.4, (1.5, 1.0, 1.0)),  # 3.5 is seven halves, at most three at once
        (4.5, (1.5, 1.5, 1.5)),
    ],
)
def test_loads_are_even_whole_scales_that_fit(share: float, loads: tuple[float, ...]) -> None:
    assert split(tea(), share) == loads


def test_loads_of_whole_lead_packs() -> None:
    tin = s.ingredient("tin", pack=s.pack(400))
    batch = s.batch("paste", [s.part(tin, 800)], lead=tin, bowl_ml=1300.0)
    # half a batch is a pack; 1300 ml take three packs of 400 ml; 1.6 batches are four packs
    assert split(batch, 1.6) == (1.0, 1.0)


def test_without_scales_loads_are_equal() -> None:
    assert split(tea(scales={}), 2.0) == pytest.approx((1.0, 1.0))


def test_weights_of_loads_never_fall_short_of_the_need() -> None:
    batch = s.batch("b", [s.part(LEAF, 100)], scales={})
    figure = load_figure(batch, 1 / 3, 1.0)
    assert figure.parts[0].weigh_g == 34.0  # three loads of 33 g would lack a gram
    assert figure_batch(batch, 1 / 3, 1.0).parts[0].weigh_g == 33.0
    assert load_figure(batch, 0.5, 1.0).parts[0].weigh_g == 50.0


def cooled(warm_min: float, cold_min: float, **given: Any) -> Batch:
    steps = (
        s.batch_step("heat", 600, temperature_c=95.0),
        s.batch_step("cool", 60 * warm_min, temperature_c=21.0),
        s.batch_step("chill", 60 * cold_min, temperature_c=5.0),
    )
    return tea(steps=steps, **given)


def slow(batch: Batch) -> tuple[float, float] | None:
    found = slow_cooling(s.shop(), batch, step_times(batch))
    return None if found is None else (found.rule.to_c, found.over_min)


def test_two_stages_of_cooling() -> None:
    # Food Code 3-501.14(A): 57 to 21 °C within 2 h, to 5 °C within 6 h in all.
    assert slow(cooled(120, 240)) is None
    assert slow(cooled(121, 30)) == (21.0, 1.0)
    assert slow(cooled(100, 270)) == (5.0, 10.0)


def test_in_one_step_the_food_falls_evenly() -> None:
    # 95 to 5 °C in 3 h passes 21 °C after 148 min: 28 min too long.
    steps = (s.batch_step("heat", 60, temperature_c=95.0),
             s.batch_step("chill", 180 * 60, temperature_c=5.0))  # fmt: skip
    over = slow(tea(steps=steps))
    assert over is not None
    assert over == (21.0, pytest.approx(180 * 74 / 90 - 120))


def test_what_was_never_hot_has_four_hours() -> None:
    # 3-501.14(B), taken for what was warm but not hot too
    def warmed(minutes: float) -> Batch:
        steps = (s.batch_step("warm", 3600, temperature_c=45.0),
                 s.batch_step("chill", 60 * minutes, temperature_c=5.0))  # fmt: skip
        return tea(steps=steps)

    assert slow(warmed(240)) is None
    assert slow(warmed(250)) == (5.0, 10.0)

    def chilled(minutes: float) -> Batch:
        return tea(steps=(s.batch_step("chill", 60 * minutes, temperature_c=5.0),))

    assert slow(chilled(240)) is None
    assert slow(chilled(250)) == (5.0, 10.0)
    assert slow(tea(steps=(s.batch_step("stir", 300 * 60, from_c=4.0),))) is None, "cold already"


def test_what_is_kept_hot_or_never_said_to_cool_is_not_judged() -> None:
    assert slow(cooled(500, 30, keeps_for=s.keeps(hours=4, at_c=60.0))) is None
    assert slow(tea(steps=(s.batch_step("heat", 60, temperature_c=95.0),))) is None
