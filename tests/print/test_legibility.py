"""Type sizes against ISO 9241-303 figures, line breaking as laws, and the fit search."""

from __future__ import annotations

import pytest
from buildsheets.print.legibility import (
    FLOOR_ARCMIN,
    LADDER,
    Misfit,
    Run,
    cap_height_mm,
    fit,
    line_width_mm,
    seen_arcmin,
    size_pt,
    wrap,
)
from hypothesis import given
from hypothesis import strategies as st
from reportlab.lib import pagesizes
from reportlab.lib.units import mm

from buildsheets.print.fonts import MM_PER_PT, main_face
from buildsheets.views.paper import SERIES, Paper, papers_from


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
    for distance in range(250, 1500, 50):
        for arcmin in LADDER:
            size = size_pt(distance, arcmin)
            assert seen_arcmin(distance, size) >= arcmin - 1e-6
            assert seen_arcmin(distance, size - 0.1) < arcmin


def test_size_uses_the_faces_own_capitals() -> None:
    # The typeface's OS/2 table gives 668 of 1000 units for capitals.
    assert main_face().cap_height_em == pytest.approx(0.668)
    assert size_pt(600, 16) * MM_PER_PT * 0.668 == pytest.approx(cap_height_mm(600, 16), abs=0.03)


words = st.text(alphabet="abcdefgh ", min_size=1, max_size=80)


@given(first=words, second=words, width=st.floats(25, 120), points=st.floats(6, 24))
def test_wrapping_keeps_every_word_and_the_width(
    first: str, second: str, width: float, points: float
) -> None:
    runs = (Run(first, True), Run(second))
    try:
        lines = wrap(runs, width, points)
    except Misfit:
        longest = max((*first.split(), *second.split()), key=len)
        assert line_width_mm((Run(longest, True),), points) > width * 0.8
        return
    assert all(line_width_mm(line, points) <= width + 1e-6 for line in lines)
    for bold, source in ((True, first), (False, second)):
        kept = " ".join(run.text for line in lines for run in line if run.bold == bold)
        assert kept.split() == source.split()


def test_wrapping_refuses_a_word_too_wide() -> None:
    with pytest.raises(Misfit, match="mm wide"):
        wrap((Run("unbreakableword"),), 10, 20)


def test_a_number_keeps_its_unit() -> None:
    for width in range(16, 60):
        for line in wrap((Run("arrives at 240 ml then 5 °C for 2½ days"),), width, 10):
            shown = "".join(run.text for run in line)
            assert not shown.endswith(("240", "5", "2½"))


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


def test_search_takes_stock_before_cards_and_never_goes_under_the_floor() -> None:
    small, large = Paper("small", 100, 150), Paper("large", 200, 300)
    tried: list[tuple[str, float, int]] = []

    def attempt(stock: Paper, arcmin: float, parts: int) -> tuple[str, ...]:
        tried.append((stock.name, arcmin, parts))
        if parts < 2 or stock.name != "small" or arcmin > 18.0:
            raise Misfit(f"{stock.name} at {arcmin:g}")
        return ("card",) * parts

    fitted = fit(attempt, (small, large), 3)
    assert (fitted.stock.name, fitted.arcmin, len(fitted.plans)) == ("small", 18.0, 2)
    assert fitted.reason == "small at 16"
    assert min(arcmin for _, arcmin, _ in tried) == FLOOR_ARCMIN
    assert tried[:4] == [
        ("small", 16.0, 1), ("large", 24.0, 1), ("large", 16.0, 1), ("small", 16.0, 2),
    ]  # fmt: skip
    assert len(tried) <= 4 + 4  # nine sizes are searched by halving, the largest first


def test_search_gives_the_reason_when_nothing_fits() -> None:
    def attempt(stock: Paper, arcmin: float, parts: int) -> tuple[str, ...]:
        raise Misfit("too much")

    with pytest.raises(Misfit, match="too much"):
        fit(attempt, (Paper("only", 10, 10),), 2)
