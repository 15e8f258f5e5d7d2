"""Batches: worked examples, exact rational arithmetic as reference, and forgiving counts."""

from fractions import Fraction

import pytest
from figure_samples import numbers
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.prep.yields import (
    BatchIngredient,
    batch_yield,
    bowl_loads,
    packs_needed,
    portions_from,
    whole_above,
    whole_below,
    whole_packs_of,
)

# An invented cream cap: cream, milk, and a 397 g can of sweetened condensed milk.
CAP = [
    BatchIngredient("cream", 500, 1.006, pack_g=500),
    BatchIngredient.by_volume("milk", 100, 1.0313, pack_g=1031.3),
    BatchIngredient.by_packs("condensed milk", 0.5, 397, 1.2934),
]

NO_SALT = [*CAP, BatchIngredient("salt", 0, 1.2, pack_g=100)]


def test_a_batch_worked_by_hand():
    batch = batch_yield(CAP, portion_ml=60, overrun_pct=80, loss=0.05)
    mass = 500 + 103.13 + 198.5
    unaerated = 500 / 1.006 + 100 + 198.5 / 1.2934
    whipped = unaerated * 1.8
    assert batch.mass_g == pytest.approx(mass)
    assert batch.unaerated_ml == pytest.approx(unaerated)
    assert batch.whipped_ml == pytest.approx(whipped)
    assert batch.yield_ml == pytest.approx(whipped * 0.95)
    assert batch.portions == 21  # 1283.4 / 60 = 21.4
    assert batch.leftover_ml == pytest.approx(whipped * 0.95 - 21 * 60)
    assert batch.foam_density == pytest.approx(mass / whipped)
    assert batch.portion_g == pytest.approx(mass / whipped * 60)
    assert batch.scale_for(42) == pytest.approx(42 * 60 / (whipped * 0.95))
    assert batch.portions_at(batch.scale_for(42)) == 42


def test_whipping_cream_doubles():
    # USDA SR26, NDB 01053: 1 US cup fluid 238 g, whipped 120 g a cup: 1.006 and 0.507 g/ml
    batch = batch_yield([BatchIngredient("cream", 238, 1.0060)], portion_ml=30, overrun_pct=98.3)
    assert batch.foam_density == pytest.approx(0.507, abs=1e-3)


def test_packs_and_leftovers():
    packs = {one.name: one for one in packs_needed(CAP, 2.5)}
    assert packs["cream"].packs == 3
    assert packs["cream"].leftover_g == pytest.approx(250)
    assert packs["condensed milk"].packs == 2
    # a need of 500 ml from packs of 300 ml opens two and leaves 100 ml over
    (one,) = packs_needed([BatchIngredient("cream", 500, 1.0, pack_g=300)])
    assert (one.packs, one.leftover_g) == (2, 100)
    assert packs_needed([BatchIngredient("salt", 5, 1.2)]) == ()


def test_round_up_to_whole_cans():
    batch = batch_yield(CAP, portion_ml=60, overrun_pct=80, loss=0.05)
    whole = whole_packs_of("condensed milk", CAP, batch)
    assert (whole.scale, whole.lead_packs) == (2, 1)
    assert whole.portions == 42  # floor(2 x 21.39)
    assert {one.name: one.packs for one in whole.packs}["cream"] == 2
    assert whole_packs_of("cream", CAP, batch).lead_packs == 1
    assert whole_packs_of("condensed milk", CAP, batch, scale=2.1).lead_packs == 2


def test_the_bowl_must_hold_the_whipped_volume():
    # 900 ml of cream at 100 % overrun does not go into a 2 litre bowl filled to 80 %
    batch = batch_yield([BatchIngredient("cream", 900, 1.0)], portion_ml=50, overrun_pct=100)
    bowl = bowl_loads(batch.whipped_ml, bowl_ml=2000, fill=0.8)
    assert (bowl.fits, bowl.loads) == (False, 2)
    assert bowl.largest_scale == pytest.approx(1600 / 1800)
    at_most = bowl_loads(batch.whipped_ml, bowl_ml=2000, fill=0.8, scale=bowl.largest_scale)
    assert (at_most.fits, at_most.loads) == (True, 1)


@given(st.integers(0, 10**6), st.integers(1, 1000), st.integers(1, 1000))
def test_counts_forgive_binary_noise(count, numerator, denominator):
    portion = numerator / denominator
    assert whole_below(count * portion / portion) == count
    assert whole_above(count * portion / portion) == count
    exact = Fraction(count * numerator, denominator)
    assert whole_below(float(exact)) == exact.__floor__()
    assert whole_above(float(exact)) == exact.__ceil__()


def test_counts_forgive_noise_and_nothing_else():
    assert 0.3 / 0.1 < 3
    assert whole_below(0.3 / 0.1) == 3
    assert whole_above((0.1 + 0.2) / 0.1) == 3
    # a relative 1e-9, an absolute one below 1
    assert whole_below(1e7 - 0.009) == whole_above(1e7 + 0.009) == 10_000_000
    assert (whole_below(1e7 - 0.011), whole_above(1e7 + 0.011)) == (9_999_999, 10_000_001)
    assert (whole_below(1 - 0.9e-9), whole_above(0.9e-9)) == (1, 0)
    assert (whole_below(1 - 1.1e-9), whole_above(1.1e-9)) == (0, 1)
    assert whole_below(2.9999) == 2
    assert whole_above(3.0001) == 4
    assert portions_from(1.2, 0.4) == (3, 0)
    assert portions_from(500, 300) == (1, 200)


@given(numbers(1, 5000), numbers(0.3, 1.5), numbers(0, 250), numbers(0, 0.5), numbers(5, 200))
def test_portions_and_leftover_are_the_yield(mass, density, overrun, loss, portion):
    batch = batch_yield(
        [BatchIngredient("base", mass, density)],
        portion_ml=portion,
        overrun_pct=overrun,
        loss=loss,
    )
    assert batch.portions * portion + batch.leftover_ml == pytest.approx(batch.yield_ml, rel=1e-8)
    assert 0 <= batch.leftover_ml < portion
    assert batch.foam_density * batch.whipped_ml == pytest.approx(mass)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: BatchIngredient("milk", -1, 1.0), "milk.mass_g"),
        (lambda: BatchIngredient("milk", 1, 0), "milk.density"),
        (lambda: BatchIngredient("milk", 1, 1.0, pack_g=0), "milk.pack_g"),
        (lambda: BatchIngredient.by_volume("milk", -1, 1.0), "milk.volume_ml"),
        (lambda: BatchIngredient.by_packs("milk", -1, 100, 1.0), "milk.packs"),
        (lambda: batch_yield([], portion_ml=10), "ingredients"),
        (lambda: batch_yield(CAP, portion_ml=0), "portion_ml"),
        (lambda: batch_yield(CAP, portion_ml=10, overrun_pct=-1), "overrun_pct"),
        (lambda: batch_yield(CAP, portion_ml=10, loss=1), "loss"),
        (lambda: batch_yield(CAP, portion_ml=10, loss=-0.1), "loss"),
        (lambda: packs_needed(CAP, -1), "scale"),
        (lambda: bowl_loads(100, bowl_ml=0), "bowl_ml"),
        (lambda: bowl_loads(100, bowl_ml=100, fill=0), "fill"),
        (lambda: bowl_loads(100, bowl_ml=100, fill=1.1), "fill"),
        (lambda: portions_from(10, 0), "portion"),
        (lambda: whole_packs_of("salt", CAP, batch_yield(CAP, portion_ml=10)), "lead"),
        (lambda: whole_packs_of("salt", NO_SALT, batch_yield(CAP, portion_ml=10)), "lead"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call()
    assert refused.value.input_name == named
