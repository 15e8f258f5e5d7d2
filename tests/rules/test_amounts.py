"""Numbers for readers of findings: written amounts times a share, tenths that add up."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.menu.quantity import Measures, parse_quantity
from buildsheets.menu.shop import NO_SHOP
from buildsheets.menu.volumes import FLUID_OUNCES, ML
from buildsheets.rules.amounts import degrees, percent, times, volume, written_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("30", 30.0), ("1.5", 1.5), ("1/2", 0.5), ("1 1/2", 1.5), ("½", 0.5), ("1½", 1.5),
        ("1 ½", 1.5), ("2 1 / 4", 2.25), ("⅔", 2 / 3), ("1⁄8", 0.125), (".5", 0.5),
    ],
)  # fmt: skip
def test_a_written_number_has_the_value_the_amount_is_read_with(text: str, value: float) -> None:
    assert written_number(text) == pytest.approx(value)
    assert parse_quantity(f"{text} ml").value == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "ml", "a/b", "1/0", "1/2/3"])
def test_what_is_no_number_has_no_value(text: str) -> None:
    assert not written_number(text)


@pytest.mark.parametrize(
    ("text", "share", "made"),
    [
        ("30 ml", 0.5, "15 ml"), ("30ml", 0.5, "15 ml"), ("1½ scoops", 1 / 3, "0.5 scoop"),
        ("1 1/2 scoops", 2 / 3, "1 scoop"), ("0.285 l", 0.5, "0.142 l"),
        ("3 fl oz", 1 / 3, "1 fl oz"), ("90 mm", 0.7, "63 mm"), ("2 pumps", 0.0, None),
        ("some milk", 0.5, None), ("1/0 ml", 0.5, None), ("0 ml", 0.5, None),
    ],
)  # fmt: skip
def test_an_amount_times_a_share_keeps_its_unit_and_is_rounded_down(
    text: str, share: float, made: str | None
) -> None:
    found = times(text, share)
    assert (found[0] if found else None) == made


def test_ml_that_are_poured_in_fluid_ounces_are_said_in_these() -> None:
    """231 cubic inches, 3785.41 ml, have 128 of them (NIST Handbook 44): 100 ml are 3.3814."""
    ounces = FLUID_OUNCES["us_customary"]
    assert times("100 ml", 1.0, ounces) == ("3.381 fl oz", pytest.approx(1.0, abs=2e-4))
    assert times("100 g", 0.5, ounces) == ("50 g", 0.5)
    assert times("2 pumps", 0.5, ounces) == ("1 pump", 0.5)


@pytest.mark.parametrize(("celsius", "said"), [(5.0, "41 °F (5 °C)"), (60.0, "140 °F (60 °C)")])
def test_degrees_of_the_food_code_in_both_scales(celsius: float, said: str) -> None:
    american = replace(NO_SHOP, measures=Measures.US_CUSTOMARY)
    assert degrees(celsius, american) == said
    assert degrees(celsius, NO_SHOP) == said.partition("(")[2].removesuffix(")")


@given(st.floats(0.001, 1), st.integers(1, 2000), st.sampled_from(["ml", "l", "scoops", "g"]))
def test_it_is_never_more_than_the_share_and_says_which_share_it_is(
    share: float, number: int, unit: str
) -> None:
    text = f"{number / 4:g} {unit}"
    found = times(text, share)
    if found is None:
        assert number / 4 * share < 0.001 + 1e-9
        return
    words, exact = found
    assert exact <= share + 1e-8
    assert parse_quantity(words).value == pytest.approx(parse_quantity(text).value * exact)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=9))
def test_tenths_of_running_sums_add_up_to_the_tenths_of_the_whole(parts: list[float]) -> None:
    running, shown, before = 0.0, 0.0, 0.0
    for part in parts:
        running += part
        shown += ML.shown(running) - before
        before = ML.shown(running)
    assert f"{shown:.1f}" == f"{ML.shown(running):.1f}"


def test_a_small_excess_never_shows_as_nothing() -> None:
    assert (volume(0.4, ML), volume(12.4, ML), percent(0.051), percent(0.5)) == (
        "0.4 ml",
        "12 ml",
        "5.1 %",
        "50 %",
    )
