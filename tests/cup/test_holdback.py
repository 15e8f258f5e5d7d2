"""Hold-back: exact, on the safe side of the tool's step, and impossible when it is."""

import pytest
from figure_samples import cup_of_class, numbers
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.cup.fill import contents_state
from buildsheets.cup.holdback import hold_back, round_down, round_near, round_up
from buildsheets.cup.items import Bed, Cap, Ice, Liquid

CUP = cup_of_class(500)
WORKING = CUP.working_ml(headspace_mm=5)
VERDICTS = ["fits", "fluid_fits", "lid_fits", "simple_rule_fits"]


def holds(items, index, amount, verdict):
    changed = [*items[:index], items[index].with_amount(amount), *items[index + 1 :]]
    return getattr(contents_state(CUP, changed, WORKING), verdict)


def test_without_solids_it_is_a_subtraction():
    back = hold_back(CUP, [Liquid(450, 1.0), Cap(40, 1.0, 100)], 0, working_ml=400, step=30)
    assert back.most == pytest.approx(320)
    assert back.most_to_step == 300
    assert back.held_back == 150
    assert back.possible


def test_floating_ice_worked_by_hand():
    # ice top = V + M/rho + (1 - r) V_b with M = 205, rho = 1.03, packing 0.55, density 0.9167
    bulk = 205 / 0.9167 / 0.55
    stands_out = (1 - 0.9167 / 1.03) * bulk
    back = hold_back(CUP, [Liquid(245, 1.03), Ice(205)], 0, working_ml=WORKING)
    assert back.most == pytest.approx(WORKING - 205 / 1.03 - stands_out, abs=1e-8)
    assert back.most_to_step == back.most, "no tool was named"


@given(
    numbers(1, 500),
    numbers(0, 300),
    numbers(0, 100),
    st.integers(0, 3),
    st.sampled_from(VERDICTS),
    st.sampled_from([1.0, 5.0, 7.5]),
)
def test_the_most_is_the_most(volume, ice, bed, index, verdict, step):
    items = [Bed(bed, 1.1, 0.66), Liquid(volume, 1.03), Ice(ice), Cap(40, 1.0, 100)]
    written = items[index].amount
    back = hold_back(CUP, items, index, working_ml=WORKING, verdict=verdict, step=step)
    if back.most is None:
        assert not holds(items, index, 0, verdict)
    elif back.most == written:
        assert holds(items, index, written, verdict)
        assert back.most_to_step == written
        assert back.held_back == 0
    else:
        assert holds(items, index, back.most, verdict)
        assert not holds(items, index, min(written, back.most + 1e-4), verdict)
        assert 0 <= back.most - back.most_to_step < step + 1e-9
        assert back.most_to_step / step == pytest.approx(round(back.most_to_step / step))
        assert holds(items, index, back.most_to_step, verdict)


def test_an_exact_multiple_of_the_step_is_kept():
    back = hold_back(CUP, [Liquid(0.4, 1.0)], 0, working_ml=0.3, step=0.1)
    assert back.most_to_step == pytest.approx(0.3)


def test_impossible_when_the_rest_is_too_much():
    back = hold_back(CUP, [Liquid(100, 1.0), Ice(300)], 0, working_ml=WORKING)
    assert (back.possible, back.most, back.most_to_step, back.held_back) == (False,) + (None,) * 3


def test_suggestions_for_any_item_and_room_for_more():
    items = [Bed(60, 1.1, 0.66), Liquid(200, 1.03), Ice(130), Cap(40, 1.0, 100)]
    for index, unit_ml in ((0, 1 / 1.1), (2, 1 / 0.9167), (3, 2.0)):
        back = hold_back(CUP, items, index, working_ml=470)
        over = contents_state(CUP, items, 470).top_ml - 470
        # the cap covers the ice, so a gram is worth its true volume
        assert back.written - back.most == pytest.approx(over / unit_ml, abs=1e-6)
    more = hold_back(CUP, [Liquid(100, 1.0)], 0, working_ml=400, at_most=500)
    assert more.most == pytest.approx(400)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [({"index": 1}, "index"), ({"index": -1}, "index"), ({"step": 0}, "step"),
     ({"working_ml": 600}, "working_ml"), ({"at_most": 0}, "at_most")],
)  # fmt: skip
def test_refusals_name_the_input(arguments, named):
    with pytest.raises(FigureError) as refused:
        hold_back(CUP, [Liquid(100, 1.0)], **{"index": 0, **arguments})
    assert refused.value.input_name == named


@pytest.mark.parametrize("step", [0.1, 0.5, 2.5, 30.0])
@pytest.mark.parametrize("whole", [0, 1, 3, 7])
def test_amounts_are_taken_to_the_step(whole, step):
    kept = pytest.approx(whole * step), pytest.approx(whole * step + step)
    for part, down, near, up in ((0, 0, 0, 0), (0.2, 0, 0, 1), (0.5, 0, 0, 1), (0.8, 0, 1, 1)):
        amount = (whole + part) * step
        assert round_down(amount, step) == kept[down]
        assert round_near(amount, step) == kept[near]
        assert round_up(amount, step) == kept[up]


def test_binary_noise_is_forgiven_and_without_a_step_nothing_is_rounded():
    assert 0.1 + 0.2 > 0.3
    assert round_up(0.1 + 0.2, 0.1) == pytest.approx(0.3)
    assert round_near(2.5 * (0.1 + 0.2), 0.3) == pytest.approx(0.6), "the lower of two as near"
    assert round_down(0.3, 0.1) == pytest.approx(0.3)
    for rounded in (round_down, round_near, round_up):
        assert rounded(0.37, 0.0) == 0.37
