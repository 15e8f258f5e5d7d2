"""What FIT10 offers works, and is near what was written: never several times the sugar."""

from __future__ import annotations

import re

import menu_samples as m
import pytest

from buildsheets.rules.tool_steps import can_be_made, near_levels, rounded_far

HALVES = m.swapped(m.SMALL, "step: 1 pump, holds", "step: 1/2 pump, holds")


def hint(text: str) -> str:
    """What is offered for the first drink's syrup; "" where nothing is found."""
    line = text[: text.index("{add: sweet")].count("\n") + 1
    found = (f for f in m.check_texts(text).findings if f.code == "FIT10" and f.span)
    return next((f.hint for f in found if f.span and f.span.line == line), "")


def menu(amount: str, levels: str, text: str = HALVES) -> str:
    text = m.swapped(text, "levels: [0 %, 50 %, 100 %]", f"levels: [{levels}]")
    return text.replace("{add: sweet, amount: 2 pumps}", f"{{add: sweet, amount: {amount}}}", 1)


# By hand, in half pumps: 30 % of 2 halves is 0.6, made as 1 (50 %); 130 % is 2.6, made as 3.
@pytest.mark.parametrize(
    ("amount", "levels", "offered"),
    [
        ("1 pump", "30 %, 60 %, 100 %, 130 %", "levels: [50 %, 100 %, 150 %]"),
        ("2 pumps", "30 %, 60 %, 100 %, 130 %", "a quarter of the step of pump"),
        ("3 pumps", "30 %, 60 %, 100 %, 130 %", "write 3.5 pumps"),
        ("1 1/2 pumps", "0 %, 50 %, 100 %", "write 1 pump or 2 pumps"),
    ],
)
def test_what_is_offered_works_and_is_near(amount: str, levels: str, offered: str) -> None:
    told = hint(menu(amount, levels))
    assert offered in told
    if shares := re.search(r"levels: \[(.*)\]", told):
        nearer = menu(amount, shares[1])
        assert hint(nearer) == ""
    written = float(amount.split()[0]) + ("1/2" in amount) / 2
    for number in re.findall(r"([\d.]+) pumps?", told):
        assert 0.5 * written <= float(number) <= 1.5 * written
        assert hint(menu(f"{number} pumps", levels)) == ""
    if part := re.search(r"(half|a quarter of|a third of) the step", told):
        step = {"half": "1/4", "a third of": "1/6", "a quarter of": "1/8"}[part[1]]
        fine = m.swapped(HALVES, "step: 1/2 pump", f"step: {step} pump")
        assert hint(menu(amount, levels, fine)) == ""


def test_more_than_one_is_called_several() -> None:
    assert "130 % becomes 1.5 pumps" in next(
        f.message
        for f in m.check_texts(menu("1 pump", "30 %, 60 %, 100 %, 130 %")).findings
        if f.code == "FIT10"
    )


@pytest.mark.parametrize(("most", "far"), [(0.16, [0.3]), (0.17, []), (0.20, [])])
def test_a_level_is_held_to_a_share_of_what_it_asks_for(most: float, far: list[float]) -> None:
    """30 % of 4 steps is 1.2, made as 1: 0.2 of 1.2 is 16.7 %. Of 1 step nothing is made."""
    assert rounded_far(4, [0.0, 0.3, 1.0], most) == far
    assert rounded_far(1, [0.3], most) == []


def test_the_nearest_steps_made_at_every_level_by_hand() -> None:
    """A quarter, a half and all: only multiples of 4 are made as asked; a quarter of 2 or 3 is lost
    or made as 1, a third too much."""
    levels = [0.25, 0.5, 1.0]
    assert list(can_be_made(5, 7, levels, 0.1)) == [4, 8]
    assert list(can_be_made(3, 5, levels, 0.1)) == [8]
    assert list(can_be_made(4, 4, levels, 0.1)) == [4, 4]
    assert list(can_be_made(2, 3, [0.0, *levels], 0.1)) == [4]
    assert list(can_be_made(1, 2, levels, 0.1)) == []  # 4 is twice 2


def test_near_levels_are_three_at_least_where_three_are_written() -> None:
    """30 % of 4 steps is 1.2: one step is 25 %. Of 1 step 30 % is made as all of it, which leaves
    two levels of three."""
    assert near_levels(4, [0.3, 1.0], 0.1) == (0.25, 1.0)
    assert near_levels(4, [0.0, 0.3, 1.0], 0.1) == (0.0, 0.25, 1.0)
    assert near_levels(1, [0.0, 0.3, 1.0], 0.1) == ()
    assert near_levels(3, [0.3, 0.6, 1.0], 0.05) == (0.35, 0.65, 1.0)  # 1/3 to 5 %: 1.05 steps
    assert near_levels(7, [0.3, 0.6, 1.0], 0.01) == ()  # 2/7 to 5 %: 2.1 steps, 4.8 % off
