"""The build engine: policies of sweetness, ice and hold-back, shaking, and agreement with the
public functions, which reach the same contents by another path."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import build_samples as b
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.contents import add_up
from buildsheets.cup.errors import AboveRimError
from buildsheets.cup.fill import FillState
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddStep, Drink

LINE = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 100), b.to_line(b.TEA, 400))
FIXED = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 100), b.add(b.TEA, 250, makes_room=True))
ORDINARY = Choice(1.0, "regular")


def made(drink: Drink, sweet: float = 1.0, ice: str = "regular", *add_ons: str) -> Serving:
    return figure(drink, b.CUP, Choice(sweet, ice, add_ons))


def level(serving: Serving) -> float:
    return serving.final.liquid_level_ml


# sweetness ---------------------------------------------------------------------------------------
def test_missing_syrup_is_made_up_with_base_where_the_drink_says_so() -> None:
    half = made(FIXED, 0.5)
    assert b.amount_of(half, "syrup") == pytest.approx(20)
    assert b.amount_of(half, "tea") == pytest.approx(270)


def test_missing_syrup_leaves_a_shorter_drink_where_it_is_not_made_up() -> None:
    drink = replace(FIXED, sweetness=b.sweetness("same_amounts"))
    half = made(drink, 0.5)
    assert b.amount_of(half, "tea") == pytest.approx(250)
    assert level(half) < level(made(drink))


def test_a_body_poured_to_a_line_is_made_up_to_that_line() -> None:
    for sweet in (0.0, 0.5, 1.0):
        assert level(made(LINE, sweet)) == pytest.approx(400, abs=1e-6)


def test_a_shorter_drink_prints_the_line_it_reaches_rounded_down_to_five_ml() -> None:
    drink = replace(LINE, sweetness=b.sweetness("same_amounts"))
    half = made(drink, 0.5)
    tea = b.amount_of(made(drink), "tea")
    contents = [api.Liquid(20, 1.3), api.Ice(100, 0.9167, 0.55), api.Liquid(tea, 1.0)]
    reached = api.contents_state(b.cup(), contents).liquid_level_ml
    used = next(u for u in half.used if u.component.id == "tea")
    assert used.to_line_ml == pytest.approx(5 * (reached // 5))
    assert level(half) == pytest.approx(5 * (reached // 5), abs=1e-6)


def test_more_syrup_than_written_takes_the_place_of_base() -> None:
    drink = replace(FIXED, sweetness=b.sweetness(top=1.5))
    assert b.amount_of(made(drink, 1.5), "tea") == pytest.approx(230)


def test_shares_are_of_the_written_recipe_whatever_the_default_is() -> None:
    usual = made(FIXED, 0.5)
    lower = replace(FIXED, sweetness=b.sweetness(default=0.5))
    same = figure(lower, b.CUP)
    assert [u.mass_g for u in same.used] == pytest.approx([u.mass_g for u in usual.used])


@pytest.mark.parametrize(
    ("pumps", "sweet", "made_with"),
    [(5, 0.75, 4), (5, 0.25, 1), (6, 0.25, 1), (6, 0.75, 4), (3, 0.5, 1), (7, 0.25, 2)],
)
def test_a_share_is_rounded_to_the_nearest_step_of_the_tool_and_a_tie_down(
    pumps: int, sweet: float, made_with: int
) -> None:
    pump = b.tool(step=1.0, holds=13.0)  # 10 ml of 1.3 g/ml
    drink = b.drink(b.add(b.SYRUP, 10 * pumps, tool=pump), b.add(b.TEA, 200, makes_room=True))
    serving = made(drink, sweet)
    syrup = serving.steps[0].used
    assert syrup is not None
    assert syrup.count == pytest.approx(made_with)
    assert syrup.written_g == pytest.approx(sweet * 13 * pumps)
    assert b.amount_of(serving, "tea") == pytest.approx(200 + 10 * (pumps - made_with))


# ice ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize("ice", ["none", "less"])
def test_less_ice_keeps_the_line_with_more_base(ice: str) -> None:
    assert level(made(LINE, 1.0, ice)) == pytest.approx(400, abs=1e-6)
    assert b.amount_of(made(LINE, 1.0, ice), "tea") > b.amount_of(made(LINE), "tea")
    assert level(made(FIXED, 1.0, ice)) == pytest.approx(level(made(FIXED)), abs=1e-6)


@pytest.mark.parametrize("ice", ["none", "less"])
def test_less_ice_leaves_the_base_as_it_is_where_another_part_is_poured_to_a_line(ice: str) -> None:
    """150 ml of tea stay 150 ml: the milk after it keeps the line. Without ice and with 30 ml of
    syrup 220 ml of milk come to 400."""
    milk = replace(b.to_line(b.MILK, 400), makes_room=False)
    drink = b.drink(b.add(b.SYRUP, 30), b.add(b.ICE, 120), b.add(b.TEA, 150, makes_room=True), milk)
    assert b.amount_of(made(drink, 1.0, ice), "tea") == pytest.approx(150)
    assert b.amount_of(made(drink, 0.5, ice), "tea") == pytest.approx(165)
    assert level(made(drink, 1.0, ice)) == pytest.approx(400)
    assert b.amount_of(made(drink, 1.0, "none"), "milk") == pytest.approx(220)


def test_less_ice_keeps_the_line_of_a_shaken_drink_too() -> None:
    drink = b.drink(
        b.add(b.SYRUP, 20, into="shaker"),
        b.add(b.TEA, 200, into="shaker", makes_room=True),
        b.add(b.ICE, 100, into="shaker"),
        b.do("shake", "dumped"),
    )
    assert level(made(drink, 1.0, "none")) == pytest.approx(level(made(drink)), abs=1e-6)
    assert level(made(drink, 0.5, "less")) == pytest.approx(level(made(drink, 0.5)), abs=1e-6)


@pytest.mark.parametrize("ice", ["none", "less"])
def test_less_ice_keeps_the_recipe_and_prints_the_lower_line(ice: str) -> None:
    for drink in (LINE, b.drink(b.add(b.PEARLS, 30), *LINE.steps)):
        keeps_the_recipe(replace(drink, ice=b.ice_levels("same_amounts")), ice)
    fixed = replace(FIXED, ice=b.ice_levels("same_amounts"))
    assert b.amount_of(made(fixed, 1.0, ice), "tea") == pytest.approx(250)


def test_less_ice_alone_changes_no_line_or_base_that_the_recipe_has_between_two_steps() -> None:
    """A line of 402 ml stays 402, and 252 ml of tea stay 252, though a jug shows every 5 ml."""
    lined = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 100), b.to_line(b.TEA, 402))
    short = replace(lined, sweetness=b.sweetness("same_amounts"))
    assert level(made(short, 1.0, "less")) == pytest.approx(402)
    tea = b.add(b.TEA, 252, makes_room=True, tool=b.tool(step=5.0))
    poured = b.drink(b.add(b.SYRUP, 40), b.add(b.ICE, 100), tea, ice=b.ice_levels("same_amounts"))
    assert b.amount_of(made(poured, 1.0, "less"), "tea") == pytest.approx(252)


def keeps_the_recipe(drink: Drink, ice: str) -> None:
    usual, less = made(drink), made(drink, 1.0, ice)
    line = next(u.to_line_ml for u in less.used if u.component.id == "tea")
    assert line is not None
    assert line < 400
    assert line % 5 == pytest.approx(0)
    assert level(less) == pytest.approx(line, abs=1e-6)
    # at most the step of a line is lost to rounding
    assert 0 <= b.amount_of(usual, "tea") - b.amount_of(less, "tea") < 5


def test_less_ice_in_a_shorter_drink_keeps_that_drinks_own_line() -> None:
    for drink in (LINE, FIXED):
        short = replace(drink, sweetness=b.sweetness("same_amounts"))
        assert level(made(short, 0.0, "none")) == pytest.approx(level(made(short, 0.0)), abs=1e-6)


# hold-back ---------------------------------------------------------------------------------------
FULL = b.drink(
    b.add(b.SYRUP, 30),
    b.add(b.ICE, 100),
    b.add(b.TEA, 280, makes_room=True, tool=b.tool(step=5.0)),
    add_ons=(b.add_on(b.PEARLS, 60, "pearls"), b.add_on(b.CREAM, 25, "cream")),
)


def test_base_is_held_back_to_the_step_of_the_tool_and_no_more_than_needed() -> None:
    serving = made(FULL, 1.0, "regular", "pearls")
    assert serving.verdict == "fits"
    tea = b.amount_of(serving, "tea")
    assert serving.held_back_ml == pytest.approx(280 - tea)
    assert tea % 5 == pytest.approx(0)
    items = b.api_items(serving)
    at = next(i for i, f in enumerate(serving.steps) if f.step.makes_room)  # type: ignore[union-attr]
    fits = api.hold_back(b.cup(), items, at, working_ml=serving.working_ml, step=5.0, at_most=280.0)
    assert fits.most_to_step == pytest.approx(tea)


def test_a_body_poured_to_a_line_is_held_back_to_a_lower_line() -> None:
    drink = replace(LINE, add_ons=(b.add_on(b.CREAM, 60, "cream"),))
    serving = made(drink, 1.0, "regular", "cream")
    assert serving.verdict == "fits"
    line = next(u.to_line_ml for u in serving.used if u.component.id == "tea")
    assert line is not None
    assert line % 5 == pytest.approx(0)
    assert level(serving) == pytest.approx(line, abs=1e-6)
    assert serving.final.top_ml <= b.WORKING + 1e-6


def test_no_more_base_is_held_back_than_the_shop_allows() -> None:
    mean = replace(FULL, hold_back_most_share=0.05)
    serving = made(mean, 1.0, "regular", "pearls")
    assert (serving.verdict, serving.held_back_ml) == ("too-much", 0.0)
    assert serving.over_ml > 0


def test_the_default_choice_is_never_held_back() -> None:
    drink = b.drink(b.add(b.TEA, 600, makes_room=True))
    serving = figure(drink, b.CUP)
    assert (serving.verdict, serving.held_back_ml) == ("too-much", 0.0)
    assert serving.over_ml == pytest.approx(600 - b.WORKING)


# add-ons -----------------------------------------------------------------------------------------
def test_add_ons_go_where_their_kind_belongs() -> None:
    liquid = b.add_on(b.MILK, 20, "milk")
    dust = b.add_on(b.COCOA, 1, "cocoa")
    drink = b.drink(
        b.add(b.PEARLS, 30), b.add(b.SYRUP, 10), b.add(b.ICE, 60),
        b.add(b.TEA, 150, makes_room=True), b.do("stir"), b.add(b.CREAM, 10), b.do("lid"),
        add_ons=(b.add_on(b.PEARLS, 20, "pearls"), b.add_on(b.CREAM, 10, "cream"), liquid, dust),
        add_ons_at_most=4,
    )  # fmt: skip
    serving = made(drink, 1.0, "regular", "pearls", "cream", "milk", "cocoa")
    order = [
        (f.step.component.id, f.add_on is not None)
        for f in serving.steps
        if isinstance(f.step, AddStep)
    ]
    assert order == [
        ("pearls", False), ("pearls", True), ("syrup", False), ("ice", False), ("milk", True),
        ("tea", False), ("cream", False), ("cream", True), ("cocoa", True),
    ]  # fmt: skip


def test_a_settled_add_on_of_a_drink_without_a_bed_lies_on_the_floor() -> None:
    drink = replace(FIXED, add_ons=(b.add_on(b.PEARLS, 20, "pearls"),))
    serving = made(drink, 1.0, "regular", "pearls")
    assert serving.steps[0].add_on is not None
    assert not serving.final.warnings


# shaking and chilling ----------------------------------------------------------------------------
def shaken(pour: str, ice_g: float = 150.0) -> Drink:
    return b.drink(
        b.add(b.SYRUP, 30, into="shaker"),
        b.add(b.TEA, 200, into="shaker", makes_room=True),
        b.add(b.ICE, ice_g, into="shaker"),
        b.do("shake", pour),
    )


def expected(ice_g: float = 150.0) -> api.Chilled:
    grams, ml = 200 + 1.3 * 30, 230
    warm = (200 * 5 + 1.3 * 30 * 20) / grams
    return api.chill(
        liquid_g=grams, liquid_density=grams / ml, liquid_c=warm, ice_g=ice_g, ice_c=-2.0
    )


def test_a_strained_drink_brings_its_melt_and_none_of_its_ice() -> None:
    serving, mixed = figure(shaken("strained"), b.CUP), expected()
    assert serving.final.liquid_ml == pytest.approx(mixed.liquid_ml)
    assert serving.final.contents.ice_g == 0
    assert serving.steps[-1].chilled is not None
    assert serving.steps[-1].chilled.temperature_c == pytest.approx(mixed.temperature_c)


def test_a_dumped_drink_brings_the_ice_that_is_left() -> None:
    serving, mixed = figure(shaken("dumped"), b.CUP), expected()
    assert serving.final.liquid_ml == pytest.approx(mixed.liquid_ml)
    assert serving.final.contents.ice_g == pytest.approx(mixed.ice_left_g)
    chilled = serving.steps[-1].chilled
    assert chilled is not None
    # 1 g of ice is 1 / 0.9167 ml, of water 1 / 0.9998 (IAPWS, as in chill.py)
    assert chilled.net_volume_change_ml == pytest.approx(
        chilled.melted_g * (1 / 0.9998 - 1 / 0.9167), rel=1e-4
    )
    items = [mixed.strained(), api.Ice(mixed.ice_left_g, 0.9167, 0.55)]
    other = api.states_after_each_step(b.cup(), items, b.WORKING)[-1]
    assert serving.final.top_ml == pytest.approx(other.top_ml)


def test_ice_that_is_shaken_alone_stays_behind_too() -> None:
    """Nothing else is in the shaker where a guest wants no syrup."""
    drink = b.drink(
        b.add(b.SYRUP, 30, into="shaker"),
        b.add(b.ICE, 150, into="shaker"),
        b.do("shake", "strained"),
        b.to_line(b.TEA, 300),
    )
    serving = made(drink, 0.0)
    assert serving.final.contents.ice_g == 0
    assert b.amount_of(serving, "tea") == pytest.approx(300)


def test_a_shake_without_ice_only_pours() -> None:
    serving = figure(shaken("strained", 0.0), b.CUP)
    assert serving.final.liquid_ml == pytest.approx(230)


def test_a_chill_step_lets_the_ice_in_the_cup_melt() -> None:
    hot = replace(b.TEA, temperature_c=60.0)
    drink = b.drink(b.add(b.ICE, 150), b.add(hot, 200, makes_room=True), b.do("chill"))
    serving = figure(drink, b.CUP)
    mixed = api.chill(liquid_g=200, liquid_density=1.0, liquid_c=60, ice_g=150, ice_c=-2.0)
    assert serving.final.liquid_ml == pytest.approx(mixed.liquid_ml)
    assert serving.final.contents.ice_g == pytest.approx(mixed.ice_left_g)


def test_colder_ice_melts_less() -> None:
    cold = replace(b.ICE, temperature_c=-15.0)
    wet = replace(b.ICE, temperature_c=0.0)
    melted = []
    for ice in (cold, wet):
        drink = b.drink(b.add(b.TEA, 200, makes_room=True), b.add(ice, 100), b.do("chill"))
        chilled = figure(drink, b.CUP).steps[-1].chilled
        assert chilled is not None
        melted.append(chilled.melted_g)
    # 100 g x 15 K x 2.05 J/(g K) / 333.4 J/g: fill model section 4
    assert melted[1] - melted[0] == pytest.approx(100 * 15 * 2.05 / 333.4)


@pytest.mark.parametrize("degrees", [-0.5, -5.0])
def test_a_base_below_0_degrees_melts_no_ice(degrees: float) -> None:
    """As what is half frozen; the counter knows no drink's own freezing point."""
    slush, wet = replace(b.TEA, temperature_c=degrees), replace(b.ICE, temperature_c=0.0)
    drink = b.drink(b.add(slush, 200, makes_room=True), b.add(wet, 100), b.do("chill"))
    assert figure(drink, b.CUP).final.contents.ice_g == pytest.approx(100)


def test_ice_alone_is_not_chilled() -> None:
    drink = b.drink(b.add(b.ICE, 100), b.do("chill"), b.add(b.TEA, 200, makes_room=True))
    chilled = figure(drink, b.CUP).steps[1]
    assert chilled.chilled is None
    assert [item.amount for item in chilled.state.items] == pytest.approx([100])


def test_ice_too_cold_to_melt_leaves_the_drink_as_it_is() -> None:
    frosty = replace(b.ICE, temperature_c=-60.0)
    drink = b.drink(b.add(b.TEA, 20, makes_room=True), b.add(frosty, 200), b.do("chill"))
    serving = figure(drink, b.CUP)
    assert serving.final.liquid_ml == pytest.approx(20)
    assert serving.final.contents.ice_g == pytest.approx(200)


# verdicts ----------------------------------------------------------------------------------------
TALL_ICE = b.drink(b.add(b.ICE, 205), b.add(b.TEA, 245, makes_room=True), sweetness=None)


@pytest.mark.parametrize(
    ("lid", "press", "verdict"),
    [("flat", False, "too-much"), ("flat", True, "lid-pressed"), ("none", False, "fits"),
     ("dome", True, "too-much"), ("film", False, "too-much")],
)  # fmt: skip
def test_proud_ice_fits_where_the_lid_lets_it(lid: str, press: bool, verdict: str) -> None:
    """The drink of fill model table, case 3: its ice stands 16 ml over the working line."""
    drink = replace(TALL_ICE, lid_may_press=press)
    size = replace(b.CUP, lid=lid)
    assert figure(drink, size).verdict == verdict


@pytest.mark.parametrize(("order", "at"), [("ice tea", 1), ("tea ice", 2), ("tea ice stir", 2)])
@pytest.mark.parametrize(("lid", "press"), [("none", False), ("flat", True)])
def test_a_heap_over_the_rim_is_too_much_even_where_ice_may_stand_proud_or_be_pressed(
    order: str, at: int, lid: str, press: bool
) -> None:
    """Whether it is the last that goes in or not: it falls off the cup."""
    steps = {"ice": b.add(b.ICE, 260), "tea": b.add(b.TEA, 10, makes_room=True)}
    heap = b.drink(*(steps.get(one) or b.do(one) for one in order.split()), lid_may_press=press)
    serving = figure(heap, replace(b.CUP, lid=lid))
    assert serving.verdict == "too-much"
    fit = serving.choices.fit(serving.choice)
    if lid == "none":
        assert serving.worst_step == at
        assert fit.limit_ml == b.cup().brimful_ml
    heap_ml = 260 / 0.9167 / 0.55
    assert serving.over_ml == pytest.approx(heap_ml - fit.limit_ml)


def test_a_line_over_the_rim_is_refused() -> None:
    with pytest.raises(AboveRimError):
        figure(b.drink(b.to_line(b.TEA, 600)), b.CUP)


# laws --------------------------------------------------------------------------------------------
CHOICES = st.builds(
    Choice,
    st.sampled_from([0.0, 0.25, 0.5, 0.75, 1.0]),
    st.sampled_from(["none", "less", "regular"]),
    st.sampled_from([(), ("more-pearls",), ("more-cream",), ("more-pearls", "more-cream")]),
)


@settings(max_examples=150)
@given(st.booleans().flatmap(lambda full: b.drinks(shaken=False, full=full)), CHOICES)
def test_states_agree_with_the_public_functions_for_the_same_contents(
    drink: Drink, choice: Choice
) -> None:
    serving = figure(drink, b.CUP, choice)
    others = api.states_after_each_step(b.cup(), b.api_items(serving), b.WORKING)
    for figure_, other in zip(serving.steps, others, strict=True):
        state = figure_.state
        assert state.levels == pytest.approx(other.levels)
        assert state.sum_ml == pytest.approx(other.sum_ml)
        assert state.fits == other.fits
    if serving.verdict == "fits":
        assert all(state.fits for state in others)
    elif all(state.fits for state in others):
        # It stays in the cup: what is in it stands over the base's line, or room for what tools
        # stray is lacking.
        line_ml = serving.body.used and serving.body.used.to_line_ml
        above_ml = max(0.0, serving.final.top_ml - line_ml) if line_ml is not None else 0.0
        lacking_ml = max(above_ml, serving.choices.fit(choice).hands_ml)
        assert 0.0 < serving.over_ml <= lacking_ml + 1e-6


@settings(max_examples=60)
@given(b.drinks(), CHOICES)
def test_the_items_of_a_state_add_up_to_what_is_in_the_cup(drink: Drink, choice: Choice) -> None:
    for step in figure(drink, b.CUP, choice).steps:
        sums, contents = add_up(step.state.items), step.state.contents
        assert sums[:2] == pytest.approx(contents[:2])  # ml and g of the liquid
        assert sums[3:9] == pytest.approx(contents[3:9])  # beds, ice, caps


@settings(max_examples=100)
@given(b.drinks(shaken=False))
def test_a_written_line_pours_what_the_public_function_pours(drink: Drink) -> None:
    serving = figure(drink, b.CUP)
    items = b.api_items(serving)
    for i, step in enumerate(serving.steps):
        if step.used is not None and step.used.to_line_ml is not None:
            filled = api.fill_to_line(
                b.cup(), items[:i], density=items[i].density, line_ml=step.used.to_line_ml
            )
            assert items[i].volume_ml == pytest.approx(filled.poured_ml, abs=1e-9)
            assert step.used.already_over_ml == pytest.approx(filled.already_over_ml)


@settings(max_examples=150)
@given(b.drinks(), CHOICES)
def test_nothing_is_lost_on_the_way(drink: Drink, choice: Choice) -> None:
    serving = figure(drink, b.CUP, choice)
    final = serving.final.contents
    put_in = sum(u.mass_g for u in serving.used if u.component.behaves in ("liquid", "ice"))
    chilled = [f.chilled for f in serving.steps if f.chilled is not None]
    kept = 0.0
    for figure_, mixed in [(f, f.chilled) for f in serving.steps if f.chilled is not None]:
        assert mixed is not None
        strained = getattr(figure_.step, "pour", "") == "strained"
        kept += mixed.ice_left_g if strained else 0.0
    assert final.liquid_g + final.ice_g + kept == pytest.approx(put_in)
    if not chilled:
        liquid = sum(b.amount_of(serving, id) for id in {
            u.component.id for u in serving.used if u.component.behaves == "liquid"})  # fmt: skip
        assert final.liquid_ml == pytest.approx(liquid)


def _per_g(state: FillState) -> float:
    """ml of drink in a gram."""
    return 1.0 / state.liquid_density if state.liquid_density else 0.0


@settings(max_examples=100)
@given(b.drinks(), st.sampled_from(["none", "less", "regular"]))
def test_less_sweetness_never_raises_the_drink_where_it_is_not_made_up(
    drink: Drink, ice: str
) -> None:
    drink = replace(drink, sweetness=b.sweetness("same_amounts"), hold_back_most_share=0.0)
    written = figure(drink, b.CUP, Choice(1.0, "regular"))
    # A line that the ice alone has passed is a fault of its own (FIT02): nothing is poured to it.
    assume(all(used.volume_ml > 0 for used in written.used if used.to_line_ml is not None))
    states = [
        figure(drink, b.CUP, Choice(sweet, ice)).final for sweet in (1.0, 0.75, 0.5, 0.25, 0.0)
    ]
    # A body that makes up for ice is rounded to its jug, of 10 ml at most, each time anew.
    rounding = 1e-6 if ice == "regular" else 10.0
    for higher, lower in pairwise(states):
        # Less syrup makes a lighter drink, in which floating ice displaces more (Archimedes).
        sinks = lower.contents.ice_g * (_per_g(lower) - _per_g(higher))
        # And less of it to cool leaves more ice.
        left = lower.contents.ice_bulk_ml - higher.contents.ice_bulk_ml
        slack = rounding + max(0.0, sinks) + max(0.0, left)
        assert lower.top_ml <= higher.top_ml + slack
        assert lower.liquid_level_ml <= higher.liquid_level_ml + slack


@settings(max_examples=100)
@given(st.permutations(range(4)))
def test_without_lines_the_order_of_the_steps_does_not_matter(order: list[int]) -> None:
    steps = [
        b.add(b.SYRUP, 40), b.add(b.ICE, 120), b.add(b.PEARLS, 50),
        b.add(b.TEA, 200, makes_room=True),
    ]  # fmt: skip
    usual = figure(b.drink(*steps, b.add(b.CREAM, 20)), b.CUP)
    other = figure(b.drink(*b.permuted(steps, order), b.add(b.CREAM, 20)), b.CUP)
    assert other.final.levels == pytest.approx(usual.final.levels)
