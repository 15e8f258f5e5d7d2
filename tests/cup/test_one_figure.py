"""What a set of add-ons takes is one figure for every sweetness and ice, with room for hands."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import build_samples as b
import menu_samples as m
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from menu_samples import check_once

from buildsheets import api
from buildsheets.cup.fit import default_choice
from buildsheets.cup.scan import Scan, choices, scan
from buildsheets.cup.serving import Choice, Serving
from buildsheets.cup.steps import build_of
from buildsheets.menu.model import AddStep, Drink, LineTo, Tolerance

Laid = dict[tuple[str, ...], dict[Choice, Serving]]


def base_of(serving: Serving) -> float:
    """The line the base is poured to, or how much of it goes in."""
    used = serving.body.used
    assert used is not None
    return used.volume_ml if used.to_line_ml is None else used.to_line_ml


def step_of(scanned: Scan) -> float:
    """What the base can be measured to: 5 ml of a line, the step of a tool, 0 without a tool."""
    return scanned.build.steps[scanned.build.body].tool_step


def served(scanned: Scan) -> Laid:
    """The choices that can be served, by their add-ons."""
    found: Laid = {}
    for choice in choices(scanned.build.drink, scanned.build.size):
        serving = scanned[choice]
        if serving.verdict != "too-much":
            found.setdefault(choice.add_ons, {})[choice] = serving
    return found


def figures(scanned: Scan, laid: Laid, add_ons: tuple[str, ...]) -> set[float]:
    """What is taken from each choice that can be served, to a hundredth of a ml. Of an amount that
    its tool cannot make, as it is written, the next one it can make counts."""
    step, found = step_of(scanned), set()
    for choice, serving in laid.get(add_ons, {}).items():
        without = base_of(scanned[replace(choice, add_ons=())])
        if base_of(serving) == 0.0:
            continue  # nothing is left to take, which a finding says
        taken = without - base_of(serving)
        if step and taken > 1e-6:
            taken = math.ceil(without / step - 1e-9) * step - base_of(serving)
        found.add(round(taken, 2))
    return found


# the law of one figure ---------------------------------------------------------------------------
@settings(max_examples=60)
@given(b.drinks(full=True))
def test_the_figure_of_a_set_is_the_same_for_every_sweetness_and_ice(drink: Drink) -> None:
    scanned = scan(drink, b.CUP)
    laid = served(scanned)
    for add_ons in laid.keys() - {()}:
        assert len(figures(scanned, laid, add_ons)) <= 1


@settings(max_examples=60)
@given(b.drinks(full=True))
def test_by_ice_a_set_has_one_figure_for_each_ice_level(drink: Drink) -> None:
    scanned = scan(replace(drink, room_by_ice=True), b.CUP)
    laid = served(scanned)
    for add_ons in laid.keys() - {()}:
        for ice in ("none", "less", "regular"):
            there = {c: s for c, s in laid[add_ons].items() if c.ice == ice}
            assert len(figures(scanned, {add_ons: there}, add_ons)) <= 1


@settings(max_examples=60)
@given(b.drinks(full=True))
def test_by_ice_as_much_is_taken_as_the_ice_level_needs(drink: Drink) -> None:
    scanned = scan(replace(drink, room_by_ice=True), b.CUP)
    for add_ons, made in served(scanned).items():
        for choice in made if add_ons else ():
            needs = scanned.needs(choice)[choice.ice]
            assert scanned.fit(choice).taken == pytest.approx(needs, abs=1e-6)


@settings(max_examples=60)
@given(b.drinks(full=True))
def test_what_is_poured_can_be_measured_wherever_something_is_left_out(drink: Drink) -> None:
    scanned = scan(drink, b.CUP)
    step = step_of(scanned)
    for serving in [s for made in served(scanned).values() for s in made.values()]:
        if step and serving.held_back_ml > 0:
            assert base_of(serving) / step == pytest.approx(round(base_of(serving) / step))


def overfull(scanned: Scan, serving: Serving, more: float) -> bool:
    """Whether the cup is too full with so much more base, by the public functions alone."""
    items = b.api_items(serving)
    at = next(i for i, f in enumerate(serving.steps) if f is serving.body)
    used = serving.body.used
    assert used is not None
    base = base_of(serving) + more
    density = used.component.density_g_ml
    line = used.to_line_ml is not None
    items[at] = api.ToLine(density, line_ml=base) if line else api.Liquid(base, density)
    states = api.states_after_each_step(b.cup(), items, scanned.build.working_ml)
    return not all(state.fits for state in states)


@settings(max_examples=100)
@given(b.drinks(shaken=False, full=True))
def test_all_that_is_served_fits_and_one_step_more_would_not_fit_all(drink: Drink) -> None:
    """The tools of these drinks do not stray, so that no room is kept for hands."""
    scanned = scan(drink, b.CUP)
    for add_ons, made in served(scanned).items():
        assert not any(overfull(scanned, serving, 0.0) for serving in made.values())
        if add_ons and (figure := max(figures(scanned, {add_ons: made}, add_ons))) > 0:
            step = step_of(scanned) or 0.01
            assert figure >= step
            assert any(overfull(scanned, serving, step) for serving in made.values())


@settings(max_examples=60)
@given(b.drinks(shaken=False, full=True))
def test_what_is_refused_would_not_fit_with_the_least_base_either(drink: Drink) -> None:
    scanned = scan(drink, b.CUP)
    share, step = drink.hold_back_most_share, step_of(scanned)
    for choice in choices(drink, b.CUP):
        serving = scanned[choice]
        used = serving.body.used
        assert used is not None
        if serving.verdict != "too-much" or choice == default_choice(drink):
            continue
        if used.to_line_ml is not None:
            continue  # the least line takes the fill model to find; amounts show the law
        least = math.ceil((1 - share) * used.volume_ml / (step or 1.0) - 1e-9) * (step or 1.0)
        if step or share in (0.0, 1.0):
            more = min(least, used.volume_ml) - used.volume_ml
            assert overfull(scanned, serving, more)


@settings(max_examples=60)
@given(b.drinks(full=True))
def test_a_choice_is_thin_where_less_base_is_left_than_the_shop_lets(drink: Drink) -> None:
    scanned = scan(drink, b.CUP)
    share, step = drink.hold_back_most_share, step_of(scanned) or 1e-9
    for outcome in scanned.outcomes:
        line = scanned[outcome.choice].body.used
        if outcome.verdict == "too-much" or line is None or line.to_line_ml is not None:
            continue
        planned = base_of(scanned[replace(outcome.choice, add_ons=())])
        least = min(planned, step * math.ceil((1 - share) * planned / step - 1e-9))
        left = base_of(scanned[outcome.choice])
        if left > 0.0:  # else more may be taken than there is
            assert outcome.thin == (bool(outcome.taken) and left < least - 1e-6)


# room for hands ----------------------------------------------------------------------------------
STRAYS = [
    Tolerance(4.0, None, "limit", "ml"),
    Tolerance(None, 0.03, "limit"),
    Tolerance(8.0, None, "std", "g"),
    Tolerance(2.0, None, "limit", "mm"),
]


@st.composite
def straying_drinks(draw: st.DrawFn) -> Drink:
    """Drinks near the brim, each step measured with a tool that strays."""
    drink = draw(b.drinks(full=True))

    def with_tool(step: Any) -> Any:
        if not isinstance(step, AddStep):
            return step
        line = isinstance(step.amounts["regular"], LineTo)
        kinds = STRAYS if line else [one for one in STRAYS if one.unit != "mm"]
        tool = step.tool or b.tool(step=5.0)
        return replace(step, tool=replace(tool, tolerance=draw(st.sampled_from(kinds))))

    return replace(
        drink,
        steps=tuple(with_tool(step) for step in drink.steps),
        overflow_most_share=draw(st.sampled_from([0.01, 0.05, 0.2])),
    )


@settings(max_examples=80)
@given(straying_drinks())
def test_few_cups_of_any_choice_pass_the_fill_limit(drink: Drink) -> None:
    """Of the recipe as written more may, and then of what stands no higher; a finding says so. The
    room is worked out once for choices that stray alike, hence the hundredth more."""
    scanned = scan(drink, b.CUP)
    recipe = scanned.default
    written_over = scanned.spread(recipe).p_over or 0.0
    for outcome in scanned.outcomes:
        if outcome.verdict == "too-much" or outcome.choice == recipe:
            continue
        spread = scanned.spread(outcome.choice)
        most = drink.overflow_most_share + 0.01
        if (spread.p_over or 0.0) <= most or spread.worst_fits:
            continue
        assert written_over > drink.overflow_most_share
        alone = scanned.spread(replace(outcome.choice, add_ons=()))
        assert not outcome.choice.add_ons or spread.nominal_ml <= alone.nominal_ml + 1e-6


def test_of_the_demo_few_cups_of_any_choice_pass_the_fill_limit() -> None:
    for serving in check_once(m.DEMO).servings:
        for outcome in serving.choices.outcomes:
            if outcome.verdict != "too-much":
                over = serving.choices.spread(outcome.choice).p_over or 0.0
                assert over <= serving.drink.overflow_most_share, (serving.drink.id, outcome)


def test_room_for_hands_is_never_more_than_the_worst_case() -> None:
    """A rectangular limit a has u = a / sqrt 3 (JCGM 100:2008, 4.3.7); 5 % of a normal law lie
    beyond 1.645 u, 0.1 % beyond 3.09 u, which is more than a."""
    spread = api.combine([api.Term("tea", 200.0, api.Tolerance(3.0))], capacity_ml=210.0)
    assert spread.room_ml(0.05) == pytest.approx(1.6449 * 3 / math.sqrt(3), abs=1e-3)
    assert spread.room_ml(0.001) == pytest.approx(3.0)
    assert spread.room_ml(0.0) == pytest.approx(3.0)
    assert spread.room_ml(0.5) == spread.room_ml(0.9) == 0.0


# by hand -----------------------------------------------------------------------------------------
def test_a_cap_on_a_tea_worked_out_by_hand() -> None:
    """The reading of the lid and the room for hands, step by step.

    Cup 58/91/114 mm, 5 mm headspace: the fill limit is V(109), with d = 58 + 33 x 109/114 =
    89.553 mm: pi 109/12 (58^2 + 58 x 89.553 + 89.553^2) / 1000 = 473.1 ml.

    25 ml of cream, whipped by 80 %, is 45 ml. On tea without ice, which is poured to a line, the
    foam stands at line + 45.

    The line strays by 2 mm: at 425 ml, 101.1 mm up, d = 58 + 33 x 101.1/114 = 87.27 mm, A = 5981
    mm2, so by 11.96 ml, u = 6.91 ml. At 415 ml, 99.4 mm up, d = 86.78 mm, A = 5915 mm2: 11.83 ml,
    u = 6.83 ml. The foam strays by 3 g x 1.8 = 5.4 ml, u = 3.12 ml; together, hypot(6.91, 3.12) =
    7.58 ml. Of 100 cups 5 pass 1.645 u: room for hands is 12.5 ml.

    425 + 45 + 12.5 = 482.5 is 9.4 over 473.1: the line is lowered by 10 ml, to 415.
    """
    mm = b.tool("mm", step=1.0, tolerance=Tolerance(2.0, None, "limit", "mm"))
    scale = b.tool("g", step=1.0, tolerance=Tolerance(3.0, None, "limit", "g"))
    cream = replace(b.CREAM, tool=scale)
    drink = b.drink(b.to_line(b.TEA, 425, tool=mm), b.do("lid"),
                    ice=None, sweetness=None, add_ons=(b.add_on(cream, 25, "cream"),))  # fmt: skip
    scanned = scan(drink, b.CUP)
    with_cream = Choice(None, None, ("cream",))
    assert scanned.build.working_ml == pytest.approx(473.1, abs=0.1)
    assert scanned.fit(with_cream).hands_ml == pytest.approx(12.5, abs=0.05)
    assert scanned.fit(with_cream).taken == pytest.approx(10)
    assert base_of(scanned[with_cream]) == pytest.approx(415)
    assert scanned[with_cream].final.top_ml == pytest.approx(460)


# what a figure is not for ------------------------------------------------------------------------
def test_what_takes_no_room_takes_no_base() -> None:
    """Even where the recipe has no room for hands, which is a finding of its own."""
    mm = b.tool("mm", step=1.0, tolerance=Tolerance(5.0, None, "std", "mm"))
    drink = b.drink(b.add(b.SYRUP, 20), b.add(b.ICE, 100), b.to_line(b.TEA, 450, tool=mm),
                    add_ons=(b.add_on(b.COCOA, 1, "cocoa"),))  # fmt: skip
    scanned = scan(drink, b.CUP)
    assert (scanned.spread(scanned.default).p_over or 0.0) > 0.05
    assert figures(scanned, served(scanned), ("cocoa",)) == {0.0}
    lines = {base_of(serving) for serving in served(scanned)[()].values()}
    assert lines == {450}, "nor does a choice that stands no higher"


def test_a_liquid_that_passes_the_line_alone_is_refused() -> None:
    drink = b.drink(b.add(b.SYRUP, 40), b.to_line(b.TEA, 300),
                    add_ons=(b.add_on(b.MILK, 270, "milk"),), hold_back_most_share=1.0)  # fmt: skip
    serving = scan(drink, b.CUP)[Choice(1.0, "regular", ("milk",))]
    assert serving.verdict == "too-much"
    assert serving.over_ml == pytest.approx(10)  # 40 ml of syrup and 270 of milk


def test_a_choice_that_passes_a_line_is_refused_whatever_line_it_is() -> None:
    """Nothing could be poured to it, and the card would say to."""
    more = b.drink(b.add(b.SYRUP, 120), b.to_line(b.TEA, 200), sweetness=b.sweetness(top=2.0))
    scanned = scan(more, b.CUP)
    for ice in ("none", "less", "regular"):
        assert scanned[Choice(1.0, ice)].verdict == "fits"
        assert scanned.fit(Choice(2.0, ice)).verdict == "too-much"
        assert scanned.fit(Choice(2.0, ice)).over_ml == pytest.approx(240 - 200)
    topped = replace(b.to_line(b.MILK, 300), makes_room=False)
    tea = b.add(b.TEA, 100, makes_room=True)
    drink = b.drink(b.add(b.SYRUP, 60), tea, topped, add_ons=(b.add_on(b.TEA, 160, "more"),))
    scanned = scan(drink, b.CUP)
    fit = scanned.fit(Choice(1.0, "regular", ("more",)))
    assert fit.verdict == "too-much"
    assert fit.over_ml == pytest.approx(60 + 160 + 100 - 300)
    assert fit.worst == 3  # the milk


def test_a_choice_that_stands_higher_than_the_recipe_has_a_line_of_its_own() -> None:
    """Half as much ice again stands 8 ml higher, and the scoop strays by more of it."""
    scoop = b.tool(step=0.5, holds=50.0, tolerance=Tolerance(6.0, None, "std", "g"))
    levels = b.ice_levels()
    more = {"none": 0.0, "regular": 1.0, "extra": 1.5}
    ice = replace(levels, levels=more, names=dict.fromkeys(more, levels.names["regular"]))
    line = b.tool("mm", step=1.0, tolerance=Tolerance(1.0, None, "std", "mm"))
    steps = b.add(b.SYRUP, 30), b.add(b.ICE, 100, tool=scoop), b.to_line(b.TEA, 440, tool=line)
    scanned = scan(b.drink(*steps, ice=ice), b.CUP)
    assert (scanned.spread(scanned.default).p_over or 0.0) < 0.05
    lines = {choice: base_of(serving) for choice, serving in served(scanned)[()].items()}
    assert {line for choice, line in lines.items() if choice.ice != "extra"} == {440}
    for choice, line_ml in lines.items():
        if choice.ice == "extra":
            assert line_ml < 440
            assert line_ml % 5 == 0
            assert (scanned.spread(choice).p_over or 0.0) <= 0.05


def test_a_lower_line_of_a_choice_can_be_passed_too() -> None:
    """40 ml of syrup and 171 of tea weigh 1.057 g/ml: 200 g of ice push them up by 189 ml, to 400.
    Without it they stand at 211, the line is 210; 40 of syrup and 180 of milk pass that by 10."""
    drink = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 200), b.to_line(b.TEA, 400),
                    ice=b.ice_levels("same_amounts"),
                    add_ons=(b.add_on(b.MILK, 180, "milk"),))  # fmt: skip
    scanned = scan(drink, b.CUP)
    assert base_of(scanned[Choice(1.0, "none")]) == 210
    fit = scanned.fit(Choice(1.0, "none", ("milk",)))
    assert (fit.verdict, fit.worst) == ("too-much", 3)
    assert fit.over_ml == pytest.approx(220 - 210)


def test_a_recipe_that_passes_its_own_line_is_no_fault_of_its_choices() -> None:
    """FIT02 says that the recipe does."""
    scanned = scan(b.drink(b.add(b.SYRUP, 240), b.to_line(b.TEA, 200)), b.CUP)
    assert {outcome.verdict for outcome in scanned.outcomes} == {"fits"}
    assert scanned.passed_ml(scanned.default) == 0.0


@pytest.mark.parametrize("dome_mm", [None, 30.0])
def test_a_choice_that_stands_lower_and_strays_by_more_has_a_line_of_its_own(
    dome_mm: float | None,
) -> None:
    """Ice of 200 g stands 33 ml out of tea that is poured to 439, to 472 of 473: it hides 14.6 ml
    of foam in its gaps. Half of it stands 17 ml out, and the foam on its cubes to 439 + 14.6 +
    0.55 x 16.6 = 462.7. That strays by the spoon, 11.9 ml, u = 6.9: 5 of 100 pass 462.7 + 11.3.
    In a dome it is the same with as much more foam as the dome holds."""
    spoon = b.tool("g", step=1.0, tolerance=Tolerance(6.6, None, "limit", "g"))
    size = b.CUP if dome_mm is None else replace(b.CUP, lid="dome", dome_mm=dome_mm)
    steps = b.add(b.MILK, 10), b.do("swirl"), b.add(b.ICE, 200), b.to_line(b.TEA, 439)
    holds_ml = build_of(b.drink(*steps), size).dome_ml
    foam = b.add(b.CREAM, (holds_ml + 14.6) / 1.8, tool=spoon)
    scanned = scan(b.drink(*steps, foam, sweetness=None), size)
    assert scanned.spread(scanned.default).p_over == 0.0
    less = scanned[Choice(None, "less")]
    assert less.final.levels.cap_top - holds_ml == pytest.approx(435 + 14.6 + 9.1, abs=0.1)
    assert base_of(less) == 435
    assert less.verdict == "fits"


@pytest.mark.parametrize("kind", ["limit", "std"])
def test_what_strays_by_little_has_its_room_too(kind: str) -> None:
    """A scale that is 0.5 g off: 0.9 ml of foam whipped by 80 %, u = 0.9 / sqrt 3 or 0.9 itself."""
    scale = b.tool("g", step=1.0, tolerance=Tolerance(0.5, None, kind, "g"))
    cream = replace(b.CREAM, tool=scale)
    drink = b.drink(b.add(b.TEA, 450, makes_room=True), ice=None, sweetness=None,
                    add_ons=(b.add_on(cream, 25, "cream"),))  # fmt: skip
    room_ml = 1.6449 * 0.9 / (math.sqrt(3) if kind == "limit" else 1.0)
    fit = scan(drink, b.CUP).fit(Choice(None, None, ("cream",)))
    assert fit.hands_ml == pytest.approx(room_ml, abs=1e-3)
    assert fit.held_back_ml == pytest.approx(450 + 45 + room_ml - b.WORKING, abs=0.01)


def test_room_for_hands_is_that_of_the_most_syrup_that_is_asked_for() -> None:
    """60 ml of syrup by a spoon that strays by 30 %: u = 18 / sqrt 3 = 10.39 ml, 1.645 u = 17.1.
    Half of it is the fullest, as the jug gives 8 ml a step, and strays by half as much."""
    spoon = b.tool(step=5.0, tolerance=Tolerance(None, 0.3, "limit"))
    jug = b.tool(step=8.0)
    drink = b.drink(b.add(b.SYRUP, 60, tool=spoon), b.add(b.TEA, 200, makes_room=True, tool=jug),
                    ice=None, add_ons=(b.add_on(b.CREAM, 110, "cream"),))  # fmt: skip
    scanned = scan(drink, b.CUP)
    assert scanned[Choice(0.5, None)].final.top_ml == pytest.approx(30 + 232)
    assert scanned[Choice(1.0, None)].final.top_ml == pytest.approx(60 + 200)
    for sweet in (0.5, 1.0):
        assert scanned.fit(Choice(sweet, None, ("cream",))).hands_ml == pytest.approx(17.1, abs=0.1)


def test_what_is_not_offered_cannot_be_figured() -> None:
    scanned = scan(b.drink(b.add(b.SYRUP, 40), b.to_line(b.TEA, 300)), b.CUP)
    with pytest.raises(api.FigureError, match="not offered"):
        scanned.fit(Choice(0.6, "regular"))
