"""Every combination a guest can order, and that each verdict holds at every step."""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import build_samples as b
import menu_samples as m
import pytest
from hypothesis import given, settings
from menu_samples import check_once

from buildsheets import api
from buildsheets.cup.scan import Scan, choices, figure, scan
from buildsheets.cup.serving import Choice, add_ons_for
from buildsheets.menu.model import Drink

EXTRAS = (
    b.add_on(b.PEARLS, 40, "pearls"),
    b.add_on(b.CREAM, 20, "cream"),
    b.add_on(b.COCOA, 1, "cocoa"),
)
DRINK = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 100), b.to_line(b.TEA, 400), add_ons=EXTRAS)


@pytest.mark.parametrize(("at_most", "sets"), [(0, 1), (1, 1 + 3), (2, 1 + 3 + 3)])
def test_every_combination_comes_once(at_most: int, sets: int) -> None:
    found = list(choices(replace(DRINK, add_ons_at_most=at_most), b.CUP))
    assert len(found) == len(set(found)) == sets * 5 * 3


def test_a_fixed_drink_has_one_choice() -> None:
    fixed = replace(DRINK, sweetness=None, ice=None, add_ons=())
    assert list(choices(fixed, b.CUP)) == [Choice(None, None)]


def test_an_add_on_without_an_amount_for_the_cup_is_not_offered() -> None:
    elsewhere = replace(EXTRAS[0], amounts={"large": EXTRAS[0].amounts["regular"]})
    drink = replace(DRINK, add_ons=(elsewhere, EXTRAS[1]))
    assert [a.id for a in add_ons_for(drink, b.CUP)] == ["cream"]
    assert all("pearls" not in choice.add_ons for choice in choices(drink, b.CUP))


def test_what_a_scan_says_is_what_each_serving_says() -> None:
    caps = (b.add_on(b.CREAM, 42, "cream"), b.add_on(b.CREAM, 60, "much-cream"), EXTRAS[0])
    mean = replace(DRINK, hold_back_most_share=0.05, add_ons=caps)
    found = scan(mean, b.CUP)
    assert len(found.outcomes) == 7 * 5 * 3
    assert found.too_much
    assert any(o.held_back_ml > 0 for o in found.outcomes)
    for outcome in found.outcomes:
        serving = figure(mean, b.CUP, outcome.choice)
        assert outcome.verdict == serving.verdict
        assert outcome.held_back_ml == pytest.approx(serving.held_back_ml)
        assert outcome.over_ml == pytest.approx(serving.over_ml)


def test_what_was_let_go_of_is_worked_out_anew_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("buildsheets.cup.scan.MOST_HELD", 2)
    monkeypatch.setattr(Scan, "_latest", deque())
    scans = [Scan(DRINK, b.CUP) for _ in range(4)]
    first = [(one.outcomes, one.made) for one in scans]
    assert [bool(one._servings) for one in scans] == [False, False, True, True]
    assert [(one.outcomes, one.made) for one in scans] == first
    assert scans[0].outcomes is not first[0][0]


@settings(max_examples=25)
@given(b.drinks(shaken=False, full=True))
def test_a_choice_that_fits_fits_at_every_step(drink: Drink) -> None:
    for outcome in scan(drink, b.CUP).outcomes:
        serving = figure(drink, b.CUP, outcome.choice)
        states = api.states_after_each_step(b.cup(), b.api_items(serving), b.WORKING)
        tops = max(state.top_ml for state in states)
        if outcome.verdict == "fits":
            assert tops <= b.WORKING + 1e-6
        else:
            assert tops == pytest.approx(b.WORKING + outcome.over_ml)
            assert outcome.over_ml > 0


def test_every_choice_of_the_demo_menu_that_fits_fits_at_every_step() -> None:
    for serving in check_once(m.DEMO).servings:
        for outcome in serving.choices.outcomes[::7]:
            if outcome.verdict == "fits":
                steps = serving.choices[outcome.choice].steps
                assert all(step.state.fits for step in steps)
