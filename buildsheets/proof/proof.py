"""A finished PDF in; a finding for everything that would come out of the printer wrong, out.

The proof reads the file as a printer would and takes nothing on trust: sizes, fonts, ink, codes
and lengths are measured from the pages.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.gauge import PROOF_BAR_MM, TICK_MM
from buildsheets.proof import legible, raster
from buildsheets.proof.expected import Expectations, ExpectedMark, ExpectedPage, expect
from buildsheets.proof.glyphs import without_glyph
from buildsheets.proof.page import Page
from buildsheets.proof.tables import misplaced, torn
from buildsheets.sheets.imposition import sheet_named
from buildsheets.sheets.sheets import SHEETS_KEY
from buildsheets.views.paper import Paper

__all__ = ["Expectations", "ExpectedPage", "expect", "proof", "proof_folder"]

DPI = 200  # lengths are measured to a part of a pixel
SIZE_TOLERANCE_MM = 0.1
BAR_TOLERANCE_MM = 0.25  # 0.5 %: a page "fitted" by a printer is off by 3 % and more
GAUGE_TOLERANCE_MM = 0.25
LABELS_MM = (
    2 * TICK_MM
)  # the labels of an edge gauge begin left of here, what else there is does not


@dataclass(frozen=True, slots=True)
class _Place:
    """A file, or a page of it and the code of its card; a finding there is about that card."""

    name: str
    code: str = ""

    def __str__(self) -> str:
        return self.name

    def finding(self, code: str, message: str, hint: str = "") -> Finding:
        """What is wrong; ``message`` goes on after the name of the place."""
        cards = (self.code,) if self.code else ()
        return finding(code, None, f"{self.name}{message}", hint=hint, subject=cards)


def proof(pdf: bytes | Path, expected: Expectations | None = None, name: str = "") -> list[Finding]:
    """Everything wrong with a PDF of cards, of sheets of them, or of any other page of ours.

    ``name`` is what the findings call the file, its own name unless told.
    Cards and sheets are told by their bookmarks and metadata; other documents are proofed for
    fonts, glyphs and metadata only.
    """
    import pikepdf
    import pypdfium2

    at = _Place(name or (pdf.name if isinstance(pdf, Path) else "the PDF"))
    expected = expected or Expectations()
    try:
        data = pdf.read_bytes() if isinstance(pdf, Path) else pdf
        held = pikepdf.open(io.BytesIO(data))
    except (OSError, pikepdf.PdfError) as broken:
        why = re.sub(r"^(stream )?<.*?>: ", "", str(broken))  # the library names its own object
        return [at.finding("PROOF13", f" cannot be opened: {why}")]
    with held:
        marks = _bookmarks(held)
        found = [*_glyphs(at, held), *_metadata(at, held)]
        sheets = SHEETS_KEY in held.docinfo
        cards = {} if sheets else _cards(marks)
        is_printed = bool(sheets or cards or expected.pages)
        if is_printed:
            found += _scaling(at, held)
    document = pypdfium2.PdfDocument(data)
    try:
        pages = [Page(page, DPI) for page in document]
        found += _fonts(at, pages, expected)
        if sheets:
            sheet = sheet_named(document.get_metadata_value(SHEETS_KEY[1:]))
            found += _sheet_pages(at, pages, marks, sheet)
        elif is_printed:
            found += _card_pages(at, pages, cards, expected)
    finally:
        document.close()
    return found


def proof_folder(
    folder: Path,
    expected: Mapping[str, Expectations] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Finding]:
    """The proof of every PDF in a folder and below, in order of name.

    ``expected`` says what single files have to be, by their path within the folder; ``progress``
    is told of files done, and files there are.
    """
    found: list[Finding] = []
    files = sorted(folder.rglob("*.pdf"))
    if not files:
        found.append(finding("PROOF13", None, f"there is no PDF in {folder.name}"))
    for number, file in enumerate(files, 1):
        within = file.relative_to(folder).as_posix()
        found += proof(file, (expected or {}).get(within), within)
        if progress is not None:
            progress(number, len(files))
    return found


def _bookmarks(pdf: Any) -> dict[int, str]:
    """First bookmark of each page."""
    found: dict[int, str] = {}
    places = {page.objgen: number for number, page in enumerate(pdf.pages)}
    with pdf.open_outline() as outline:
        for item in outline.root:
            target = item.destination
            if target is not None and len(target):
                place = places.get(getattr(target[0], "objgen", None))
                if place is not None:
                    found.setdefault(place, str(item.title))
    return found


_CARD_MARK = re.compile(r"(\S+)  (.*)")


def _cards(marks: Mapping[int, str]) -> dict[int, str]:
    """The card code of each page, from bookmarks of the form "code  title"."""
    matched = {page: _CARD_MARK.match(title) for page, title in marks.items()}
    return {page: match[1] for page, match in matched.items() if match}


def _glyphs(at: _Place, pdf: Any) -> Iterator[Finding]:
    for font, lacking in without_glyph(pdf):
        yield at.finding("PROOF07", f": the font {font} has no glyph for {lacking}")


def _fonts(at: _Place, pages: Sequence[Page], expected: Expectations) -> Iterator[Finding]:
    allowed = tuple(_plain(family) for family in expected.families)
    for font in sorted({text.font for page in pages for text in page.texts}):
        if not font.is_embedded:
            yield at.finding("PROOF02", f": the font {font.name} is not embedded")
        elif not _plain(font.name).startswith(allowed):
            families = ", ".join(expected.families)
            yield at.finding("PROOF03", f": the font {font.name} is none of {families}")


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def _metadata(at: _Place, pdf: Any) -> Iterator[Finding]:
    for what, text in (("title", pdf.docinfo.get("/Title")), ("language", pdf.Root.get("/Lang"))):
        if not str(text or "").strip():
            yield at.finding("PROOF12", f" has no {what}")


def _scaling(at: _Place, pdf: Any) -> Iterator[Finding]:
    preferences = pdf.Root.get("/ViewerPreferences")
    asked = preferences.get("/PrintScaling") if preferences is not None else None
    if asked != "/None":
        yield at.finding("PROOF11", f": print scaling is {asked or 'left to the viewer'}, not None")


def _card_pages(
    file: _Place, pages: Sequence[Page], cards: Mapping[int, str], expected: Expectations
) -> Iterator[Finding]:
    if expected.pages and len(expected.pages) != len(pages):
        message = f" has {len(pages)} pages for {len(expected.pages)} cards"
        yield file.finding("PROOF10", message, "print the cards anew")
    so_far: list[tuple[ExpectedPage, Page, _Place]] = []
    for number, page in enumerate(pages):
        where = f"{file}, page {number + 1}"
        told = expected.pages[number] if number < len(expected.pages) else None
        code = told.code if told else cards.get(number, "")
        if not code:
            yield _Place(where).finding("PROOF10", " belongs to no card")
            continue
        title = f" ({told.title})" if told and told.title else ""
        at = _Place(f"{where}, card {code}{title}", code)
        sizes = ((told.width_mm, told.height_mm),) if told else expected.sizes_mm
        yield from _size(at, page, sizes)
        yield from _codes(at, page, (code,), once=True)
        yield from _bars(at, [page.raster])
        if told:
            yield from _gauge(at, page, told)
        yield from _safe(at, page, expected.safe_mm)
        yield from _legible(at, page, told)
        page.let_go_of_pixels()
        if told and told.card:
            if so_far and so_far[0][0].code != code:
                yield from _whole_card(so_far)
                so_far = []
            so_far.append((told, page, at))
    yield from _whole_card(so_far)


def _whole_card(parts: Sequence[tuple[ExpectedPage, Page, _Place]]) -> Iterator[Finding]:
    """Findings about a card as a whole, be it on one page or several."""
    if not parts or not (card := parts[0][0].card):
        return
    at, pages = parts[0][2], [page for _, page, _ in parts]
    for text in legible.missing(card.texts, pages):
        hint = "the shop's own layout leaves it out or does not show it"
        yield at.finding("PROOF15", f": {text!r} does not stand where it must", hint)
    wrong = [fault for table in card.tables for fault in misplaced(table, pages)]
    wrong += [fault for bands in card.bands for fault in torn(bands, pages)]
    for fault in wrong:
        yield at.finding("PROOF14", f": {fault}")


def _legible(at: _Place, page: Page, told: ExpectedPage | None) -> Iterator[Finding]:
    card = told.card if told else None
    for text in legible.hidden(page, card.texts.watermark if card else ""):
        place = (
            f"{max(text.box.left, 0):.0f} mm from the left, {max(text.box.top, 0):.0f} from the top"
        )
        message = f": the text {text.text.strip()!r} does not show, {place}"
        yield at.finding("PROOF16", message, "its colour, something over it, or its place")
    for one, other in legible.crossing(page):
        both = f"{one.text.strip()!r} and {other.text.strip()!r}"
        yield at.finding("PROOF18", f": {both} print over each other")
    if card:
        for text, least_pt in legible.too_small(card.texts, page):
            yield at.finding(
                "PROOF17",
                f": {text.text.strip()!r} is set in {text.size_pt:.1f} pt, less than the "
                f"{least_pt:.1f} pt that can be read from where it is read",
                f"set it in {least_pt:.1f} pt or more",
            )


def _sheet_pages(
    file: _Place, pages: Sequence[Page], marks: Mapping[int, str], sheet: Paper
) -> Iterator[Finding]:
    sizes = tuple((s.width_mm, s.height_mm) for s in (sheet, sheet.turned()))
    for number, page in enumerate(pages):
        at = _Place(f"{file}, page {number + 1}")
        codes = tuple(marks.get(number, "").partition("  ")[2].split())
        yield from _size(at, page, sizes)
        yield from _codes(at, page, codes, once=False)
        if codes:
            yield from _bars(at, [page.raster, _turned(page)])


def _turned(page: Page) -> raster.Raster:
    return raster.Raster.of(page.raster.image.rotate(90, expand=True), DPI)


def _size(at: _Place, page: Page, sizes: Sequence[tuple[float, float]]) -> Iterator[Finding]:
    width, height = page.width_mm, page.height_mm
    off = min(max(abs(width - w), abs(height - h)) for w, h in sizes)
    if off > SIZE_TOLERANCE_MM:
        wanted = f"its card is {sizes[0][0]:g} x {sizes[0][1]:g} mm" if len(sizes) == 1 else (
            "that is no declared size")  # fmt: skip
        yield at.finding("PROOF01", f" is {width:.1f} x {height:.1f} mm; {wanted}")


def _codes(at: _Place, page: Page, codes: Sequence[str], *, once: bool) -> Iterator[Finding]:
    """Every card's code stands on the page for people and, readable, for a phone."""
    said = raster.qr_texts(page.raster)
    for code in codes:
        card = _Place(at.name, code)
        if not page.find(code):
            yield card.finding("PROOF06", f": the code {code} is not printed on it")
        if not said and code[0].isupper():  # costs or a day's plan have a name, nothing to scan
            message = f": no QR code can be read at print size from {DPI} dpi"
            yield card.finding("PROOF05", message, "larger modules or a shorter text")
        elif said and not any(_plain_code(code) in _plain_code(one) for one in said):
            yield card.finding("PROOF06", f": the QR code says {said[0]!r}, the card is {code}")
    if once and len(said) > 1:
        yield at.finding("PROOF10", f" has {len(said)} QR codes")


def _plain_code(text: str) -> str:
    """Without the dashes, which a page's address leaves out."""
    return text.replace("-", "")


def _bars(at: _Place, rasters: Sequence[raster.Raster]) -> Iterator[Finding]:
    lengths = [mm for one in rasters for mm in raster.bar_lengths_mm(one)]
    if not lengths:
        yield at.finding("PROOF08", " has no proof bar of 50 mm")
    for length in lengths:
        if abs(length - PROOF_BAR_MM) > BAR_TOLERANCE_MM:
            message = f": the proof bar measures {length:.1f} mm, not 50"
            hint = "the page was scaled: print it anew from the menu"
            yield at.finding("PROOF08", message, hint)


def _gauge(at: _Place, page: Page, told: ExpectedPage) -> Iterator[Finding]:
    """Every mark has its ink, and all ink across the marks is one's; of several cards, the marks
    that are named beside the edge of this one."""
    wanted = told.gauge
    if not wanted:
        return
    if not told.every_mark:
        wanted = tuple(_named(wanted, page))
    ink = raster.gauge_ink_mm(page.raster)
    stretches = [mark.stretch for mark in wanted]
    said = [
        f"the gauge mark {mark.label!r} is not where it belongs, {mark.y_mm:.1f} mm from the top"
        for mark in wanted
        if raster.farthest_mm(mark.stretch, ink) > GAUGE_TOLERANCE_MM
    ]
    said += [
        f"there is a mark {(start + end) / 2:.1f} mm from the top where none belongs"
        for start, end in ink
        if raster.farthest_mm((start, end), stretches) > GAUGE_TOLERANCE_MM
    ]
    hint = "the shop's own layout moves the gauge, or the file was changed: print it anew"
    for what in said:
        yield at.finding("PROOF09", f": {what}", hint)


def _named(marks: Sequence[ExpectedMark], page: Page) -> Iterator[ExpectedMark]:
    """Those of which the label stands beside the edge: not as an end of another, "425 ml" of
    "420 / 425 ml"."""
    taken: list[tuple[int, int]] = []
    for mark in sorted(marks, key=lambda one: -len(one.label)):
        for one in page.find(mark.label):
            within = any(start <= one.first and one.end <= end for start, end in taken)
            if one.box.left < LABELS_MM and not within:
                taken.append((one.first, one.end))
                yield mark
                break


def _safe(at: _Place, page: Page, safe_mm: float) -> Iterator[Finding]:
    for edge in raster.inked_edges(page.raster, safe_mm):
        yield at.finding("PROOF04", f": there is ink within {safe_mm:g} mm of the {edge} edge")
    right, bottom = page.width_mm - safe_mm, page.height_mm - safe_mm
    near = [
        text.text.strip()
        for text in page.texts
        for box in [text.box]
        if box.left < safe_mm or box.top < safe_mm or box.right > right or box.bottom > bottom
    ]
    if near:
        message = f": letters ({', '.join(near)}) stand within {safe_mm:g} mm of an edge"
        yield at.finding("PROOF04", message)
