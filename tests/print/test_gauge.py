"""The edge gauge: arithmetic of pouch and counter, label places as laws, and the printed truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from card_samples import BUILD, GAUGE
from hypothesis import given
from hypothesis import strategies as st
from pdf_reading import pixels

from buildsheets.print.gauge import (
    PROOF_BAR_MM,
    OffCard,
    PlacedMark,
    TooCrowded,
    apart,
    free_top_mm,
    place_marks,
)
from buildsheets.print.render import Printed, RenderOptions, render_pdf
from buildsheets.views.types import GaugeLine

DPI = 600
PIXELS_PER_MM = DPI / 25.4

labels = st.lists(st.tuples(st.floats(0, 100), st.floats(0.5, 9)), min_size=1, max_size=12).map(
    sorted
)


@given(labels, st.floats(0, 20))
def test_labels_keep_apart_in_order_and_inside(
    wanted: list[tuple[float, float]], low: float
) -> None:
    middles, heights = [m for m, _ in wanted], [h for _, h in wanted]
    high = 110 + low
    placed = apart(middles, heights, low, high)
    edges = [(at - h / 2, at + h / 2) for at, h in zip(placed, heights, strict=True)]
    assert all(end <= start + 1e-6 for (_, end), (start, _) in pairwise(edges))
    assert edges[0][0] >= low - 1e-6
    assert edges[-1][1] <= high + 1e-6


@given(labels, st.integers(0, 11), st.floats(-3, 3))
def test_no_other_places_are_nearer_to_what_was_wanted(
    wanted: list[tuple[float, float]], one: int, step: float
) -> None:
    """The least squares answer: moving a label and those it pushes never comes nearer."""
    middles, heights = [m for m, _ in wanted], [h for _, h in wanted]
    placed = apart(middles, heights, 0, 130)
    moved = list(placed)
    moved[one % len(moved)] += step
    edges = [(at - h / 2, at + h / 2) for at, h in zip(moved, heights, strict=True)]
    allowed = all(end <= start for (_, end), (start, _) in pairwise(edges))
    if allowed and edges[0][0] >= 0 and edges[-1][1] <= 130:
        far = [sum((a - w) ** 2 for a, w in zip(p, middles, strict=True)) for p in (placed, moved)]
        assert far[0] <= far[1] + 1e-6


@given(st.lists(st.floats(5, 95), min_size=1, max_size=8, unique=True).map(sorted))
def test_labels_that_do_not_touch_stay(wanted: list[float]) -> None:
    height = min([b - a for a, b in pairwise(wanted)], default=1.0) * 0.99
    heights = [min(height, 9.0)] * len(wanted)
    assert apart(wanted, heights, 0, 100) == pytest.approx(wanted, abs=1e-6)


def test_labels_that_clash_move_equally() -> None:
    assert apart([50.0, 50.0], [4, 4], 0, 100) == pytest.approx([48, 52])
    assert apart([10.0, 11.0, 12.0], [5, 5, 5], 0, 100) == pytest.approx([6, 11, 16])
    assert apart([50.0, 50.0], [2, 6], 0, 100) == pytest.approx([48, 52])


def test_too_many_labels_are_refused() -> None:
    with pytest.raises(TooCrowded, match="30 mm do not fit in 15 mm"):
        apart([1.0, 2.0, 3.0], [10, 10, 10], 0, 15)


def test_pouch_border_comes_off_every_height() -> None:
    line = GaugeLine(93.0, "330 ml", "line")
    (mark,) = place_marks([line], [5], 210, 3, 0, 210)
    # 93 mm above the counter is 90 mm above the card's trimmed edge, 3 mm up in the pouch.
    assert mark.mark_y_mm == pytest.approx(210 - 90)
    (bare,) = place_marks([line], [5], 210, 0, 0, 210)
    assert bare.mark_y_mm == pytest.approx(210 - 93)


def test_a_line_above_the_card_is_refused() -> None:
    with pytest.raises(OffCard, match="240 mm above the counter"):
        place_marks([GaugeLine(240.0, "rim", "rim")], [5], 210, 3, 0, 210)


def placed(*lines: GaugeLine, card_mm: float = 210.0) -> tuple[PlacedMark, ...]:
    return place_marks(lines, [5] * len(lines), card_mm, 3, 5, card_mm - 5)


RIM, LIMIT, LINE = (
    GaugeLine(height, label, kind)
    for height, label, kind in ((141, "rim", "rim"), (135, "fill limit", "working"),
                                (60, "220 ml", "line"))
)  # fmt: skip


def test_words_stand_over_the_labels_else_in_the_largest_gap() -> None:
    # On 210 mm the rim's mark is 72 mm down, its label 5 mm high: 64.5 mm are free over it.
    assert free_top_mm(placed(RIM, LIMIT, LINE), 34, 5, 205) == 5
    # On 148 mm the rim is 10 mm down and the limit 16; the line is 91 down, 50 mm over the foot.
    lying = placed(RIM, LIMIT, LINE, card_mm=148.0)
    assert [mark.label_y_mm for mark in lying] == pytest.approx([10, 16, 91])
    assert free_top_mm(lying, 34, 5, 143) == pytest.approx(18.5)
    assert free_top_mm(lying, 71, 5, 143) is None


def test_words_keep_clear_of_labels_that_were_moved() -> None:
    crowd = [GaugeLine(100 + step, "", "line") for step in (0, 1, 2, 3)]
    marks = placed(*crowd)  # 110 to 113 mm down: four labels of 5 mm stand from 101.5 to 121.5
    assert free_top_mm(marks, 96, 5, 205) == 5
    assert free_top_mm(marks, 97, 5, 205) is None


def runs(dark: np.ndarray) -> list[tuple[int, int]]:
    """First and end of each unbroken run of a row or column."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], dark.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


@pytest.mark.parametrize("border", [3.0, 0.0])
def test_printed_marks_stand_at_their_heights(border: float) -> None:
    """Measured in a 600 dpi raster along the card's edge, to 0.3 mm."""
    printed = render_pdf([BUILD], RenderOptions(pouch_border_mm=border))
    dots = pixels(printed.pdf, DPI)
    # A column in the marks (1.2 mm is the bar at the edge): broken marks have ink at 2.5-3.5 mm.
    column = dots[:, round(3.0 * PIXELS_PER_MM)] < 128
    found = [(len(dots) - (a + b) / 2) / PIXELS_PER_MM + border for a, b in runs(column)]
    for line in GAUGE:
        assert min(abs(line.height_mm - at) for at in found) < 0.3, line
    assert len(found) == len(GAUGE)  # no mark without a name


def test_proof_bar_measures_50_mm(rendered: Printed) -> None:
    for page in range(len(rendered.pages)):
        dots = pixels(rendered.pdf, DPI, page)
        # The bar stands in the foot, the lowest 25 mm.
        lengths = [
            end - start
            for row in dots[-round(25 * PIXELS_PER_MM) :: 2] < 128
            for start, end in runs(row)
        ]
        near = [length / PIXELS_PER_MM for length in lengths if length / PIXELS_PER_MM < 60]
        assert max(near) == pytest.approx(PROOF_BAR_MM, abs=0.1)
