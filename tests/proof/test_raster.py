"""Distances between stretches of ink, against points tried one by one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.proof.raster import Stretch, farthest_mm

INF = float("inf")


@pytest.mark.parametrize(
    ("stretch", "others", "far"),
    [
        ((10.0, 11.0), [(10.0, 11.0)], 0.0),
        ((10.0, 11.0), [(9.0, 12.0)], 0.0),  # run together with others
        ((10.0, 11.0), [(10.3, 11.3)], 0.3),
        ((10.0, 11.0), [(10.0, 10.2), (10.8, 11.0)], 0.3),  # a gap in the middle
        ((11.0, 20.0), [(0.0, 10.0), (1.0, 2.0), (20.0, 21.0)], 5.0),  # one within another
        ((10.0, 11.0), [(20.0, 21.0)], 10.0),
        ((10.0, 11.0), [], INF),
    ],
)
def test_worked_by_hand(stretch: Stretch, others: list[Stretch], far: float) -> None:
    assert farthest_mm(stretch, others) == pytest.approx(far)


stretches = st.tuples(st.integers(0, 40), st.integers(1, 8)).map(
    lambda pair: (pair[0] / 2, (pair[0] + pair[1]) / 2)
)


@given(stretches, st.lists(stretches, min_size=1, max_size=5))
def test_no_point_is_farther_and_one_is_as_far(stretch: Stretch, others: list[Stretch]) -> None:
    """Ends are halves, so every farthest point is a quarter."""
    start, end = stretch
    points = [start + step / 4 for step in range(round((end - start) * 4) + 1)]
    tried = max(
        min(max(low - point, point - high, 0.0) for low, high in others) for point in points
    )
    assert farthest_mm(stretch, others) == tried
