"""The edge gauge: arithmetic of pouch and counter, label places as laws, and the printed truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from card_samples import BUILD, GAUGE
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.print.gauge import PROOF_BAR_MM, OffCard, place_marks, spread
from buildsheets.print.render import RenderedPdf, RenderOptions, render_pdf
from buildsheets.views.types import GaugeLine

DPI = 600
PIXELS_PER_MM = DPI / 25.4


@given(
    wanted=st.lists(st.floats(0, 100), min_size=1, max_size=12).map(sorted),
    pitch=st.floats(0.5, 9),
)
def test_labels_keep_apart_in_order_and_inside(wanted: list[float], pitch: float) -> None:
    placed = spread(wanted, pitch, 0, 110)
    assert all(b - a >= pitch - 1e-6 for a, b in pairwise(placed))
    assert placed[0] >= -1e-9
    assert placed[-1] <= 110 + 1e-9


@given(st.lists(st.floats(0, 100), min_size=1, max_size=8, unique=True).map(sorted))
def test_labels_that_do_not_touch_stay(wanted: list[float]) -> None:
    gaps = [b - a for a, b in pairwise(wanted)]
    pitch = min(gaps, default=1.0) * 0.99
    assert spread(wanted, pitch, 0, 100) == pytest.approx(wanted, abs=1e-6)


def test_labels_that_clash_move_equally() -> None:
    assert spread([50.0, 50.0], 4, 0, 100) == pytest.approx([48, 52])
    assert spread([10.0, 11.0, 12.0], 5, 0, 100) == pytest.approx([6, 11, 16])


def test_too_many_labels_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        spread([1.0, 2.0, 3.0], 10, 0, 15)


def test_pouch_border_comes_off_every_height() -> None:
    line = GaugeLine(93.0, "330 ml", "line")
    (mark,) = place_marks([line], 210, 5, pouch_border_mm=3)
    # 93 mm above the counter is 90 mm above the card's trimmed edge, 3 mm up in the pouch.
    assert mark.mark_y_mm == pytest.approx(210 - 90)
    (bare,) = place_marks([line], 210, 5, pouch_border_mm=0)
    assert bare.mark_y_mm == pytest.approx(210 - 93)


def test_a_line_above_the_card_is_refused() -> None:
    with pytest.raises(OffCard, match="240 mm above the counter"):
        place_marks([GaugeLine(240.0, "rim", "rim")], 210, 5)


def grey(document: pypdfium2.PdfDocument, page: int) -> np.ndarray:
    """A page as an array of grey values at 600 dpi."""
    bitmap = document[page].render(scale=DPI / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)


@pytest.mark.slow
@pytest.mark.parametrize("border", [3.0, 0.0])
def test_printed_marks_stand_at_their_heights(border: float) -> None:
    """Measured in a 600 dpi raster along the card's edge, to 0.3 mm."""
    printed = render_pdf([BUILD], RenderOptions(pouch_border_mm=border))
    dots = grey(pypdfium2.PdfDocument(printed.pdf), 0)
    height = dots.shape[0]
    # A column in the marks (1.2 mm is the bar at the edge): broken marks have ink at 2.5-3.5 mm.
    column = dots[:, round(3.0 * PIXELS_PER_MM)] < 128
    runs = np.flatnonzero(np.diff(np.concatenate(([0], column.astype(np.int8), [0]))))
    middles = [(a + b) / 2 for a, b in zip(runs[::2], runs[1::2], strict=True)]
    found = [(height - middle) / PIXELS_PER_MM + border for middle in middles]
    for line in GAUGE:
        assert min(abs(line.height_mm - at) for at in found) < 0.3, line
    assert len(found) == len(GAUGE)  # no mark without a name


@pytest.mark.slow
def test_proof_bar_measures_50_mm(rendered: RenderedPdf, document: pypdfium2.PdfDocument) -> None:
    for page in range(len(rendered.pages)):
        dots = grey(document, page)
        lengths = []
        # The bar stands in the foot, the lowest 22 mm.
        for row in dots[-round(22 * PIXELS_PER_MM) :] < 128:
            edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(np.int8), [0]))))
            lengths += list(edges[1::2] - edges[::2])
        longest = max(lengths) / PIXELS_PER_MM
        assert longest == pytest.approx(PROOF_BAR_MM, abs=0.1)
