"""The spread of a fitted build against the public functions for the same steps, and by chance."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import build_samples as b
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.contents import levels
from buildsheets.cup.fit import default_choice
from buildsheets.cup.scan import scan
from buildsheets.cup.serving import Choice
from buildsheets.cup.simulate import run
from buildsheets.cup.steps import build_of
from buildsheets.menu.model import Drink, Tolerance

JUG = b.tool(step=5.0, tolerance=Tolerance(4.0, None, "limit", "ml"))
SCALE = b.tool("g", step=1.0, tolerance=Tolerance(8.0, None, "std", "g"))
SHARE = b.tool(step=5.0, tolerance=Tolerance(None, 0.03, "limit"))
LINE = b.tool("mm", step=1.0, tolerance=Tolerance(2.0, None, "limit", "mm"))

FIXED = b.drink(
    b.add(b.PEARLS, 50, tool=SCALE),
    b.add(b.SYRUP, 30, tool=SHARE),
    b.add(b.ICE, 120, tool=SCALE),
    b.add(b.TEA, 230, makes_room=True, tool=JUG),
)
LINED = b.drink(b.add(b.SYRUP, 30, tool=SHARE), b.add(b.ICE, 120, tool=SCALE),
                b.to_line(b.TEA, 420, tool=LINE))  # fmt: skip
CAPPED = b.drink(*FIXED.steps, b.add(b.CREAM, 30, tool=b.tool(
    step=5.0, tolerance=Tolerance(3.0, None, "limit", "ml"))))  # fmt: skip


def of(drink: Drink, size: object = b.CUP, choice: Choice | None = None) -> api.Spread:
    return scan(drink, size).spread(choice or default_choice(drink))  # type: ignore[arg-type]


PUBLIC = {
    "fixed": (
        FIXED,
        [api.Bed(50, 1.1, 0.66), api.Liquid(30, 1.3), api.Ice(120, 0.9167, 0.55),
         api.Liquid(230, 1.0)],
        [api.Tolerance(8, kind="std"), api.Tolerance(3, percent=True),
         api.Tolerance(8, kind="std"), api.Tolerance(4)],
    ),
    "line": (
        LINED,
        [api.Liquid(30, 1.3), api.Ice(120, 0.9167, 0.55), api.ToLine(1.0, 420.0)],
        [api.Tolerance(3, percent=True), api.Tolerance(8, kind="std"),
         api.Tolerance.of_line(b.cup(), 420, 2)],
    ),
    "cap": (
        CAPPED,
        [api.Bed(50, 1.1, 0.66), api.Liquid(30, 1.3), api.Ice(120, 0.9167, 0.55),
         api.Liquid(230, 1.0), api.Cap(30, 1.0, 80)],
        # 3 ml of a cap with 80 % of air weigh 3 / 1.8 g
        [api.Tolerance(8, kind="std"), api.Tolerance(3, percent=True),
         api.Tolerance(8, kind="std"), api.Tolerance(4), api.Tolerance(3 / 1.8)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PUBLIC)
def test_it_agrees_with_the_public_function_for_the_same_steps(name: str) -> None:
    drink, steps, tolerances = PUBLIC[name]
    one = of(drink)
    other = api.build_spread(b.cup(), steps, tolerances, working_ml=b.WORKING)
    assert one.nominal_ml == pytest.approx(other.nominal_ml)
    assert [t.sensitivity for t in one.terms] == pytest.approx(
        [t.sensitivity for t in other.terms], abs=1e-6
    )
    assert one.worst_ml == pytest.approx(other.worst_ml)
    assert one.standard_ml == pytest.approx(other.standard_ml)
    assert one.p_over == pytest.approx(other.p_over)


@pytest.mark.slow
@pytest.mark.parametrize("name", PUBLIC)
def test_it_agrees_with_chance_through_the_whole_model(name: str) -> None:
    drink, steps, tolerances = PUBLIC[name]
    one = of(drink)
    drawn = api.build_monte_carlo(b.cup(), steps, tolerances, working_ml=b.WORKING, seed=3)
    assert one.nominal_ml == pytest.approx(drawn.mean_ml, abs=1.5)
    assert one.standard_ml == pytest.approx(drawn.standard_ml, rel=0.08)
    assert one.p_over == pytest.approx(drawn.p_over, abs=0.02)


def test_a_shaken_drink_agrees_with_chance() -> None:
    """Each amount drawn from its tool's law and put through the whole simulation, 4,000 times."""
    scoop = b.tool("g", step=1.0, tolerance=Tolerance(5.0, None, "std", "g"))
    drink = b.drink(
        b.add(b.SYRUP, 30, into="shaker", tool=SHARE),
        b.add(b.TEA, 220, into="shaker", makes_room=True, tool=JUG),
        b.add(b.ICE, 150, into="shaker", tool=scoop),
        b.do("shake", "dumped"),
    )
    one = of(drink)
    chance = random.Random(11)
    steps = build_of(drink, b.CUP).steps
    drawn = []
    for _ in range(4000):
        amounts = [
            30 + 0.9 * (2 * chance.random() - 1),
            220 + 4 * (2 * chance.random() - 1),
            chance.gauss(150, 5),
            0.0,
        ]
        drawn.append(levels(run(steps, amounts)[-1].cup).top)
    mean = math.fsum(drawn) / len(drawn)
    deviation = math.sqrt(math.fsum((x - mean) ** 2 for x in drawn) / len(drawn))
    assert one.nominal_ml == pytest.approx(mean, abs=0.5)
    assert one.standard_ml == pytest.approx(deviation, rel=0.05)


def test_limits_of_counted_tools_add_up_and_deviations_add_by_their_squares() -> None:
    """JCGM 100:2008, 5.1.2: independent uncertainties add by their squares."""
    for kind, grown in (("limit", 4 * 2.0 / math.sqrt(3)), ("std", 2 * 2.0)):
        scoop = b.tool(step=0.5, holds=25.0, tolerance=Tolerance(2.0, None, kind, "g"))
        drink = b.drink(b.add(b.SYRUP, 20), b.add(b.ICE, 100, tool=scoop),
                        b.add(b.TEA, 250, makes_room=True))  # fmt: skip
        (ice,) = [term for term in of(drink).terms if term.name == "ice"]
        assert ice.tolerance.standard(ice.amount) == pytest.approx(grown)


def test_a_line_cancels_what_the_scoop_strays_before_it() -> None:
    drink = b.drink(b.add(b.SYRUP, 30), b.add(b.ICE, 40, tool=SCALE), b.to_line(b.TEA, 420))
    no_lid = replace(b.CUP, lid="none")  # the level of the drink, not of its ice
    terms = of(drink, no_lid).terms
    assert [term.name for term in terms] == ["syrup", "ice", "tea"]  # with what does not stray
    assert terms[1].sensitivity == pytest.approx(0, abs=1e-6)


def test_a_lower_line_of_a_choice_is_still_a_line() -> None:
    drink = replace(LINED, ice=b.ice_levels("same_amounts"))
    no_lid = replace(b.CUP, lid="none")
    found = of(drink, no_lid, Choice(1.0, "less"))
    by_name = {term.name: term for term in found.terms}
    assert by_name["tea"].amount < 420
    assert by_name["tea"].amount % 5 == pytest.approx(0)
    assert by_name["tea"].sensitivity == pytest.approx(1, abs=1e-6)
    assert by_name["ice"].sensitivity == pytest.approx(0, abs=1e-6)


def test_pressed_ice_is_judged_as_the_lid_judges_it() -> None:
    heap = b.drink(b.add(b.ICE, 230, tool=SCALE), b.add(b.TEA, 100, makes_room=True),
                   lid_may_press=True)  # fmt: skip
    (ice,) = [term for term in of(heap).terms if term.name == "ice"]
    assert of(heap).nominal_ml == pytest.approx(230 / 0.9167 / 0.55)
    assert ice.sensitivity == pytest.approx(1 / 0.9167 / 0.55)


@settings(max_examples=60)
@given(b.drinks(shaken=False), st.sampled_from([1.0, 3.0]))
def test_it_agrees_with_the_public_function_for_any_drink(drink: Drink, size: float) -> None:
    tool = b.tool(tolerance=Tolerance(size, None, "limit", "ml"))
    drink = replace(drink, steps=tuple(
        replace(s, tool=tool) if getattr(s, "makes_room", False) else replace(s, tool=None)
        if hasattr(s, "tool") else s for s in drink.steps))  # fmt: skip
    one = of(drink)
    scanned = scan(drink, b.CUP)
    items = b.api_items(scanned[default_choice(drink)])
    steps: list[object] = []
    tolerances: list[api.Tolerance | None] = []
    for step, item in zip(scanned.build.steps, items, strict=True):
        steps.append(api.ToLine(1.0, step.line_ml) if step.line_ml is not None else item)
        tolerances.append(api.Tolerance(size) if step.body else None)
    other = api.build_spread(b.cup(), steps, tolerances, working_ml=b.WORKING)  # type: ignore[arg-type]
    assert one.nominal_ml == pytest.approx(other.nominal_ml)
    assert one.standard_ml == pytest.approx(other.standard_ml, abs=1e-6)
