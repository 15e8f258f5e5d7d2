"""Sheets of a seed: nothing comes twice before all was asked, and the same seed asks the same."""

from __future__ import annotations

from itertools import pairwise, permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lessons import demo_pool, lesson

from buildsheets.learn.pool import Pool, asked, pool_of
from buildsheets.learn.questions import LEVELS, Arrange, Choose, Fill, Question
from buildsheets.learn.sheets import A_SHEET
from buildsheets.pipeline import check


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


CORNER = Path(__file__).parents[1] / "wall" / "menus" / "corner.yaml"
A_LONG_SHEET = 30
"""So many that questions of one drink meet."""


@pytest.mark.parametrize("level", LEVELS)
def test_what_a_sheet_prints_for_one_question_does_not_answer_another(level: int) -> None:
    """Of four drinks, so that a sheet has several questions of one: the rows of amounts stand in
    the order that a question about steps asks for, and a build with a line that is wrong prints
    the other lines as they are."""
    pool = pool_of(lesson(check(CORNER)), "", level)
    sheets, number = [], 1
    while not (one := asked(pool, 1, number, A_LONG_SHEET)).used_up:
        sheets.append(one.questions)
        number += 1
    assert sorted(q.id for on_it in sheets for q in on_it) == sorted(q.id for q in pool.questions)
    for q, other in (pair for on_it in sheets for pair in permutations(on_it, 2)):
        if q.drink != other.drink:
            continue
        told, form = _printed(other), q.form
        if isinstance(form, Arrange):
            assert not {*form.texts} <= {text.partition(" · ")[2] for text in told}
        elif isinstance(form, Choose) and form.mend:
            assert form.mend not in told
        elif isinstance(form, Choose) and q.kind == "offered":
            assert {form.options[at] for at in form.right}.isdisjoint(other.about)


def _printed(asked_for: Question) -> list[str]:
    """The lines of a build that stand on the sheet with a question."""
    form = asked_for.form
    if isinstance(form, Fill):
        return [row.label for row in form.rows]
    return [*form.options] if isinstance(form, Choose) else []


def test_a_mark_tells_menus_apart() -> None:
    pool = demo_pool("", 1)
    shorter = Pool("", 1, pool.questions[1:])
    assert len(pool.mark) == 2
    assert pool.mark == Pool("", 1, pool.questions).mark != shorter.mark
    assert all(a.id != b.id for a, b in pairwise(pool.questions))
