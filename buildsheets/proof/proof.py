"""A finished PDF in; a finding for everything that would come out of the printer wrong, out.

The proof reads the file as a printer would and takes nothing on trust: sizes, fonts, ink, codes
and lengths are measured from the pages.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.gauge import PROOF_BAR_MM
from buildsheets.proof import legible, raster
from buildsheets.proof.expected import (
    Expectations,
    ExpectedPage,
    expect,
)
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


def _finding(code: str, message: str, hint: str = "", cards: Sequence[str] = ()) -> Finding:
    return finding(code, None, message, hint=hint, subject=cards)


def proof(pdf: bytes | Path, expected: Expectations | None = None, name: str = "") -> list[Finding]:
    """Everything wrong with a PDF of cards, of sheets of them, or of any other page of ours.

    ``name`` is what the findings call the file, its own name unless told.
    Cards and sheets are told by their bookmarks and metadata; other documents are proofed for
    fonts, glyphs and metadata only.
    """
    import pikepdf
    import pypdfium2

    name = name or (pdf.name if isinstance(pdf, Path) else "the PDF")
    expected = expected or Expectations()
    try:
        data = pdf.read_bytes() if isinstance(pdf, Path) else pdf
        held = pikepdf.open(io.BytesIO(data))
    except (OSError, pikepdf.PdfError) as broken:
        why = re.sub(r"^(stream )?<.*?>: ", "", str(broken))  # the library names its own object
        return [_finding("PROOF13", f"{name} cannot be opened: {why}")]
    with held:
        marks = _bookmarks(held)
        found = [*_glyphs(name, held), *_metadata(name, held)]
        sheets = SHEETS_KEY in held.docinfo
        cards = {} if sheets else _cards(marks)
        is_printed = bool(sheets or cards or expected.pages)
        if is_printed:
            found += _scaling(name, held)
    document = pypdfium2.PdfDocument(data)
    try:
        pages = [Page(page, DPI) for page in document]
        found += _fonts(name, pages, expected)
        if sheets:
            sheet = sheet_named(document.get_metadata_value(SHEETS_KEY[1:]))
            found += _sheet_pages(name, pages, marks, sheet)
        elif is_printed:
            found += _card_pages(name, pages, cards, expected)
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
        found.append(_finding("PROOF13", f"there is no PDF in {folder.name}"))
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


def _glyphs(name: str, pdf: Any) -> Iterator[Finding]:
    for font, lacking in without_glyph(pdf):
        yield _finding("PROOF07", f"{name}: the font {font} has no glyph for {lacking}")


def _fonts(name: str, pages: Sequence[Page], expected: Expectations) -> Iterator[Finding]:
    allowed = tuple(_plain(family) for family in expected.families)
    for font in sorted({text.font for page in pages for text in page.texts}):
        if not font.is_embedded:
            yield _finding("PROOF02", f"{name}: the font {font.name} is not embedded")
        elif not _plain(font.name).startswith(allowed):
            families = ", ".join(expected.families)
            yield _finding("PROOF03", f"{name}: the font {font.name} is none of {families}")


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def _metadata(name: str, pdf: Any) -> Iterator[Finding]:
    for what, text in (("title", pdf.docinfo.get("/Title")), ("language", pdf.Root.get("/Lang"))):
        if not str(text or "").strip():
            yield _finding("PROOF12", f"{name} has no {what}")


def _scaling(name: str, pdf: Any) -> Iterator[Finding]:
    preferences = pdf.Root.get("/ViewerPreferences")
    asked = preferences.get("/PrintScaling") if preferences is not None else None
    if asked != "/None":
        yield _finding(
            "PROOF11", f"{name}: print scaling is {asked or 'left to the viewer'}, not None"
        )


def _card_pages(
    name: str, pages: Sequence[Page], cards: Mapping[int, str], expected: Expectations
) -> Iterator[Finding]:
    if expected.pages and len(expected.pages) != len(pages):
        yield _finding(
            "PROOF10", f"{name} has {len(pages)} pages for {len(expected.pages)} cards",
            "print the cards anew",
        )  # fmt: skip
    so_far: list[tuple[ExpectedPage, Page, str]] = []
    for number, page in enumerate(pages):
        where = f"{name}, page {number + 1}"
        told = expected.pages[number] if number < len(expected.pages) else None
        code = told.code if told else cards.get(number, "")
        if not code:
            yield _finding("PROOF10", f"{where} belongs to no card")
            continue
        where += f", card {code}" + (f" ({told.title})" if told and told.title else "")
        sizes = ((told.width_mm, told.height_mm),) if told else expected.sizes_mm
        yield from _size(where, page, sizes, code)
        yield from _codes(where, page, (code,), once=True)
        yield from _bars(where, [page.raster], code)
        if told:
            yield from _gauge(where, page, told, code)
        yield from _safe(where, page, expected.safe_mm, code)
        yield from _legible(where, page, told, code)
        page.let_go_of_pixels()
        if told and told.card:
            if so_far and so_far[0][0].code != code:
                yield from _whole_card(so_far)
                so_far = []
            so_far.append((told, page, where))
    yield from _whole_card(so_far)


def _whole_card(parts: Sequence[tuple[ExpectedPage, Page, str]]) -> Iterator[Finding]:
    """Findings about a card as a whole, be it on one page or several."""
    if not parts or not (card := parts[0][0].card):
        return
    code, where = parts[0][0].code, parts[0][2]
    pages = [page for _, page, _ in parts]
    for text in legible.missing(card.texts, pages):
        yield _finding(
            "PROOF15", f"{where}: {text!r} does not stand where it must",
            "the shop's own layout leaves it out or does not show it", _of(code),
        )  # fmt: skip
    wrong = [fault for table in card.tables for fault in misplaced(table, pages)]
    wrong += [fault for bands in card.bands for fault in torn(bands, pages)]
    for fault in wrong:
        yield _finding("PROOF14", f"{where}: {fault}", "", _of(code))


def _legible(where: str, page: Page, told: ExpectedPage | None, code: str) -> Iterator[Finding]:
    card = told.card if told else None
    for text in legible.hidden(page, card.texts.watermark if card else ""):
        box = text.box
        at = f"{max(box.left, 0):.0f} mm from the left, {max(box.top, 0):.0f} from the top"
        yield _finding(
            "PROOF16", f"{where}: the text {text.text.strip()!r} does not show, {at}",
            "its colour, something over it, or its place", _of(code),
        )  # fmt: skip
    for one, other in legible.crossing(page):
        yield _finding(
            "PROOF18",
            f"{where}: {one.text.strip()!r} and {other.text.strip()!r} print over each other",
            "", _of(code),
        )  # fmt: skip
    if card:
        for text, least_pt in legible.too_small(card.texts, page):
            yield _finding(
                "PROOF17",
                f"{where}: {text.text.strip()!r} is set in {text.size_pt:.1f} pt, less than the "
                f"{least_pt:.1f} pt that can be read from where it is read",
                f"set it in {least_pt:.1f} pt or more", _of(code),
            )  # fmt: skip


def _sheet_pages(
    name: str, pages: Sequence[Page], marks: Mapping[int, str], sheet: Paper
) -> Iterator[Finding]:
    sizes = tuple((s.width_mm, s.height_mm) for s in (sheet, sheet.turned()))
    for number, page in enumerate(pages):
        where = f"{name}, page {number + 1}"
        codes = tuple(marks.get(number, "").partition("  ")[2].split())
        yield from _size(where, page, sizes, "")
        yield from _codes(where, page, codes, once=False)
        if codes:
            yield from _bars(where, [page.raster, _turned(page)], "")


def _turned(page: Page) -> raster.Raster:
    return raster.Raster.of(page.raster.image.rotate(90, expand=True), DPI)


def _of(code: str) -> tuple[str, ...]:
    return (code,) if code else ()


def _size(
    where: str, page: Page, sizes: Sequence[tuple[float, float]], code: str
) -> Iterator[Finding]:
    width, height = page.width_mm, page.height_mm
    off = min(max(abs(width - w), abs(height - h)) for w, h in sizes)
    if off > SIZE_TOLERANCE_MM:
        wanted = f"its card is {sizes[0][0]:g} x {sizes[0][1]:g} mm" if len(sizes) == 1 else (
            "that is no declared size")  # fmt: skip
        yield _finding(
            "PROOF01", f"{where} is {width:.1f} x {height:.1f} mm; {wanted}", "", _of(code)
        )


def _codes(where: str, page: Page, codes: Sequence[str], *, once: bool) -> Iterator[Finding]:
    """Every card's code stands on the page for people and, readable, for a phone."""
    said = raster.qr_texts(page.raster)
    for code in codes:
        if not page.find(code):
            yield _finding(
                "PROOF06", f"{where}: the code {code} is not printed on it", "", _of(code)
            )
        if not said and code[0].isupper():  # costs or a day's plan have a name, nothing to scan
            yield _finding(
                "PROOF05", f"{where}: no QR code can be read at print size from {DPI} dpi",
                "larger modules or a shorter text", _of(code),
            )  # fmt: skip
        elif said and not any(_plain_code(code) in _plain_code(one) for one in said):
            yield _finding(
                "PROOF06",
                f"{where}: the QR code says {said[0]!r}, the card is {code}",
                "",
                _of(code),
            )
    if once and len(said) > 1:
        yield _finding("PROOF10", f"{where} has {len(said)} QR codes", "", codes)


def _plain_code(text: str) -> str:
    """Without the dashes, which a page's address leaves out."""
    return text.replace("-", "")


def _bars(where: str, rasters: Sequence[raster.Raster], code: str) -> Iterator[Finding]:
    lengths = [mm for one in rasters for mm in raster.bar_lengths_mm(one)]
    if not lengths:
        yield _finding("PROOF08", f"{where} has no proof bar of 50 mm", "", _of(code))
    for length in lengths:
        if abs(length - PROOF_BAR_MM) > BAR_TOLERANCE_MM:
            yield _finding(
                "PROOF08", f"{where}: the proof bar measures {length:.1f} mm, not 50",
                "the page was scaled: print it anew from the menu", _of(code),
            )  # fmt: skip


def _gauge(where: str, page: Page, told: ExpectedPage, code: str) -> Iterator[Finding]:
    """Every mark has its ink, and all ink across the marks is one's; of a strip of several cards,
    the marks that are named on this one."""
    wanted = told.gauge
    if not wanted:
        return
    if not told.every_mark:
        wanted = tuple(mark for mark in wanted if page.find(mark.label))
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
    for what in said:
        yield _finding(
            "PROOF09",
            f"{where}: {what}",
            "the shop's own layout moves the gauge, or the file was changed: print it anew",
            _of(code),
        )


def _safe(where: str, page: Page, safe_mm: float, code: str) -> Iterator[Finding]:
    for edge in raster.inked_edges(page.raster, safe_mm):
        yield _finding(
            "PROOF04",
            f"{where}: there is ink within {safe_mm:g} mm of the {edge} edge",
            "",
            _of(code),
        )
    right, bottom = page.width_mm - safe_mm, page.height_mm - safe_mm
    near = [
        text.text.strip()
        for text in page.texts
        for box in [text.box]
        if box.left < safe_mm or box.top < safe_mm or box.right > right or box.bottom > bottom
    ]
    if near:
        yield _finding(
            "PROOF04",
            f"{where}: letters ({', '.join(near)}) stand within {safe_mm:g} mm of an edge",
            "", _of(code),
        )  # fmt: skip
