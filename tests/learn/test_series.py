"""Sheets of a seed: nothing comes twice before all was asked, and the same seed asks the same."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lessons import demo_pool

from buildsheets.learn.pool import Pool, asked
from buildsheets.learn.questions import Choose, Question
from buildsheets.learn.sheets import A_SHEET


def question(number: int, kind: str, drink: str) -> Question:
    return Question(
        id=f"{number:05}", kind=kind, level=1, drink=drink, title=drink, ask="?",  # type: ignore[arg-type]
        form=Choose(("a", "b"), (0,)), reason="so", sources=(),
    )  # fmt: skip


pools = st.lists(
    st.tuples(st.sampled_from(("amounts", "steps", "cup")), st.sampled_from("abcdef")), max_size=40
).map(lambda found: Pool("", 1, tuple(question(n, *one) for n, one in enumerate(found))))


@given(pools, st.integers(1, 10**9), st.integers(1, 9))
def test_no_question_comes_twice_before_all_were_asked(pool: Pool, seed: int, a_sheet: int) -> None:
    found: list[str] = []
    for number in range(1, 60):
        one = asked(pool, seed, number, a_sheet)
        if one.used_up:
            break
        assert len(one.questions) <= a_sheet
        found += [each.id for each in one.questions]
    else:
        raise AssertionError("a series has no end")
    assert sorted(found) == [one.id for one in pool.questions]


@given(pools, st.integers(1, 10**9), st.integers(1, 50))
def test_the_same_seed_and_number_is_the_same_sheet(pool: Pool, seed: int, number: int) -> None:
    assert asked(pool, seed, number, 6) == asked(pool, seed, number, 6)


def test_when_all_were_asked_they_come_again_in_another_order_and_it_is_said() -> None:
    pool = demo_pool("", 1)
    sheets = -(-len(pool.questions) // A_SHEET)
    rounds = [
        [asked(pool, 7, first + number, A_SHEET) for number in range(1, sheets + 1)]
        for first in (0, sheets)
    ]
    assert [{one.used_up for one in some} for some in rounds] == [{False}, {True}]
    once, again = ([one.id for sheet in some for one in sheet.questions] for some in rounds)
    assert sorted(once) == sorted(again)
    assert once != again


def test_seeds_ask_in_other_orders() -> None:
    firsts = {asked(demo_pool("", 2), seed, 1, A_SHEET).questions for seed in range(1, 30)}
    assert len(firsts) == 29


@pytest.mark.parametrize("level", [1, 3])
def test_a_sheet_has_something_of_everything_and_no_drink_twice(level: int) -> None:
    """The first sheets of the demo, which has enough of each kind; where a sheet has no room for
    all kinds, those left out come on the next."""
    pool = demo_pool("", level)
    kinds = {one.kind for one in pool.questions}
    sheets = [asked(pool, 1, number, A_SHEET).questions for number in (1, 2, 3)]
    assert all({one.kind for one in (*a, *b)} == kinds for a, b in pairwise(sheets))
    for on_it in sheets:
        assert len({one.kind for one in on_it}) == min(len(kinds), A_SHEET)
        drinks = [one.drink for one in on_it if one.drink]
        assert len({*drinks}) == len(drinks)


def test_a_mark_tells_menus_apart() -> None:
    pool = demo_pool("", 1)
    shorter = Pool("", 1, pool.questions[1:])
    assert len(pool.mark) == 2
    assert pool.mark == Pool("", 1, pool.questions).mark != shorter.mark
    assert all(a.id != b.id for a, b in pairwise(pool.questions))
