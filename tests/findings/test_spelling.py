"""Slips of the pen: the distance against known pairs and its laws, and what is suggested."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.findings.spelling import count_of, distance, listed, nearest


@pytest.mark.parametrize(
    ("one", "other", "slips"),
    [
        # textbook examples of the Levenshtein distance (from memory)
        ("kitten", "sitting", 3),
        ("saturday", "sunday", 3),
        ("flaw", "lawn", 2),
        # Damerau 1964: one transposition counts once; the restricted distance of ca/abc is 3
        ("hto", "hot", 1),
        ("ca", "abc", 3),
        ("", "abc", 3),
        ("same", "same", 0),
    ],
)
def test_known_distances(one: str, other: str, slips: int) -> None:
    assert distance(one, other) == slips


WORD = st.text(alphabet="abc", max_size=7)


@given(WORD, WORD)
def test_laws(one: str, other: str) -> None:
    slips = distance(one, other)
    assert slips == distance(other, one)
    assert (slips == 0) == (one == other)
    assert abs(len(one) - len(other)) <= slips <= max(len(one), len(other))


@given(st.text(alphabet="abcdef", min_size=3, max_size=12), st.integers(0, 11))
def test_one_letter_left_out_is_always_found(word: str, place: int) -> None:
    slip = word[: place % len(word)] + word[place % len(word) + 1 :]
    assert nearest(slip, [word, "zzzzzzzzzzzz"]) == [word]


def test_nearest() -> None:
    known = ["name", "names", "cups", "contains"]
    assert nearest("naem", known, 2) == ["name"]
    assert nearest("NAME", known, 2) == ["name", "names"]
    assert nearest("contians", known) == ["contains"]
    assert nearest("weird", known) == []
    assert nearest("x" * 1_000_000, known) == []


def test_listed() -> None:
    phrases = [listed([]), listed(["a"]), listed("ab"), listed("abc", "and")]
    assert phrases == ["", "a", "a or b", "a, b and c"]


def test_one_of_a_thing_is_in_the_singular() -> None:
    assert [count_of(n, "card") for n in (0, 1, 2)] == ["0 cards", "1 card", "2 cards"]
    assert [count_of(n, "batch", "batches") for n in (1, 2)] == ["1 batch", "2 batches"]
