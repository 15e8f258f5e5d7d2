"""Where add-ons go among a drink's steps: by what settles, mixes, floats or is dusted on."""

from __future__ import annotations

from dataclasses import replace

import build_samples as b
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddStep, Drink

EXTRAS = (
    b.add_on(b.PEARLS, 10, "pearls"),
    b.add_on(b.MILK, 5, "milk"),
    b.add_on(b.CREAM, 3, "cream"),
    b.add_on(b.COCOA, 1, "cocoa"),
)
ALL = Choice(1.0, "regular", tuple(extra.id for extra in EXTRAS))
MOVES = ("stir", "swirl", "shake", "pour", "chill")


def names(serving: Serving) -> list[str]:
    """Steps in order, an add-on with a plus before it."""
    return [
        ("+" if figure.add_on else "")
        + (figure.step.component.id if isinstance(figure.step, AddStep) else figure.step.action)
        for figure in serving.steps
    ]


def with_extras(*steps: object) -> list[str]:
    drink = b.drink(*steps, add_ons=EXTRAS, add_ons_at_most=4)  # type: ignore[arg-type]
    return names(figure(drink, b.CUP, ALL))


def test_a_drink_built_in_the_cup() -> None:
    assert with_extras(
        b.add(b.PEARLS, 20), b.add(b.SYRUP, 10), b.do("swirl"), b.add(b.ICE, 60),
        b.add(b.MILK, 40), b.to_line(b.TEA, 300), b.do("stir"), b.do("lid"),
    ) == [
        "pearls", "+pearls", "syrup", "swirl", "ice",
        "milk", "+milk", "tea", "stir", "+cream", "+cocoa", "lid",
    ]  # fmt: skip


def test_a_shaken_drink_takes_liquids_in_the_shaker_and_foam_after_the_pour() -> None:
    drink = b.drink(
        b.add(b.SYRUP, 10, into="shaker"), b.add(b.TEA, 150, into="shaker", makes_room=True),
        b.add(b.ICE, 60, into="shaker"), b.do("shake", "dumped"), b.do("lid"),
        add_ons=EXTRAS, add_ons_at_most=4,
    )  # fmt: skip
    serving = figure(drink, b.CUP, ALL)
    assert names(serving) == [
        "+pearls", "syrup", "+milk", "tea", "ice", "shake", "+cream", "+cocoa", "lid",
    ]  # fmt: skip
    milk = serving.steps[2].step
    assert isinstance(milk, AddStep)
    assert milk.into == "shaker"
    assert serving.steps[2].shaker_ml == pytest.approx(15)  # 10 ml of syrup and 5 of milk


def test_a_drinks_own_cap_and_dust_stay_in_their_order() -> None:
    assert with_extras(
        b.add(b.TEA, 150, makes_room=True), b.do("stir"),
        b.add(b.CREAM, 10), b.add(b.COCOA, 1), b.do("lid"),
    ) == [
        "+pearls", "+milk", "tea", "stir", "cream", "+cream", "cocoa", "+cocoa", "lid",
    ]  # fmt: skip


def test_what_settles_goes_under_the_ice_even_where_the_drinks_own_does_not() -> None:
    assert with_extras(
        b.add(b.ICE, 60), b.add(b.PEARLS, 20), b.add(b.TEA, 150, makes_room=True)
    )[:3] == ["+pearls", "ice", "pearls"]  # fmt: skip


def test_a_closed_cup_may_be_swirled_and_takes_nothing_more() -> None:
    assert with_extras(
        b.add(b.TEA, 150, makes_room=True), b.do("lid"), b.do("swirl")
    ) == ["+pearls", "+milk", "tea", "+cream", "+cocoa", "lid", "swirl"]  # fmt: skip


@st.composite
def orders(draw: st.DrawFn) -> Drink:
    """A drink with a lid, moves and toppings at places of their own, as menus may have them."""
    drink = draw(b.drinks())
    steps = [step for step in drink.steps if getattr(step, "action", "") != "lid"]
    for extra in draw(st.lists(st.sampled_from(["stir", "swirl", "chill", "bed", "cap", "dust"]))):
        step = {"bed": b.add(b.PEARLS, 5), "cap": b.add(b.CREAM, 2), "dust": b.add(b.COCOA, 1)}
        steps.insert(draw(st.integers(0, len(steps))), step.get(extra) or b.do(extra))
    if draw(st.booleans()):
        steps.append(b.do("lid"))
    return replace(drink, steps=tuple(steps), add_ons=EXTRAS, add_ons_at_most=4)


@given(orders())
def test_the_order_is_that_of_physics_whatever_the_menus_own(drink: Drink) -> None:
    serving = figure(drink, b.CUP, ALL)
    steps = serving.steps
    assert [f.step for f in steps if f.add_on is None] == list(drink.steps)
    at = {f.add_on.id: i for i, f in enumerate(steps) if f.add_on is not None}
    lid = next((i for i, f in enumerate(steps) if getattr(f.step, "action", "") == "lid"), 999)
    for i, f in enumerate(steps):
        step = f.step
        if not isinstance(step, AddStep):
            if step.action in MOVES:
                assert i < at["cream"]
                assert i < at["cocoa"]
            if step.action == "pour" or getattr(step, "pour", "") == "dumped":
                assert at["pearls"] < i
            continue
        if step.into == "cup" and step.component.behaves in ("liquid", "settled", "ice"):
            assert i < at["cream"]
        if step.into == "cup" and step.component.behaves == "floated" and f.add_on is None:
            assert i < at["cream"] < at["cocoa"]
        if step.into == "cup" and step.component.behaves == "ice":
            assert at["pearls"] < i
        if step.makes_room:
            assert at["milk"] == i - 1
            milk = steps[at["milk"]].step
            assert isinstance(milk, AddStep)
            assert milk.into == step.into
    assert max(at.values()) < lid


# idle steps --------------------------------------------------------------------------------------
def test_a_swirl_is_idle_where_its_syrup_is_left_out() -> None:
    drink = b.drink(
        b.add(b.PEARLS, 20), b.add(b.SYRUP, 20), b.do("swirl"), b.add(b.ICE, 60),
        b.to_line(b.TEA, 300), b.do("stir"),
    )  # fmt: skip

    def idle(sweet: float, ice: str) -> list[str]:
        steps = figure(drink, b.CUP, Choice(sweet, ice)).steps
        return [
            f.step.component.id if isinstance(f.step, AddStep) else f.step.action
            for f in steps if f.idle
        ]  # fmt: skip

    assert idle(1.0, "regular") == idle(0.25, "less") == []
    assert idle(0.0, "regular") == ["syrup", "swirl"]
    assert idle(0.0, "none") == ["syrup", "swirl", "ice"]
