"""The search for the largest amount that is not over: exact at its ends, in a few calls."""

import random
from itertools import pairwise

import pytest

from buildsheets.cup.search import largest_within


def found_in(over, high):
    """The largest amount up to ``high`` that is not over, and how often it was asked."""
    asked = []
    most = largest_within(lambda amount: asked.append(amount) or over(amount), 0.0, high)
    return most, len(asked)


def test_the_ends_themselves():
    assert largest_within(lambda amount: amount - 3, 3.0, 9.0) == 3.0
    assert largest_within(lambda amount: amount - 2, 3.0, 9.0) == 3.0
    assert largest_within(lambda amount: amount - 9, 3.0, 9.0) == 9.0
    assert largest_within(lambda amount: amount - 9.5, 9.0, 9.2) == 9.2


def test_a_line_is_met_at_once_and_lines_in_pieces_in_a_few_calls():
    # Dowell and Jarratt 1971: better than linear; halving 500 ml down to 1e-10 asks 44 times
    assert found_in(lambda amount: 2 * amount - 5, 10.0) == (2.5, 3)
    chance, asked = random.Random(1), []
    for _ in range(200):
        ends = [0.0, *sorted(chance.uniform(0, 500) for _ in range(3)), 500.0]
        slopes = [chance.choice((0.1, 0.45, 1.0, 1.1, 2.2)) for _ in range(4)]

        def height(amount, ends=ends, slopes=slopes):
            pieces = zip(slopes, pairwise(ends), strict=True)
            return sum(slope * (min(amount, b) - a) for slope, (a, b) in pieces if amount > a)

        wanted = chance.uniform(1, 499)
        most, calls = found_in(lambda amount: height(amount) - height(wanted), 500.0)  # noqa: B023
        assert most == pytest.approx(wanted, abs=1e-8)
        assert height(most) <= height(wanted)
        asked.append(calls)
    assert sum(asked) / len(asked) < 6.5


@pytest.mark.parametrize(
    ("high", "below", "above", "limit"),
    # at a thousand litres floats lie further apart than what is asked for
    [(10.0, -1.0, 1.0, 45), (1e9, -1.0, 1.0, 65), (10.0, -1e-9, 1e9, 150)],
)
def test_it_ends_at_a_jump_too(high, below, above, limit):
    # as where ice comes afloat
    most, calls = found_in(lambda amount: below if amount < 0.33 * high else above, high)
    assert 0 < 0.33 * high - most < 1e-6
    assert calls < limit
