"""Type sizes against the figures of ISO 9241-303, and paper against a library's sizes."""

from __future__ import annotations

import pytest
from reportlab.lib import pagesizes
from reportlab.lib.units import mm

from buildsheets.print.fonts import MM_PER_PT, main_face
from buildsheets.print.sizes import ARCMINS, FLOOR_ARCMIN, cap_height_mm, size_pt, type_sizes
from buildsheets.views.paper import SERIES, papers_from, sheet_mm


# ISO 9241-303 (20-22 arcmin preferred, 16 the least); heights by 2 D tan(a/2).
@pytest.mark.parametrize(
    ("distance", "arcmin", "height"),
    [
        (300, 16, 1.396), (300, 20, 1.745), (300, 22, 1.920),
        (500, 16, 2.327), (500, 20, 2.909), (500, 22, 3.200),
        (700, 16, 3.258), (700, 20, 4.072), (700, 22, 4.480),
        (1000, 16, 4.654), (1000, 20, 5.818), (1000, 22, 6.400),
    ],
)  # fmt: skip
def test_character_height_from_reading_distance(
    distance: float, arcmin: float, height: float
) -> None:
    assert cap_height_mm(distance, arcmin) == pytest.approx(height, abs=0.0006)


def test_character_height_near_the_small_angle_rule() -> None:
    # NUREG-0700 rev. 2, 1.3.1-4: H = 6.283 D MA / 21600.
    for distance in (300, 600, 1200):
        assert cap_height_mm(distance, 20) == pytest.approx(6.283 * distance * 20 / 21600, rel=1e-4)


def test_size_never_falls_short_of_the_angle() -> None:
    capitals_em = main_face().cap_height_em
    for distance in range(250, 1500, 50):
        for arcmin in ARCMINS:
            size = size_pt(distance, arcmin)
            assert size * MM_PER_PT * capitals_em >= cap_height_mm(distance, arcmin) - 1e-9
            assert (size - 0.1) * MM_PER_PT * capitals_em < cap_height_mm(distance, arcmin)
            sizes = type_sizes(distance, arcmin)
            assert sizes.body >= sizes.minor >= size_pt(distance, FLOOR_ARCMIN)


def test_size_uses_the_typefaces_own_capitals() -> None:
    # The typeface's OS/2 table gives 668 of 1000 units for capitals.
    assert main_face().cap_height_em == pytest.approx(0.668)
    assert size_pt(600, 16) * MM_PER_PT * 0.668 == pytest.approx(cap_height_mm(600, 16), abs=0.03)
    low = size_pt(600, 16, cap_height_em=0.334)
    assert low == pytest.approx(2 * size_pt(600, 16), abs=0.11)  # each rounded up to 0.1 pt


def test_stock_sizes_are_the_standards() -> None:
    upright = {stock.name: stock for series in SERIES.values() for stock in series}
    for name in ("A3", "A4", "A5", "A6", "A7"):
        width, height = getattr(pagesizes, name)
        assert upright[name].width_mm == pytest.approx(width / mm, abs=0.6)
        assert upright[name].height_mm == pytest.approx(height / mm, abs=0.6)
    for name, theirs in (("letter", pagesizes.LETTER), ("tabloid", pagesizes.ELEVENSEVENTEEN)):
        assert upright[name].width_mm == pytest.approx(theirs[0] / mm, abs=0.01)
        assert upright[name].height_mm == pytest.approx(theirs[1] / mm, abs=0.01)


def test_larger_stocks_keep_series_and_direction() -> None:
    assert [s.name for s in papers_from(148, 210)] == ["A5", "A4"]
    assert [s.name for s in papers_from(148, 210, ("A3",))] == ["A5", "A4", "A3"]
    assert [(s.name, s.width_mm) for s in papers_from(210, 148)] == [("A5", 210), ("A4", 297)]
    assert [s.name for s in papers_from(139.7, 215.9)] == ["half letter", "letter"]
    assert [s.name for s in papers_from(120, 160)] == ["120 x 160 mm", "A5", "A4"]


def test_sheets_are_of_the_paper_of_the_shops_cards() -> None:
    """Sizes: ISO 216 A4; ANSI/ASME Y14.1 A, a letter."""
    assert sheet_mm((148, 210)) == sheet_mm((105, 148)) == sheet_mm((120, 160)) == (210, 297)
    assert sheet_mm((139.7, 215.9)) == sheet_mm((215.9, 139.7)) == (215.9, 279.4)
