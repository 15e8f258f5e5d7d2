"""A PDF of cards, a page each, in; sheets of them at 1:1 with marks, front and back, out.

Cards are placed as they are, never scaled. A card too large for the sheet is left out with a
finding that says which sheet holds it. The same input gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.drawing import number
from buildsheets.print.engine import lay_out
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.join import finish
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import PageInfo
from buildsheets.sheets.imposition import Grid, Matrix, SheetOptions, arrange, sheets_for
from buildsheets.sheets.marks import bar_and_words, corner_guides, crop_marks
from buildsheets.views.words import Words

# Documents of ours say in their metadata that they are sheets, and of what: for the proof.
SHEETS_KEY = "/Sheets"


@dataclass(frozen=True, slots=True)
class Placed:
    """A card on a sheet: which page of the cards' PDF, its code, and where it lies."""

    page: int
    code: str
    at: Matrix


@dataclass(frozen=True, slots=True)
class Sheet:
    """One side of a sheet, a page of the result; ``grid`` has its size and that of its cards."""

    number: int
    side: str  # "front" or "back"
    grid: Grid
    placed: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Imposed:
    """The sheets' PDF (empty when no card fits), what lies on each page, and findings."""

    pdf: bytes
    sheets: tuple[Sheet, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Pair:
    front: int
    back: int | None


def impose(
    pdf: bytes, pages: Sequence[PageInfo], options: SheetOptions, words: Words,
    backs: Mapping[str, str] | None = None,
) -> Imposed:  # fmt: skip
    """Lay cards out on sheets, as many as fit on each, in order; each card size on its own.

    With a flip, ``backs`` names the card to be printed behind a card, code to code; the parts of
    a card that was split stand behind one another without being named. ``pages`` are those of
    ``pdf``, as ``render_pdf`` gives them.
    """
    import pikepdf

    with pikepdf.open(io.BytesIO(pdf)) as cards, pikepdf.new() as out:
        if len(cards.pages) != len(pages):
            raise ValueError(f"the PDF has {len(cards.pages)} pages, {len(pages)} are described")
        sizes = [_size_mm(page) for page in cards.pages]
        pairs, findings = _pairs(pages, sizes, options.flip, backs or {})
        sheets: list[Sheet] = []
        for size in dict.fromkeys(sizes[pair.front] for pair in pairs):
            alike = [pair for pair in pairs if sizes[pair.front] == size]
            grid = arrange(*size, options, len(alike))
            if grid is None:
                findings += [_too_large(pages[pair.front], size, options) for pair in alike]
                continue
            if grid.snug:
                findings.append(_snug(grid, pages[alike[0].front], options))
            if grid.close:
                findings.append(_touching(grid, pages[alike[0].front], options))
            done = sum(sheet.side == "front" for sheet in sheets)
            sheets += _sheets(alike, grid, pages, options.flip, done)
        if not sheets:
            return Imposed(b"", (), tuple(findings))
        findings += _draw(out, cards, sheets, options, words)
        return Imposed(_finish(out, sheets, options), tuple(sheets), tuple(findings))


def _size_mm(page: Any) -> tuple[float, float]:
    left, low, right, high = (float(edge) for edge in page.trimbox)
    return round((right - left) * MM_PER_PT, 2), round((high - low) * MM_PER_PT, 2)


def _pairs(
    pages: Sequence[PageInfo], sizes: Sequence[tuple[float, float]], flip: str,
    backs: Mapping[str, str],
) -> tuple[list[_Pair], list[Finding]]:  # fmt: skip
    """Which page is printed behind which, and what could not be put behind its card."""
    if not flip:
        return [_Pair(place, None) for place in range(len(pages))], []
    findings: list[Finding] = []
    own: dict[str, list[int]] = {}
    for place, page in enumerate(pages):
        own.setdefault(page.code, []).append(place)
    used: dict[str, str] = {}
    for front, back in backs.items():
        if front not in own:
            continue
        if back not in own:
            reason = f"there is no card {back} among those printed"
        elif sizes[own[back][0]] != sizes[own[front][0]]:
            reason = (
                f"{back} is {_said(sizes[own[back][0]])}, {front} {_said(sizes[own[front][0]])}"
            )
        else:
            used[front] = back
            continue
        message = f"card {back} is not printed behind {front}: {reason}"
        findings.append(finding("SHEET03", None, message, "print both on stock of one size"))
    behind = set(used.values()) - set(used)
    pairs: list[_Pair] = []
    for code, places in own.items():
        if code in behind:
            continue
        if code in used:
            behind_it = own[used[code]]
            pairs += [_Pair(*both) for both in zip(places, behind_it)]  # noqa: B905 - rest below
            rest = places[len(behind_it) :] or behind_it[len(places) :]
            pairs += [_Pair(place, None) for place in rest]
        else:
            pairs += [_Pair(*both) for both in zip_longest(places[0::2], places[1::2])]
    return pairs, findings


def _said(size: tuple[float, float]) -> str:
    return f"{size[0]:g} x {size[1]:g} mm"


def _too_large(page: PageInfo, size: tuple[float, float], options: SheetOptions) -> Finding:
    held = sheets_for(*size, options)
    fitting = f"it fits on {' or '.join(held)}" if held else "no sheet of a series holds it"
    sheet = (options.sheet.width_mm, options.sheet.height_mm)
    return finding(
        "SHEET01",
        None,
        f"card {page.code} is {_said(size)}, the sheet {options.sheet.name} {_said(sheet)}; "
        f"{fitting} with {options.edge_mm:g} mm around it",
        subject=[page.code],
        hint=f"print it on {held[0]}" if held else "print it at a shop for large formats",
    )


def _snug(grid: Grid, page: PageInfo, options: SheetOptions) -> Finding:
    size = (grid.card_width_mm, grid.card_height_mm)
    held = sheets_for(*size, options)
    left = min(grid.lefts_mm[0], grid.tops_mm[0])
    return finding(
        "SHEET02",
        None,
        f"cards of {_said(size)}, {page.code} the first, leave {left:.1f} mm of the sheet "
        f"{options.sheet.name} around them, {options.edge_mm:g} mm are asked for",
        "print without margins"
        + (f", or on {' or '.join(held)}: the edge gauge runs to the card's edge" if held else ""),
    )


def _touching(grid: Grid, page: PageInfo, options: SheetOptions) -> Finding:
    size = _said((grid.card_width_mm, grid.card_height_mm))
    message = (
        f"cards of {size}, {page.code} the first, touch each other, {grid.count} on "
        f"{options.sheet.name}: there is no room for a sealed border between them"
    )
    hint = "cut first, then seal each card in a pouch of its own"
    return finding("SHEET05", None, message, hint)


def _sheets(
    pairs: Sequence[_Pair], grid: Grid, pages: Sequence[PageInfo], flip: str, done: int
) -> Iterator[Sheet]:
    """The sides of the sheets that hold these cards, each front before its back."""
    for start in range(0, len(pairs), grid.count):
        group = list(enumerate(pairs[start : start + grid.count]))
        done += 1
        fronts = [Placed(p.front, pages[p.front].code, grid.front(place)) for place, p in group]
        yield Sheet(done, "front", grid, tuple(fronts))
        if flip:
            backs = [
                Placed(p.back, pages[p.back].code, grid.back(place, flip))
                for place, p in group
                if p.back is not None
            ]
            yield Sheet(done, "back", grid, tuple(backs))


def _draw(
    out: Any, cards: Any, sheets: Sequence[Sheet], options: SheetOptions, words: Words
) -> list[Finding]:
    """Add a page a side; notes where marks or the proof bar find no room.

    The engine draws marks and words; cards go under them as they are.
    """
    import pikepdf

    total = sheets[-1].number
    cramped: dict[str, None] = {}
    drawn: list[str] = []
    for sheet in sheets:
        # A side without cards is fed for its front only.
        marks, complete = crop_marks(sheet.grid, options) if sheet.placed else ("", True)
        guides = corner_guides(sheet.grid, options.radius_mm) if sheet.placed else ""
        side = f"sheet_{sheet.side}" if options.flip else "sheet_one_side"
        said = [
            words("sheet_bar"),
            words(side, number=sheet.number, total=total),
            *([options.edition] if options.edition else []),
            words(
                "sheet_cuts" if options.pouch_border_mm and not sheet.grid.close else "sheet_cut"
            ),
        ]
        beside = bar_and_words(sheet.grid, options, " · ".join(said))
        if not complete:
            cramped["crop marks"] = None
        if beside is None:
            cramped["a 50 mm bar of its own; its cards have theirs"] = None
        drawn.append(marks + guides + (beside.drawn() if beside else ""))
    with pikepdf.open(io.BytesIO(_marked(sheets, drawn, options.language))) as marked:
        out.pages.extend(marked.pages)
    forms: dict[int, Any] = {}
    for page, sheet in zip(out.pages, sheets, strict=True):
        placing: list[str] = []
        for placed in sheet.placed:
            if placed.page not in forms:
                forms[placed.page] = out.copy_foreign(cards.pages[placed.page].as_form_xobject())
            name = pikepdf.Name(f"/Card{placed.page}")
            page.add_resource(forms[placed.page], pikepdf.Name.XObject, name)
            placing.append(_placed(str(name), placed.at, sheet.grid, options))
        page.contents_add("\n".join(placing).encode("ascii"), prepend=True)
    cannot = f"a sheet of {options.sheet.name} has no room for"
    return [finding("SHEET04", None, f"{cannot} {what}") for what in cramped]


def _marked(sheets: Sequence[Sheet], drawn: Sequence[str], language: str) -> bytes:
    """A page a side with its marks and words, and no cards yet."""
    sizes = {(s.grid.sheet.width_mm, s.grid.sheet.height_mm): "" for s in sheets}
    names = {size: f"s{place}" for place, size in enumerate(sizes)}
    style = "svg { position: absolute; left: 0; top: 0 } div { break-before: page }" + "".join(
        f"@page {name} {{ size: {w}mm {h}mm; margin: 0 }} .{name} {{ page: {name} }}"
        for (w, h), name in names.items()
    )
    pages = []
    for sheet, marks in zip(sheets, drawn, strict=True):
        w, h = sheet.grid.sheet.width_mm, sheet.grid.sheet.height_mm
        pages.append(
            f'<div class="{names[w, h]}"><svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" '
            f'height="{h}mm" viewBox="0 0 {w} {h}">{marks}</svg></div>'
        )
    html = f'<html lang="{language}"><head><title/></head><body>{"".join(pages)}</body></html>'
    return lay_out(html, style, Layouts()).pdf()


def _placed(name: str, at: Matrix, grid: Grid, options: SheetOptions) -> str:
    """Operators that put a card's form in its place, and its mirrored edges around it as bleed.

    A card that touches others has none, and begins as far inside its left edge: a cut that strays
    by that much leaves no gauge mark of one card on another.
    """
    w, h = grid.card_width_mm / MM_PER_PT, grid.card_height_mm / MM_PER_PT
    x = at.x / MM_PER_PT + at.xy * h
    y = (grid.sheet.height_mm - at.y) / MM_PER_PT - at.yy * h
    parts = [f"q {at.xx} {-at.yx} {-at.xy} {at.yy} {number(x)} {number(y)} cm"]
    bleed = options.bleed_mm / MM_PER_PT
    if grid.close:
        inside = " ".join(map(number, (bleed, 0.0, w - bleed, h)))
        return f"{parts[0]} {inside} re W n {name} Do Q"
    starts_x, starts_y = {-1: -bleed, 0: 0.0, 1: w}, {-1: -bleed, 0: 0.0, 1: h}
    for across, down in ((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if bleed and (i or j)):
        strip = (
            starts_x[across], starts_y[down], bleed if across else w, bleed if down else h,
        )  # fmt: skip
        sides = (-1 if across else 1, -1 if down else 1)
        shift = (2 * w if across > 0 else 0, 2 * h if down > 0 else 0)
        clip = " ".join(number(value) for value in strip)
        mirror = f"{sides[0]} 0 0 {sides[1]} {number(shift[0])} {number(shift[1])} cm"
        parts.append(f"q {clip} re W n {mirror} {name} Do Q")
    return "\n".join([*parts, f"{name} Do Q"])


def _finish(out: Any, sheets: Sequence[Sheet], options: SheetOptions) -> bytes:
    """Metadata, bookmarks, and what the printer is asked to do and not to do."""
    import pikepdf

    duplex = {"": "/Simplex", "long-edge": "/DuplexFlipLongEdge"}
    finish(
        out,
        options.language,
        {
            "/Title": options.title or options.sheet.name,
            "/Author": options.author,
            "/Edition": options.edition,
            SHEETS_KEY: options.sheet.name,
        },
        [
            f"{sheet.number} {sheet.side}  "
            + " ".join(dict.fromkeys(placed.code for placed in sheet.placed))
            for sheet in sheets
        ],
        Duplex=pikepdf.Name(duplex.get(options.flip, "/DuplexFlipShortEdge")),
        PickTrayByPDFSize=True,
    )
    buffer = io.BytesIO()
    out.save(buffer, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return buffer.getvalue()
