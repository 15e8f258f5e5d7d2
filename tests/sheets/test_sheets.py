"""Sheets, measured from what pdfium rasterises: scale, marks, and which card backs which."""

from __future__ import annotations

import io
import math
from itertools import combinations, product

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reportlab.pdfgen import canvas

from buildsheets.findings.finding import Severity
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import PageInfo, Printed
from buildsheets.sheets.imposition import Grid, SheetOptions, arrange, sheet_named, sheets_for
from buildsheets.sheets.print_run import print_run, run_text
from buildsheets.sheets.sheets import Imposed, impose
from buildsheets.views.paper import Paper

MM = 72 / 25.4
WORDS = Layouts(None).words("en")


def cards(count: int, width_mm: float, height_mm: float, grey: bool = True
          ) -> tuple[bytes, tuple[PageInfo, ...]]:  # fmt: skip
    """Cards with a number, a black 1 mm frame inside the trim, and a 60 mm rule."""
    buffer = io.BytesIO()
    page = canvas.Canvas(buffer, pagesize=(width_mm * MM, height_mm * MM), invariant=1)
    for number in range(count):
        if not grey:
            page.setFillColorRGB(0.1, 0.4, 0.3)
            page.rect(20 * MM, 40 * MM, 10 * MM, 10 * MM, stroke=0, fill=1)
            page.setFillGray(0)
        for rect in ((0, 0, width_mm, 1), (0, height_mm - 1, width_mm, 1), (0, 0, 1, height_mm),
                     (width_mm - 1, 0, 1, height_mm)):  # fmt: skip
            page.rect(*(side * MM for side in rect), stroke=0, fill=1)
        page.rect(10 * MM, 10 * MM, 60 * MM, 2 * MM, stroke=0, fill=1)
        page.drawString(10 * MM, 30 * MM, f"card {number}")
        page.showPage()
    page.save()
    pages = tuple(PageInfo(f"K{n}", f"Card {n}", width_mm, height_mm, 1, 1, 20.0)
                  for n in range(count))  # fmt: skip
    return buffer.getvalue(), pages


def raster(pdf: bytes, page: int, dpi: float) -> np.ndarray:
    document = pypdfium2.PdfDocument(pdf)
    return np.asarray(document[page].render(scale=dpi / 72).to_pil().convert("L"))


def edges(line: np.ndarray, per_mm: float) -> list[tuple[float, float]]:
    """Dark stretches of a line of pixels as (start, end) in mm, edges to a part of a pixel."""
    ink = 1 - line / 255
    dark = np.flatnonzero(np.diff(np.concatenate([[0], (ink > 0.05).astype(int), [0]])))
    found = []
    for start, end in zip(dark[::2], dark[1::2], strict=True):
        begin = start + 1 - ink[start] if ink[start] < 0.95 else start
        stop = end - 1 + ink[end - 1] if ink[end - 1] < 0.95 else end
        found.append((begin / per_mm, stop / per_mm))
    return found


def text_at(pdf: bytes, page: int) -> list[tuple[str, float, float]]:
    """Words "card n" with the place of their first letter in mm from the top left."""
    document = pypdfium2.PdfDocument(pdf)
    sheet = document[page]
    height = sheet.get_height()
    text = sheet.get_textpage()
    whole = text.get_text_range()
    found, at = [], whole.find("card ")
    while at >= 0:
        left, low, right, high = text.get_charbox(at)
        number = whole[at + 5 : at + 8].split()[0]
        found.append((f"K{number}", (left + right) / 2 / MM, (height - (low + high) / 2) / MM))
        at = whole.find("card ", at + 1)
    return found


def test_card_is_placed_at_its_own_size() -> None:
    pdf, pages = cards(1, 148, 210)
    options = SheetOptions(bleed_mm=0.0)
    done = impose(pdf, pages, options, WORDS)
    dpi = 600
    per_mm = dpi / 25.4
    image = raster(done.pdf, 0, dpi)
    left, top = (210 - 148) / 2, (297 - 210) / 2  # centred on A4, ISO 216
    row = round((top + 210 - 11) * per_mm)
    spans = edges(image[row], per_mm)
    rule = next(span for span in spans if 40 < span[1] - span[0] < 80)
    assert rule[1] - rule[0] == pytest.approx(60, rel=0.001)
    assert spans[0][0] == pytest.approx(left, abs=0.05)
    assert spans[-1][1] == pytest.approx(left + 148, abs=0.05)
    column = edges(image[:, round((left + 100) * per_mm)], per_mm)
    inside = [span for span in column if top - 1 < span[0] < top + 211]
    assert inside[-1][1] - inside[0][0] == pytest.approx(210, rel=0.001)


@pytest.mark.parametrize("border", [0.0, 3.0])
def test_crop_marks_stand_on_the_trimmed_edges(border: float) -> None:
    pdf, pages = cards(2, 105, 148)
    options = SheetOptions(pouch_border_mm=border, bleed_mm=2.0)
    done = impose(pdf, pages, options, WORDS)
    grid = done.sheets[0].grid
    assert grid.count == 2
    assert (grid.sheet.width_mm, grid.sheet.height_mm) == (297, 210)
    dpi = 600
    per_mm = dpi / 25.4
    image = raster(done.pdf, 0, dpi)
    gap = 2 * max(border, 2.0)
    first = (297 - 210 - gap) / 2
    trims = [first, first + 105, first + 105 + gap, first + 210 + gap]
    cuts = {*trims}
    if border:
        cuts |= {round(trim + side * border, 3) for trim, side in zip(trims, (-1, 1, -1, 1),
                                                                      strict=True)}  # fmt: skip
    above = (210 - 148) / 2 - max(border, 2.0) - 0.3  # in the first dash of every mark
    found = [(a + b) / 2 for a, b in edges(image[round(above * per_mm)], per_mm)]
    assert len(found) == len(cuts)
    for mark, cut in zip(found, sorted(cuts), strict=True):
        assert mark == pytest.approx(cut, abs=0.2)
    # Nothing is drawn in the border, so none can be on a card.
    ring = edges(image[round((above + 0.3 + (border - 2.0 if border else 0) / 2) * per_mm)], per_mm)
    assert not border or ring == []


def test_bleed_carries_on_the_edge_and_stops() -> None:
    pdf, pages = cards(1, 148, 210)
    done = impose(pdf, pages, SheetOptions(bleed_mm=1.0), WORDS)
    dpi = 600
    image = raster(done.pdf, 0, dpi)
    middle = edges(image[round(150 * dpi / 25.4)], dpi / 25.4)
    assert middle[0] == pytest.approx((30.0, 32.0), abs=0.05)  # 1 mm outside, 1 mm inside
    assert middle[-1] == pytest.approx((178.0, 180.0), abs=0.05)


def test_rounded_corner_guide_lies_on_its_circle() -> None:
    pdf, pages = cards(1, 148, 210)
    plain = raster(impose(pdf, pages, SheetOptions(radius_mm=0), WORDS).pdf, 0, 600)
    guided = raster(impose(pdf, pages, SheetOptions(radius_mm=8), WORDS).pdf, 0, 600)
    rows, columns = np.nonzero(np.abs(plain.astype(int) - guided.astype(int)) > 40)
    per_mm = 600 / 25.4
    left, top = 31.0, 43.5
    near = (columns / per_mm < left + 8) & (rows / per_mm < top + 8)
    assert near.sum() > 100
    radius = np.hypot(columns[near] / per_mm - left - 8, rows[near] / per_mm - top - 8)
    assert np.abs(radius - 8).max() < 0.2
    angles = np.degrees(
        np.arctan2(top + 8 - rows[near] / per_mm, left + 8 - columns[near] / per_mm)
    )
    assert angles.min() < 10  # the black frame hides its very ends
    assert angles.max() > 80


def test_sheet_has_a_bar_of_50_mm() -> None:
    pdf, pages = cards(1, 148, 210)
    image = raster(impose(pdf, pages, SheetOptions(), WORDS).pdf, 0, 600)
    per_mm = 600 / 25.4
    best = 0.0
    for row in image[round(255 * per_mm) :]:
        best = max([best, *(b - a for a, b in edges(row, per_mm) if b - a < 60)])
    assert best == pytest.approx(50, rel=0.001)


SIZES = st.sampled_from([(148.0, 210.0), (105.0, 148.0), (74.0, 105.0), (210.0, 148.0),
                         (139.7, 215.9), (90.0, 50.0)])  # fmt: skip
SHEETS = st.sampled_from(["A4", "A3", "letter", "tabloid", "320x450"])
LENGTHS = st.sampled_from([0.0, 1.0, 3.0, 5.0])


@given(SIZES, SHEETS, LENGTHS, LENGTHS, LENGTHS, st.sampled_from(["long-edge", "short-edge"]))
@settings(max_examples=150)
def test_turned_sheet_has_each_back_behind_its_front(
    size: tuple[float, float], sheet: str, border: float, margin: float, bleed: float, flip: str
) -> None:
    """Turn the paper in the hand: a hole pricked through a card's corner comes out at the same
    height on the back, as far from the other side; nothing of the code's own matrices is used."""
    options = SheetOptions(sheet_named(sheet), border, margin, 0.0, bleed, flip=flip)
    grid = arrange(*size, options)
    assume(grid is not None)
    assert grid is not None
    width, height = grid.sheet.width_mm, grid.sheet.height_mm
    about_upright_axis = (flip == "long-edge") == (height > width)
    for place in range(grid.count):
        for a, b in product((0, size[0] / 3, size[0]), (0, size[1] / 5, size[1])):
            u, v = grid.front(place).point(a, b)
            pricked = (width - u, v) if about_upright_axis else (u, height - v)
            assert grid.back(place, flip).point(size[0] - a, b) == pytest.approx(pricked)


@given(SIZES, SHEETS, LENGTHS, LENGTHS, LENGTHS)
@settings(max_examples=150)
def test_cards_keep_their_distance(
    size: tuple[float, float], sheet: str, border: float, margin: float, bleed: float
) -> None:
    options = SheetOptions(sheet_named(sheet), border, margin, 0.0, bleed)
    grid = arrange(*size, options)
    if grid is None:
        stock = options.sheet
        assert min(size) > min(stock.width_mm, stock.height_mm) or max(size) > stock.height_mm
        return
    around = 0.0 if grid.snug else max(border, margin, bleed)
    boxes = [grid.front(place) for place in range(grid.count)]
    for box in boxes:
        assert box.x >= around - 1e-6
        assert box.x + size[0] <= grid.sheet.width_mm - around + 1e-6
        assert box.y >= around - 1e-6
        assert box.y + size[1] <= grid.sheet.height_mm - around + 1e-6
    for one, other in product(boxes, boxes):
        if one != other:
            apart = max(abs(one.x - other.x) - size[0], abs(one.y - other.y) - size[1])
            assert apart >= 2 * max(border, bleed) - 1e-6


# facts of ISO 216: each size is half the one before; of ANSI: letter is half of tabloid.
@pytest.mark.parametrize(("sheet", "size", "count"), [
    ("A4", (148, 210), 2), ("A4", (105, 148), 4), ("A3", (210, 297), 2), ("A3", (148, 210), 4),
    ("letter", (139.7, 215.9), 2), ("tabloid", (215.9, 279.4), 2), ("tabloid", (139.7, 215.9), 4),
])  # fmt: skip
def test_cards_touch_where_that_saves_sheets(
    sheet: str, size: tuple[float, float], count: int
) -> None:
    options = SheetOptions(sheet_named(sheet))
    grid = arrange(*size, options, 20)
    assert grid is not None
    assert (grid.count, grid.close) == (count, True)
    lone = arrange(*size, options, 1)
    assert lone is not None
    assert not lone.close


@given(SIZES, SHEETS, LENGTHS, LENGTHS, st.integers(1, 40))
@settings(max_examples=150)
def test_touching_cards_lie_on_the_sheet_with_their_left_edges_inside(
    size: tuple[float, float], sheet: str, border: float, margin: float, cards: int
) -> None:
    options = SheetOptions(sheet_named(sheet), border, margin)
    grid, apart = (arrange(*size, options, many) for many in (cards, 1))
    assume(grid is not None and grid.close)
    assert grid is not None
    assert apart is not None
    assert math.ceil(cards / grid.count) < math.ceil(cards / apart.count)
    width, height = grid.sheet.width_mm, grid.sheet.height_mm
    boxes = []
    for place in range(grid.count):
        (x0, y0), (x1, y1) = (grid.front(place).point(*corner) for corner in ((0, 0), size))
        assert margin - 1e-6 <= x0 <= width - margin + 1e-6  # where the gauge is
        assert {0 <= x <= width for x in (x0, x1)} == {0 <= y <= height for y in (y0, y1)} == {True}
        boxes.append((min(x0, x1), min(y0, y1)))
    for (a, b), (c, d) in combinations(boxes, 2):
        assert max(abs(a - c) - size[0], abs(b - d) - size[1]) >= -1e-6


def test_a_cut_that_strays_between_touching_cards_leaves_no_mark_of_another() -> None:
    pdf, pages = cards(2, 148, 210)
    done = impose(pdf, pages, SheetOptions(bleed_mm=2.0), WORDS)
    assert len(done.sheets) == 1
    assert [f.code for f in done.findings if f.severity is not Severity.NOTE] == []
    assert "SHEET05" in [f.code for f in done.findings]
    # Both stand on A4 lying, the left one on its head: its words are at the right of its half.
    placed = {code: (x, y) for code, x, y in text_at(done.pdf, 0)}
    assert placed["K1"] == pytest.approx((148.5 + 11, 210 - 31), abs=2)
    assert placed["K0"] == pytest.approx((148.5 - 11, 31), abs=2)
    dpi = 600
    per_mm = dpi / 25.4
    spans = edges(raster(done.pdf, 0, dpi)[round(100 * per_mm)], per_mm)
    near = [span for span in spans if span[1] > 146.5 and span[0] < 150.5]
    assert len(near) == 1  # the line to cut along, and nothing else for 2 mm on either side
    assert sum(near[0]) / 2 == pytest.approx(148.5, abs=0.1)
    assert near[0][1] - near[0][0] < 0.3


def test_cards_printed_on_both_sides_do_not_touch() -> None:
    """The back of a card that stands on its head would have its left edge at the sheet's edge."""
    grid = arrange(148, 210, SheetOptions(flip="long-edge"), 20)
    assert grid is not None
    assert (grid.count, grid.close) == (1, False)


@pytest.mark.parametrize(("sheet", "size"), [("A3", (148, 210)), ("A4", (105, 148)),
                                             ("A4", (90, 50)), ("letter", (90, 50))])  # fmt: skip
@pytest.mark.parametrize("flip", ["long-edge", "short-edge"])
def test_printed_sheet_turned_over_shows_the_named_back(
    sheet: str, size: tuple[float, float], flip: str
) -> None:
    """As above with the finished PDF: the back page, turned as paper is, lies over its front."""
    pdf, pages = cards(10, *size)
    backs = {f"K{n}": f"K{n + 5}" for n in range(5)}
    done = impose(pdf, pages, SheetOptions(sheet_named(sheet), flip=flip), WORDS, backs)
    assert not [f for f in done.findings if f.severity is not Severity.NOTE]
    seen = {}
    for page in range(0, len(done.sheets), 2):
        grid = done.sheets[page].grid
        width, height = grid.sheet.width_mm, grid.sheet.height_mm
        upright = (flip == "long-edge") == (height > width)
        fronts, rears = text_at(done.pdf, page), text_at(done.pdf, page + 1)
        for code, x, y in fronts:
            # The words stand at the left of a card: behind them, at the right of its back.
            for other, u, v in rears:
                through = (width - u, v) if upright else (u, height - v)
                across = x + size[0] - 2 * 11.5  # the first letter is about 11.5 mm in
                if math.hypot(through[0] - across, through[1] - y) < 4:
                    seen[code] = other
    assert seen == backs


def test_parts_of_a_card_stand_behind_one_another() -> None:
    pdf, _ = cards(3, 148, 210)
    split = tuple(PageInfo("K0", "Card", 148, 210, n + 1, 3, 20.0) for n in range(3))
    done = impose(pdf, split, SheetOptions(flip="long-edge"), WORDS)
    assert [[p.page for p in sheet.placed] for sheet in done.sheets] == [[0], [1], [2], []]
    single = impose(pdf, split, SheetOptions(), WORDS)
    assert [[p.page for p in sheet.placed] for sheet in single.sheets] == [[0, 1], [2]]


def test_one_back_may_stand_behind_many_and_more_backs_than_fronts_are_kept() -> None:
    pdf, pages = cards(3, 148, 210)
    done = impose(pdf, pages, SheetOptions(flip="long-edge"), WORDS, {"K0": "K2", "K1": "K2"})
    assert [[p.page for p in sheet.placed] for sheet in done.sheets] == [[0], [2], [1], [2]]
    named = (pages[0], pages[1], PageInfo("K1", "Card 1", 148, 210, 2, 2, 20.0))
    done = impose(pdf, named, SheetOptions(flip="long-edge"), WORDS, {"K0": "K1"})
    assert [[p.page for p in sheet.placed] for sheet in done.sheets] == [[0], [1], [2], []]


def test_back_of_another_size_or_missing_is_a_finding() -> None:
    one, a = cards(1, 148, 210)
    two, _ = cards(1, 105, 148)
    with pikepdf.open(io.BytesIO(one)) as pdf, pikepdf.open(io.BytesIO(two)) as more:
        pdf.pages.extend(more.pages)
        both = io.BytesIO()
        pdf.save(both)
    pages = (a[0], PageInfo("B", "", 105, 148, 1, 1, 20.0))
    options = SheetOptions(flip="short-edge")
    done = impose(both.getvalue(), pages, options, WORDS, {"K0": "B"})
    assert [f.code for f in done.findings if f.severity is Severity.WARNING] == ["SHEET03"]
    assert "105 x 148 mm, K0 148 x 210 mm" in done.findings[0].message
    assert {p.code for sheet in done.sheets for p in sheet.placed} == {"K0", "B"}
    assert done.findings[0].name == "no-back"
    absent = impose(both.getvalue(), pages, options, WORDS, {"K0": "Z"})
    assert "no card Z" in absent.findings[0].message


def test_too_large_a_card_is_refused_and_told_which_sheet_holds_it() -> None:
    pdf, pages = cards(1, 210, 297)
    done = impose(pdf, pages, SheetOptions(sheet_named("A5")), WORDS)
    assert done.pdf == b""
    assert [f.code for f in done.findings] == ["SHEET01"]
    # ISO 216: A3 is 297 x 420 mm; US tabloid 279.4 x 431.8 mm.
    assert "fits on A3 or tabloid" in done.findings[0].message
    fitting = impose(pdf, pages, SheetOptions(sheet_named("A3")), WORDS)
    assert [f for f in fitting.findings if f.severity is not Severity.NOTE] == []


def test_card_as_large_as_the_sheet_is_printed_with_a_warning() -> None:
    pdf, pages = cards(1, 297, 210)
    done = impose(pdf, pages, SheetOptions(sheet_named("A4")), WORDS)
    assert [f.code for f in done.findings if f.severity is Severity.WARNING] == ["SHEET02"]
    with pikepdf.open(io.BytesIO(done.pdf)) as out:
        box = [float(side) for side in out.pages[0].mediabox]
    assert box[2:] == pytest.approx([297 * MM, 210 * MM], abs=0.01)


def test_real_cards_keep_their_text_and_bytes_are_the_same_each_time(
    rendered: Printed,
) -> None:
    pages = tuple(
        PageInfo(f"{p.code}{n}", p.title, p.width_mm, p.height_mm, 1, 1, p.arcmin)
        for n, p in enumerate(rendered.pages)
    )
    options = SheetOptions(sheet_named("A3"), flip="long-edge", title="Kiosk", edition="2026-3")
    done: Imposed = impose(rendered.pdf, pages, options, WORDS)
    assert done.pdf == impose(rendered.pdf, pages, options, WORDS).pdf
    text = "".join(page.get_textpage().get_text_range()
                   for page in pypdfium2.PdfDocument(done.pdf))  # fmt: skip
    for page in pypdfium2.PdfDocument(rendered.pdf):
        for word in page.get_textpage().get_text_range().split():
            assert word in text
    with pikepdf.open(io.BytesIO(done.pdf)) as out:
        assert out.Root.ViewerPreferences.PrintScaling == "/None"
        assert out.Root.ViewerPreferences.Duplex == "/DuplexFlipLongEdge"
        assert str(out.docinfo["/Title"]) == "Kiosk"
        assert str(out.Root.Lang) == "en"


def test_run_names_sheets_ink_and_pouches() -> None:
    grey, pages = cards(5, 148, 210)
    options = SheetOptions(sheet_named("A3"))
    (line,) = print_run(impose(grey, pages, options, WORDS), options)
    # common practice, no source: A5 pouches are sold as 154 x 216 mm.
    assert (line.sheets, line.cards, line.sides, line.colour) == (2, 5, 1, False)
    assert line.pouch_mm == (154.0, 216.0)
    assert run_text((line,), WORDS) == (
        "2 sheets A3, one side, grey; 5 cards 148 × 210 mm; cut before sealing; "
        "5 pouches 154 × 216 mm"
    )
    colour, pages = cards(1, 148, 210, grey=False)
    (line,) = print_run(impose(colour, pages, options, WORDS), options)
    assert line.colour
    # Five cards, two of them behind others: two sheets of A3 hold three, one printed on both sides.
    unsealed = SheetOptions(sheet_named("A3"), pouch_border_mm=0.0, flip="long-edge")
    five, pages = cards(5, 148, 210)
    backed = impose(five, pages, unsealed, WORDS, {"K0": "K3", "K1": "K4"})
    runs = print_run(backed, unsealed)
    assert [(r.sides, r.sheets, r.cards, r.pouch_mm) for r in runs] == [
        (2, 1, 2, None),
        (1, 1, 1, None),
    ]


def test_sheet_names() -> None:
    assert sheet_named("a4") == Paper("A4", 210, 297)
    # facts of ANSI letter: 8.5 x 11 in.
    letter = sheet_named("Letter")
    assert (letter.width_mm, letter.height_mm) == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert sheet_named("450x320 mm").width_mm == 320
    for wrong in ("B9", "0x10", "axb", "nanx5"):
        with pytest.raises(ValueError, match="sheet"):
            sheet_named(wrong)
    with pytest.raises(ValueError, match="flip"):
        SheetOptions(flip="sideways")
    with pytest.raises(ValueError, match="bleed_mm"):
        SheetOptions(bleed_mm=-1)
    assert sheets_for(148, 210, SheetOptions()) == ("A4", "letter")
    assert Grid(Paper("x", 100, 100), 10, 10, 2, 3, 1).count == 6
