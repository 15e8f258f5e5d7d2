"""The most of each amount that fits: it does, and one step of its tool more does not."""

from __future__ import annotations

from dataclasses import replace

import build_samples as b
import pytest
from hypothesis import assume, given, settings

from buildsheets.cup.fit import LEAST_SHARE, Most, default_choice, most_that_fits
from buildsheets.cup.scan import figure, scan
from buildsheets.menu.model import AddStep, Drink


def mosts(drink: Drink) -> list[Most]:
    return most_that_fits(scan(drink, b.CUP).fit(default_choice(drink)))


def kind(most: Most) -> str:
    return type(most.step.item).__name__


def changed(drink: Drink, most: Most, amount: float) -> Drink:
    step = drink.steps[most.at]
    assert isinstance(step, AddStep)
    made = b.made(step.component, amount)
    if most.step.line_ml is not None:
        made = b.to_line(step.component, amount).amounts["regular"]  # type: ignore[assignment]
    steps = list(drink.steps)
    steps[most.at] = replace(step, amounts={"regular": made}, tool=None)
    return replace(drink, steps=tuple(steps))


OVER = b.drink(
    b.add(b.PEARLS, 60, tool=b.tool(step=0.5, holds=40.0)),
    b.add(b.SYRUP, 30),
    b.add(b.ICE, 160, tool=b.tool(step=0.5, holds=60.0)),
    b.add(b.TEA, 260, makes_room=True, tool=b.tool(step=5.0)),
    b.add(b.CREAM, 20),
    b.add(b.COCOA, 1),
)


def test_ice_comes_first_then_base_then_cap_then_bed_and_never_dust() -> None:
    kinds = [kind(most) for most in mosts(OVER)]
    assert kinds[0] == "Ice"
    assert kinds == sorted(kinds, key=["Ice", "Liquid", "Cap", "Bed"].index)
    assert "Dusted" not in kinds
    pearls, syrup, ice, _, cream, _ = OVER.steps
    less = b.add(b.TEA, 190, makes_room=True, tool=b.tool(step=5.0))  # each can fix it alone
    kinds = [kind(most) for most in mosts(b.drink(pearls, cream, syrup, ice, less))]
    assert kinds == ["Ice", "Liquid", "Liquid", "Cap", "Bed"], "wherever they stand"


def test_each_is_a_whole_number_of_steps_of_its_tool() -> None:
    for most in mosts(OVER):
        assert most.most / most.tool_step == pytest.approx(round(most.most / most.tool_step))
        assert most.least <= most.most < most.whole


def test_half_a_scoop_of_ice_is_offered_where_no_more_fits() -> None:
    """30 g of ice in 420 ml of water stand at 450 + 0.0833 x 59.5 = 455 of 473 ml, 60 g at 490."""
    scoop = b.tool(step=0.5, holds=60.0)
    much = b.drink(b.add(b.TEA, 420, makes_room=True), b.add(b.ICE, 120, tool=scoop))
    ice = mosts(much)[0]
    assert (kind(ice), ice.most, ice.least) == ("Ice", 30.0, 30.0)


def test_nothing_is_offered_that_would_leave_another_drink() -> None:
    small = b.drink(b.add(b.SYRUP, 10), b.add(b.TEA, 700, makes_room=True))
    assert [kind(most) for most in mosts(small)] == ["Liquid"]
    (tea,) = mosts(small)
    assert tea.most >= LEAST_SHARE * 700
    # less syrup alone cannot fix a cup that runs over with tea
    assert tea.step.step is small.steps[1]


def test_a_line_is_not_lowered_below_what_is_in_the_cup() -> None:
    drink = b.drink(b.add(b.MILK, 300), b.to_line(b.TEA, 470), b.add(b.CREAM, 90))
    # The cap of 162 ml needs the line at 311; the milk stands at 300.
    (line,) = [most for most in mosts(drink) if most.step.line_ml is not None]
    assert line.most == 310
    deep = b.drink(b.add(b.MILK, 320), b.to_line(b.TEA, 470), b.add(b.CREAM, 90))
    assert not [most for most in mosts(deep) if most.step.line_ml is not None]


@settings(max_examples=100)
@given(b.drinks(full=True))
def test_the_most_fits_and_one_step_more_does_not(drink: Drink) -> None:
    first = drink.steps[0]
    assert isinstance(first, AddStep)
    drink = replace(drink, steps=(b.add(b.CREAM, 45), *drink.steps))
    assume(figure(drink, b.CUP).verdict == "too-much")
    for most in mosts(drink):
        fixed = figure(changed(drink, most, most.most), b.CUP)
        assert fixed.verdict == "fits"
        assert not any(u.already_over_ml > 1e-6 for u in fixed.used)
        more = most.most + most.tool_step
        if more < most.whole:
            assert figure(changed(drink, most, more), b.CUP).verdict == "too-much"
