"""Fill to a line: against a bisection on the levels, in every regime, and in hand-worked cases."""

import pytest
from figure_samples import contents, cup_of_class, numbers
from hypothesis import assume, given

from buildsheets.cup.contents import add_up, levels, poured_to
from buildsheets.cup.errors import AboveRimError, FigureError
from buildsheets.cup.fill import fill_to_line
from buildsheets.cup.items import Bed, Ice, Liquid
from buildsheets.cup.simulate import ToLine, resolve_lines


@given(contents, numbers(0, 700), numbers(0.8, 1.4))
def test_the_liquid_stands_at_the_line(listed, line, density):
    sums = add_up(listed)
    poured, over = poured_to(sums, line, density)
    now = levels(sums).liquid
    if now >= line:
        assert (poured, over) == (0, pytest.approx(now - line))
    else:
        assert over == 0
        assert levels(add_up([Liquid(poured, density)], sums)).liquid == pytest.approx(
            line, abs=1e-8
        )


@given(contents, numbers(0, 700), numbers(0.8, 1.4))
def test_the_pour_is_that_of_a_bisection(listed, line, density):
    sums = add_up(listed)
    assume(levels(sums).liquid < line)

    def short(poured):
        return levels(add_up([Liquid(poured, density)], sums)).liquid < line

    low, high = 0.0, line
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if short(middle) else (low, middle)
    poured, _ = poured_to(sums, line, density)
    # With ice packed very dense under a much denser pour the level may cross the line twice; the
    # answer is then the first crossing, which a bisection need not find.
    before = [poured * share / 50 for share in range(50)]
    assert all(short(amount) for amount in before if amount < poured - 1e-6)
    if short(max(0.0, low - 1e-6)) and poured == pytest.approx(low, abs=1e-6):
        return
    assert poured <= low + 1e-6


@pytest.mark.parametrize(
    ("listed", "line", "poured"),
    [
        # 20 ml of bed voids at 0.4 per ml of reading
        ([Bed(66, 1.1, 0.66)], 50, 20),
        # all the voids (40), then clear liquid
        ([Bed(66, 1.1, 0.66)], 150, 90),
        # two layers: 100 ml at 0.4, then 30 of 50 ml at 0.5
        ([Bed(66, 1.1, 0.66), Bed(30, 1.2, 0.6)], 130, 40 + 15),
        # resting ice: 45 % of the reading is voids
        ([Ice(150)], 100, 45),
        # floating in water: the line less the mass of the ice
        ([Ice(150)], 300, 150),
        # over a bed: less the solid bed as well
        ([Bed(66, 1.1, 0.66), Ice(150)], 400, 400 - 60 - 150),
    ],
)
def test_pours_of_water_worked_by_hand(listed, line, poured):
    filled = fill_to_line(cup_of_class(500), listed, density=1.0, line_ml=line)
    assert filled.poured_ml == pytest.approx(poured, abs=1e-9)
    assert filled.state.liquid_level_ml == pytest.approx(line, abs=1e-9)
    assert filled.already_over_ml == 0


def test_floating_formula_with_a_changing_density():
    listed = [Bed(55, 1.1, 0.66), Liquid(25, 1.3166), Liquid(110, 1.0017), Ice(140)]
    filled = fill_to_line(cup_of_class(500), listed, density=1.03, line_ml=390)
    poured = filled.poured_ml
    mixed = (25 * 1.3166 + 110 * 1.0017 + poured * 1.03) / (135 + poured)
    assert filled.state.ice_regime == "floats"
    assert poured == pytest.approx(390 - 135 - 50 - 140 / mixed, abs=1e-9)


def test_a_little_water_on_syrup_that_carries_much_crushed_ice():
    # 60 ml of 1.35 g/ml and 10 of 1 are 70 ml of 1.3 g/ml: 250 g of ice push away 250 / 1.3 ml
    listed = [Liquid(60, 1.35), Ice(250, packing=0.8)]
    filled = fill_to_line(cup_of_class(500), listed, density=1.0, line_ml=70 + 250 / 1.3)
    assert filled.state.ice_regime == "floats"
    assert filled.poured_ml == pytest.approx(10, abs=1e-9)


def test_a_line_in_millimetres():
    cup = cup_of_class(500)
    filled = fill_to_line(cup, [Ice(140)], density=1.0, line_mm=80)
    assert filled.line_ml == pytest.approx(cup.volume_ml(80))
    assert filled.line_mm == 80
    assert filled.state.liquid_level_mm == pytest.approx(80, abs=1e-9)


def test_already_over_the_line():
    filled = fill_to_line(cup_of_class(500), [Liquid(200, 1.0), Ice(100)], density=1, line_ml=250)
    assert filled.poured_ml == 0
    assert filled.already_over_ml == pytest.approx(50)
    assert filled.state.liquid_ml == 200


def test_thirty_grams_more_ice_is_about_28_ml_less_drink():
    cup = cup_of_class(500)
    listed = [Bed(55, 1.1, 0.66), Liquid(25, 1.3166), Liquid(110, 1.0017)]
    less, more = (
        fill_to_line(cup, [*listed, Ice(ice)], density=1.03, line_ml=390).poured_ml
        for ice in (140, 170)
    )
    assert less - more == pytest.approx(28, abs=0.5)


def test_line_steps_among_others():
    cup = cup_of_class(500)
    resolved = resolve_lines(
        cup, [Ice(100), ToLine(1.0, line_ml=200), Liquid(20, 1.3), ToLine(1.03, line_ml=300)]
    )
    assert [type(item) for item in resolved] == [Ice, Liquid, Liquid, Liquid]
    assert resolved[1].volume_ml == pytest.approx(100)
    assert levels(add_up(resolved)).liquid == pytest.approx(300)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda cup: fill_to_line(cup, [], density=1.0, line_ml=506), "line_ml"),
        (lambda cup: fill_to_line(cup, [], density=1.0, line_mm=114.1), "line_mm"),
        (lambda cup: fill_to_line(cup, [], density=1.0, line_ml=-1), "line_ml"),
        (lambda cup: fill_to_line(cup, [], density=1.0, line_mm=-1), "line_mm"),
        (lambda cup: fill_to_line(cup, [], density=0, line_ml=10), "density"),
        (lambda cup: fill_to_line(cup, [], density=1.0), "line_ml"),
        (lambda cup: fill_to_line(cup, [], density=1.0, line_ml=1, line_mm=1), "line_ml"),
        (lambda cup: fill_to_line(cup, [], density=1.0, line_ml=float("nan")), "line_ml"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call(cup_of_class(500))
    assert refused.value.input_name == named


def test_a_line_at_the_rim_is_allowed_and_above_it_is_not():
    cup = cup_of_class(500)
    filled = fill_to_line(cup, [], density=1.0, line_ml=cup.brimful_ml)
    assert filled.poured_ml == cup.brimful_ml
    assert fill_to_line(cup, [], density=1.0, line_mm=0.0).poured_ml == 0.0  # the floor is a line
    with pytest.raises(AboveRimError):
        fill_to_line(cup, [], density=1.0, line_ml=cup.brimful_ml + 0.1)
