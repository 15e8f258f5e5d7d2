"""The proof: sound files pass, and each way of breaking one is caught under its own code."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from card_samples import BUILD, PLAIN, STATION
from PIL import Image, ImageDraw
from reportlab.pdfgen import canvas

from buildsheets.findings.finding import Finding
from buildsheets.print.engine import lay_out
from buildsheets.print.layouts import Layouts
from buildsheets.print.qr import qr_code
from buildsheets.print.render import Printed, RenderOptions, render_pdf
from buildsheets.proof import raster
from buildsheets.proof.proof import (
    Expectations,
    ExpectedPage,
    expect,
    proof,
    proof_folder,
)
from buildsheets.sheets.imposition import SheetOptions, sheet_named
from buildsheets.sheets.sheets import impose
from buildsheets.views.types import GaugeLine

MM = 72 / 25.4
VIEWS = (BUILD, PLAIN, STATION)


@pytest.fixture(scope="module")
def cards() -> Printed:
    return render_pdf(VIEWS, RenderOptions(title="Kiosk cards"))


@pytest.fixture(scope="module")
def expected(cards: Printed) -> Expectations:
    return expect(cards.pages, VIEWS)


def codes(found: list[Any]) -> set[str]:
    return {finding.code for finding in found}


def changed(pdf: bytes, change: Callable[[Any], None]) -> bytes:
    with pikepdf.open(io.BytesIO(pdf)) as held:
        change(held)
        out = io.BytesIO()
        held.save(out, deterministic_id=True)
        return out.getvalue()


def before(page: Any, operators: str) -> None:
    page.contents_add(operators.encode(), prepend=True)


def after(page: Any, operators: str) -> None:
    page.contents_add(b"q", prepend=True)
    page.contents_add(f"Q {operators}".encode())


def test_sound_cards_pass(cards: Printed, expected: Expectations) -> None:
    assert len(cards.pages) == 3
    assert any(page.gauge for page in expected.pages)
    assert proof(cards.pdf, expected) == []
    assert proof(cards.pdf) == []  # what its own bookmarks say


@pytest.mark.parametrize("flip", ["", "long-edge"])
def test_sound_sheets_pass(cards: Printed, flip: str) -> None:
    options = SheetOptions(sheet_named("A3"), flip=flip, title="Sheets")
    done = impose(cards.pdf, cards.pages, options, Layouts(None).words("en"))
    assert len(done.sheets) >= 2
    assert proof(done.pdf) == []


def test_wrong_page_size(cards: Printed, expected: Expectations) -> None:
    def crop(pdf: Any) -> None:
        width, height = (float(side) for side in pdf.pages[0].mediabox[2:])
        pdf.pages[0].mediabox = [0, 0, width - 8 * MM, height]

    found = proof(changed(cards.pdf, crop), expected)
    assert "PROOF01" in codes(found)
    width, height = cards.pages[0].width_mm, cards.pages[0].height_mm
    said = f"{width - 8:.1f} x {height:.1f} mm; its card is {width:g} x {height:g} mm"
    assert said in found[0].message
    assert "PROOF01" in codes(proof(changed(cards.pdf, crop)))  # 8 mm less is of no series


@pytest.mark.parametrize("share", [0.97, 1.03, 0.99])
def test_scaled_page(cards: Printed, expected: Expectations, share: float) -> None:
    """As "fit to page" does: the page keeps its size, what is on it does not."""

    def scale(pdf: Any) -> None:
        before(pdf.pages[0], f"{share} 0 0 {share} 0 0 cm")

    found = proof(changed(cards.pdf, scale), expected)
    assert {"PROOF08", "PROOF09"} <= codes(found)
    said = next(f.message for f in found if f.code == "PROOF08")
    assert f"measures {50 * share:.1f} mm" in said


def moved_gauge(
    cards: Printed, expected: Expectations, by_mm: Callable[[int], float]
) -> list[Finding]:
    """The proof when the first card's marks should stand elsewhere than they do."""
    first, *others = expected.pages
    gauge = tuple(replace(m, y_mm=m.y_mm + by_mm(i)) for i, m in enumerate(first.gauge))
    return proof(cards.pdf, replace(expected, pages=(replace(first, gauge=gauge), *others)))


def test_gauge_moved_by_a_millimetre(cards: Printed, expected: Expectations) -> None:
    found = moved_gauge(cards, expected, lambda _: 1.0)
    assert codes(found) == {"PROOF09"}
    assert found[0].subject == (BUILD.code,)
    assert f"page 1, card {BUILD.code} ({cards.pages[0].title}): the gauge mark" in found[0].message


def test_one_mark_moved_is_named_and_its_ink_belongs_nowhere(
    cards: Printed, expected: Expectations
) -> None:
    label = expected.pages[0].gauge[0].label
    said = [f.message for f in moved_gauge(cards, expected, lambda i: 0.6 if i == 0 else 0.0)]
    assert len(said) == 2
    assert f"the gauge mark {label!r} is not where it belongs" in said[0]
    assert "where none belongs" in said[1]


@pytest.mark.slow
@pytest.mark.parametrize("apart_mm", [0.2, 0.6, 0.9, 1.1])
@pytest.mark.parametrize("kinds", [("line", "cap"), ("working", "rim")])
def test_marks_that_stand_close_are_no_fault(apart_mm: float, kinds: tuple[str, str]) -> None:
    """A cap line just under the fill limit: two marks whose ink runs together are both right."""
    upper, lower = kinds
    gauge = (
        GaugeLine(90.0, "425 ml", upper, 3),
        GaugeLine(90.0 - apart_mm, "cap", lower, 4),
        GaugeLine(55.3, "250 ml", "line", 2),
    )
    view = replace(BUILD, gauge=gauge)
    made = render_pdf((view,), RenderOptions(title="Kiosk cards"))
    assert proof(made.pdf, expect(made.pages, (view,))) == []
    off = replace(view, gauge=(replace(gauge[0], height_mm=90.0 + 0.6), *gauge[1:]))
    assert "PROOF09" in codes(proof(made.pdf, expect(made.pages, (off,))))


def drawn_by_hand(font: str, code: str = "HND-1") -> bytes:
    """An A5 card from a drawing library, with a bar; its code's QR is put on by ``image``."""
    buffer = io.BytesIO()
    page = canvas.Canvas(buffer, pagesize=(148 * MM, 210 * MM), lang="en")
    page.setTitle("Hand made")
    page.setFont(font, 12)
    page.drawString(20 * MM, 150 * MM, f"{code} black tea")
    page.setLineWidth(0.3 * MM)
    page.line(20 * MM, 30 * MM, 70 * MM, 30 * MM)
    for x in (20.15, 69.85):
        page.line(x * MM, 28.8 * MM, x * MM, 31.2 * MM)
    page.showPage()
    page.save()
    return buffer.getvalue()


def qr_picture(text: str) -> Any:
    data = base64.b64decode(qr_code(text).data_uri.partition(",")[2])
    return Image.open(io.BytesIO(data)).convert("L")


HAND = Expectations((ExpectedPage("HND-1", 148, 210),))


def test_font_that_is_not_embedded() -> None:
    found = proof(drawn_by_hand("Helvetica"), HAND)
    assert "PROOF02" in codes(found)
    assert any("Helvetica" in f.message for f in found if f.code == "PROOF02")


def test_font_that_is_embedded_but_not_ours(tmp_path: Path) -> None:
    import reportlab
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    face = Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"
    pdfmetrics.registerFont(TTFont("Vera", str(face)))
    found = codes(proof(drawn_by_hand("Vera"), HAND))
    assert "PROOF03" in found
    assert "PROOF02" not in found


def with_picture(pdf: bytes, picture: Any, side_mm: float) -> bytes:
    def add(held: Any) -> None:
        page = held.pages[0]
        stream = held.make_stream(
            picture.tobytes(), Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image,
            Width=picture.width, Height=picture.height, ColorSpace=pikepdf.Name.DeviceGray,
            BitsPerComponent=8,
        )  # fmt: skip
        page.add_resource(stream, pikepdf.Name.XObject, pikepdf.Name.Qr)
        side = side_mm * MM
        after(page, f"q {side} 0 0 {side} {100 * MM} {60 * MM} cm /Qr Do Q")

    return changed(pdf, add)


def test_a_paper_of_the_day_has_a_name_and_nothing_to_scan() -> None:
    plan = Expectations((ExpectedPage("plan-saturday", 148, 210),))
    assert "PROOF05" not in codes(proof(drawn_by_hand("Helvetica", "plan-saturday"), plan))


def test_code_for_people_and_phone(cards: Printed) -> None:
    bare = drawn_by_hand("Helvetica")
    good = with_picture(bare, qr_picture("HND-1 r1"), 12)
    assert not codes(proof(good, HAND)) & {"PROOF05", "PROOF06"}
    assert "PROOF05" in codes(proof(bare, HAND))
    # 33 modules in 2 mm are under half a pixel each at 150 dpi.
    small = with_picture(bare, qr_picture("HND-1 r1"), 2)
    assert "PROOF05" in codes(proof(small, HAND))
    smudged = qr_picture("HND-1 r1")
    ImageDraw.Draw(smudged).rectangle((0, 0, smudged.width, smudged.height // 2), fill=255)
    assert "PROOF05" in codes(proof(with_picture(bare, smudged, 12), HAND))
    other = with_picture(bare, qr_picture("HND-2 r1"), 12)
    said = [f.message for f in proof(other, HAND) if f.code == "PROOF06"]
    assert len(said) == 1
    assert "the QR code says 'HND-2 r1', the card is HND-1" in said[0]
    unprinted = with_picture(drawn_by_hand("Helvetica", "XXX"), qr_picture("HND-1 r1"), 12)
    assert "PROOF06" in codes(proof(unprinted, HAND))


def test_two_cards_on_a_page_and_a_page_too_many(cards: Printed, expected: Expectations) -> None:
    two = with_picture(cards.pdf, qr_picture("HND-1"), 12)
    assert "PROOF10" in codes(proof(two, expected))

    def append(pdf: Any) -> None:
        pdf.add_blank_page(page_size=(148 * MM, 210 * MM))

    more = changed(cards.pdf, append)
    assert any("4 pages for 3 cards" in f.message for f in proof(more, expected))
    assert any("page 4 belongs to no card" in f.message for f in proof(more))


@pytest.mark.parametrize(
    ("edge", "across", "up", "size"),
    [("top", 60, -1.5, (10, 1)), ("right", -2, 100, (1, 10)), ("bottom", 60, 1, (10, 1))],
)
def test_ink_outside_the_safe_area(
    cards: Printed, expected: Expectations, edge: str, across: float, up: float,
    size: tuple[float, float],
) -> None:  # fmt: skip
    page = cards.pages[0]
    rect = (across % page.width_mm, up % page.height_mm, *size)
    drawn = " ".join(str(side * MM) for side in rect)
    pdf = changed(cards.pdf, lambda held: after(held.pages[0], f"0 g {drawn} re f"))
    found = proof(pdf, expected)
    assert codes(found) == {"PROOF04"}
    assert f"the {edge} edge" in found[0].message


def test_letters_at_the_left_edge(cards: Printed, expected: Expectations) -> None:
    """The gauge's own edge may have marks, but no letters."""

    def shift(pdf: Any) -> None:
        before(pdf.pages[0], f"1 0 0 1 {-9 * MM} 0 cm")

    found = proof(changed(cards.pdf, shift), expected)
    assert any("letters" in f.message for f in found if f.code == "PROOF04")


def test_missing_glyph() -> None:
    html = "<html lang='en'><head><title>t</title></head><body><p>Tea \U0001f9cb</p></body></html>"
    style = "body { font-family: 'Atkinson Hyperlegible' }"

    def pdf(html: str) -> bytes:
        # Past our own engine, which refuses such a text before it is written.
        written: bytes = lay_out(html, style, Layouts(None)).document.write_pdf()
        return written

    (found,) = proof(pdf(html))
    assert found.code == "PROOF07"
    assert "\U0001f9cb" in found.message
    assert proof(pdf(html.replace("\U0001f9cb", ""))) == []


def test_no_bar(cards: Printed, expected: Expectations) -> None:
    def cover(pdf: Any) -> None:
        # White over the foot's left part, where the bar is; the codes stay.
        after(pdf.pages[0], f"1 g {25 * MM} {4 * MM} {80 * MM} {14 * MM} re f")

    found = proof(changed(cards.pdf, cover), expected)
    assert "PROOF08" in codes(found)
    assert "no proof bar" in next(f.message for f in found if f.code == "PROOF08")


def test_print_scaling_and_metadata(cards: Printed, expected: Expectations) -> None:
    def loosen(pdf: Any) -> None:
        del pdf.Root.ViewerPreferences.PrintScaling
        del pdf.Root.Lang
        del pdf.docinfo["/Title"]

    found = proof(changed(cards.pdf, loosen), expected)
    assert codes(found) == {"PROOF11", "PROOF12"}
    assert len([f for f in found if f.code == "PROOF12"]) == 2


def test_folder(cards: Printed, expected: Expectations, tmp_path: Path) -> None:
    assert codes(proof_folder(tmp_path)) == {"PROOF13"}
    (tmp_path / "en").mkdir()
    (tmp_path / "en" / "cards.pdf").write_bytes(cards.pdf)
    assert proof_folder(tmp_path) == []
    assert proof_folder(tmp_path, {"en/cards.pdf": expected}) == []
    (tmp_path / "broken.pdf").write_bytes(b"%PDF-1.7 and no more")
    found = proof_folder(tmp_path)
    assert codes(found) == {"PROOF13"}
    assert "broken.pdf" in found[0].message
    assert "<" not in found[0].message
    (tmp_path / "en" / "hand.pdf").write_bytes(drawn_by_hand("Helvetica"))
    assert any("en/hand.pdf" in f.message for f in proof_folder(tmp_path) if f.code == "PROOF02")


def test_bar_is_measured_to_a_part_of_a_pixel() -> None:
    """A bar of known length painted pixel by pixel, its ends grey."""
    image = Image.new("L", (900, 200), 255)
    draw = ImageDraw.Draw(image)
    draw.rectangle((100, 98, 689, 101), fill=0)  # 590 pixels
    for x in (100, 687):
        draw.rectangle((x, 85, x + 2, 114), fill=0)
    draw.rectangle((690, 85, 690, 114), fill=255 - 140)
    (length,) = raster.bar_lengths_mm(raster.Raster.of(image, 300))
    assert length == pytest.approx((590 + 140 / 255) / 300 * 25.4, abs=1e-6)
