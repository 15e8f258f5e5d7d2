"""A finished PDF in; a finding for everything that would come out of the printer wrong, out.

The proof reads the file as a printer would and takes nothing on trust: sizes, fonts, ink, codes
and lengths are measured from the pages.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.fonts import MM_PER_PT, families
from buildsheets.print.gauge import POUCH_BORDER_MM, PROOF_BAR_MM, pen_mm
from buildsheets.print.render import PageInfo
from buildsheets.proof import measure
from buildsheets.proof.glyphs import Lettering, lettering
from buildsheets.sheets.imposition import sheet_named
from buildsheets.sheets.sheets import SHEETS_KEY
from buildsheets.views.paper import SERIES

QR_DPI = 150
MEASURE_DPI = 300
SHEET_DPI = 200  # sheets are larger; their bars are measured to a part of a pixel
SIZE_TOLERANCE_MM = 0.1
BAR_TOLERANCE_MM = 0.25  # 0.5 %: a page "fitted" by a printer is off by 3 % and more
GAUGE_TOLERANCE_MM = 0.25
# Cards keep 5 mm clear; a blade may stray by 2 mm.
SAFE_MM = 3.0


@dataclass(frozen=True, slots=True)
class ExpectedMark:
    """A mark of the edge gauge: what it says, its middle down from the top, its thickness."""

    label: str
    y_mm: float
    pen_mm: float

    @property
    def stretch(self) -> measure.Stretch:
        """From where to where down the page its ink goes."""
        return self.y_mm - self.pen_mm / 2, self.y_mm + self.pen_mm / 2


@dataclass(frozen=True, slots=True)
class ExpectedPage:
    """What a page has to be: its card's code, title and size, and its gauge marks."""

    code: str
    width_mm: float
    height_mm: float
    title: str = ""
    gauge: tuple[ExpectedMark, ...] = ()


def _series() -> tuple[tuple[float, float], ...]:
    stocks = [stock for series in SERIES.values() for stock in series]
    return tuple((s.width_mm, s.height_mm) for stock in stocks for s in (stock, stock.turned()))


@dataclass(frozen=True, slots=True)
class Expectations:
    """What a file has to be.

    Without ``pages`` the file's own bookmarks say which card is on which page, and sizes may be
    any of ``sizes_mm`` (the ISO and US series, unless told).
    """

    pages: tuple[ExpectedPage, ...] = ()
    sizes_mm: tuple[tuple[float, float], ...] = field(default_factory=_series)
    families: tuple[str, ...] = field(default_factory=families)
    safe_mm: float = SAFE_MM


def expect(
    pages: Sequence[PageInfo], views: Sequence[Any], pouch_border_mm: float = POUCH_BORDER_MM
) -> Expectations:
    """What the cards of these views have to be when printed: sizes, codes, heights of the marks."""
    gauges = {view.code: getattr(view, "gauge", ()) for view in views}
    return Expectations(
        tuple(
            ExpectedPage(
                page.code,
                page.width_mm,
                page.height_mm,
                page.title,
                tuple(
                    ExpectedMark(
                        line.label,
                        page.height_mm - (line.height_mm - pouch_border_mm),
                        pen_mm(line),
                    )
                    for line in gauges.get(page.code, ())
                ),
            )
            for page in pages
        )
    )


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
        return [finding("PROOF13", None, f"{name} cannot be opened: {why}")]
    with held:
        marks = _bookmarks(held)
        found = [*_lettering(name, lettering(held), expected), *_metadata(name, held)]
        sheets = SHEETS_KEY in held.docinfo
        cards = {} if sheets else _cards(marks)
        if not (sheets or cards or expected.pages):
            return found
        found += _scaling(name, held)
    document = pypdfium2.PdfDocument(data)
    try:
        if sheets:
            found += _sheet_pages(name, document, marks)
        else:
            found += _card_pages(name, document, cards, expected)
    finally:
        document.close()
    return found


def proof_folder(folder: Path, expected: Mapping[str, Expectations] | None = None) -> list[Finding]:
    """The proof of every PDF in a folder and below, in order of name.

    ``expected`` says what single files have to be, by their path within the folder.
    """
    found: list[Finding] = []
    files = sorted(folder.rglob("*.pdf"))
    if not files:
        found.append(finding("PROOF13", None, f"there is no PDF in {folder.name}"))
    for file in files:
        within = file.relative_to(folder).as_posix()
        found += proof(file, (expected or {}).get(within), within)
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


def _lettering(name: str, seen: Lettering, expected: Expectations) -> Iterator[Finding]:
    allowed = tuple(_plain(family) for family in expected.families)
    for font in seen.fonts:
        if not font.embedded:
            yield finding("PROOF02", None, f"{name}: the font {font.name} is not embedded")
        elif not _plain(font.name).startswith(allowed):
            yield finding(
                "PROOF03",
                None,
                f"{name}: the font {font.name} is none of {', '.join(expected.families)}",
            )
    for page, count in seen.without_glyph.items():
        yield finding(
            "PROOF07",
            None,
            f"{name}, page {page + 1}: {count} characters have no glyph in their font",
        )


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def _metadata(name: str, pdf: Any) -> Iterator[Finding]:
    for what, text in (("title", pdf.docinfo.get("/Title")), ("language", pdf.Root.get("/Lang"))):
        if not str(text or "").strip():
            yield finding("PROOF12", None, f"{name} has no {what}")


def _scaling(name: str, pdf: Any) -> Iterator[Finding]:
    preferences = pdf.Root.get("/ViewerPreferences")
    asked = preferences.get("/PrintScaling") if preferences is not None else None
    if asked != "/None":
        yield finding(
            "PROOF11", None, f"{name}: print scaling is {asked or 'left to the viewer'}, not None"
        )


def _card_pages(
    name: str, document: Any, cards: Mapping[int, str], expected: Expectations
) -> Iterator[Finding]:
    pages = list(document)
    if expected.pages and len(expected.pages) != len(pages):
        yield finding(
            "PROOF10",
            None,
            f"{name} has {len(pages)} pages for {len(expected.pages)} cards",
            hint="print the cards anew",
        )
    for number, page in enumerate(pages):
        where = f"{name}, page {number + 1}"
        told = expected.pages[number] if number < len(expected.pages) else None
        code = told.code if told else cards.get(number, "")
        if not code:
            yield finding("PROOF10", None, f"{where} belongs to no card")
            continue
        where += f", card {code}" + (f" ({told.title})" if told and told.title else "")
        sizes = ((told.width_mm, told.height_mm),) if told else expected.sizes_mm
        yield from _size(where, page, sizes, code)
        yield from _codes(where, page, (code,), once=True)
        image = _grey(page, MEASURE_DPI)
        yield from _bars(where, [image], MEASURE_DPI, code)
        yield from _gauge(where, image, told.gauge if told else (), code)
        yield from _safe(where, page, image, expected.safe_mm, code)


def _sheet_pages(name: str, document: Any, marks: Mapping[int, str]) -> Iterator[Finding]:
    sheet = sheet_named(document.get_metadata_value(SHEETS_KEY[1:]))
    sizes = tuple((s.width_mm, s.height_mm) for s in (sheet, sheet.turned()))
    for number, page in enumerate(document):
        where = f"{name}, page {number + 1}"
        codes = tuple(marks.get(number, "").partition("  ")[2].split())
        yield from _size(where, page, sizes, "")
        yield from _codes(where, page, codes, once=False)
        if codes:
            image = _grey(page, SHEET_DPI)
            yield from _bars(where, [image, image.rotate(90, expand=True)], SHEET_DPI, "")


def _of(code: str) -> tuple[str, ...]:
    return (code,) if code else ()


def _grey(page: Any, dpi: float) -> Any:
    return page.render(scale=dpi / 72, grayscale=True).to_pil()


def _size(
    where: str, page: Any, sizes: Sequence[tuple[float, float]], code: str
) -> Iterator[Finding]:
    width, height = (side * MM_PER_PT for side in page.get_size())
    off = min(max(abs(width - w), abs(height - h)) for w, h in sizes)
    if off > SIZE_TOLERANCE_MM:
        wanted = f"its card is {sizes[0][0]:g} x {sizes[0][1]:g} mm" if len(sizes) == 1 else (
            "that is no declared size")  # fmt: skip
        yield finding(
            "PROOF01",
            None,
            f"{where} is {width:.1f} x {height:.1f} mm; {wanted}",
            subject=_of(code),
        )


def _codes(where: str, page: Any, codes: Sequence[str], *, once: bool) -> Iterator[Finding]:
    """Every card's code stands on the page for people and, readable, for a phone."""
    said = measure.qr_texts(_grey(page, QR_DPI))
    text = page.get_textpage().get_text_range()
    for code in codes:
        if code not in text:
            yield finding(
                "PROOF06", None, f"{where}: the code {code} is not printed on it", subject=_of(code)
            )
        if not said:
            yield finding(
                "PROOF05",
                None,
                f"{where}: no QR code can be read at print size from {QR_DPI} dpi",
                hint="larger modules or a shorter text",
                subject=_of(code),
            )
        elif not any(code in one for one in said):
            yield finding(
                "PROOF06",
                None,
                f"{where}: the QR code says {said[0]!r}, the card is {code}",
                subject=_of(code),
            )
    if once and len(said) > 1:
        yield finding("PROOF10", None, f"{where} has {len(said)} QR codes", subject=codes)


def _bars(where: str, images: Sequence[Any], dpi: float, code: str) -> Iterator[Finding]:
    lengths = [mm for image in images for mm in measure.bar_lengths_mm(image, dpi)]
    if not lengths:
        yield finding("PROOF08", None, f"{where} has no proof bar of 50 mm", subject=_of(code))
    for length in lengths:
        if abs(length - PROOF_BAR_MM) > BAR_TOLERANCE_MM:
            yield finding(
                "PROOF08",
                None,
                f"{where}: the proof bar measures {length:.1f} mm, not 50",
                hint="the page was scaled: print it anew from the menu",
                subject=_of(code),
            )


def _gauge(where: str, image: Any, wanted: Sequence[ExpectedMark], code: str) -> Iterator[Finding]:
    """Every mark has its ink, and all ink across the marks is one's."""
    if not wanted:
        return
    ink = measure.gauge_ink_mm(image, MEASURE_DPI)
    stretches = [mark.stretch for mark in wanted]
    said = [
        f"the gauge mark {mark.label!r} is not where it belongs, {mark.y_mm:.1f} mm from the top"
        for mark in wanted
        if measure.farthest_mm(mark.stretch, ink) > GAUGE_TOLERANCE_MM
    ]
    said += [
        f"there is a mark {(start + end) / 2:.1f} mm from the top where none belongs"
        for start, end in ink
        if measure.farthest_mm((start, end), stretches) > GAUGE_TOLERANCE_MM
    ]
    for what in said:
        yield finding(
            "PROOF09",
            None,
            f"{where}: {what}",
            hint="the shop's own layout moves the gauge, or the file was changed: print it anew",
            subject=_of(code),
        )


def _safe(where: str, page: Any, image: Any, safe_mm: float, code: str) -> Iterator[Finding]:
    for edge in measure.inked_edges(image, MEASURE_DPI, safe_mm):
        yield finding(
            "PROOF04",
            None,
            f"{where}: there is ink within {safe_mm:g} mm of the {edge} edge",
            subject=_of(code),
        )
    width, height = page.get_size()
    safe = safe_mm / MM_PER_PT
    text = page.get_textpage()
    near = {
        text.get_text_range(index, 1)
        for index in range(text.count_chars())
        for left, low, right, high in [text.get_charbox(index)]
        if right > left
        and (left < safe or low < safe or right > width - safe or high > height - safe)
    }
    if letters := "".join(sorted(near)).strip():
        yield finding(
            "PROOF04",
            None,
            f"{where}: letters ({letters}) stand within {safe_mm:g} mm of an edge",
            subject=_of(code),
        )
