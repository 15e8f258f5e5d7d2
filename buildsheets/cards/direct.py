"""Placed cards in; a PDF drawn straight from their places out.

Every text of a plan is already broken, sized and placed, so the layout engine has nothing to lay
out but a shop's own templates and styles. Cards set by the shipped ones are drawn here, with the
same look at a tenth of the time; a test holds the two ways against each other. Text that needs
shaping, and faces beside the main one, are left to the engine: see :func:`drawable`.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from buildsheets.cards.engine import EngineResult, LaidOutPage
from buildsheets.cards.faces import FaceTable, blank, cut, fill, tables
from buildsheets.cards.fonts import MM_PER_PT, main_face
from buildsheets.cards.legibility import Run
from buildsheets.cards.page import end_mark
from buildsheets.cards.plan import Plan, Text
from buildsheets.cards.qr import QrCode
from buildsheets.cards.strokes import colour, strokes
from buildsheets.cards.typeset import glyphs, plainly_set

# Kinds of text in the soft ink, and where they are not, as layouts/shared/base.css has it.
SOFT = frozenset({"foot", "heading", "legend", "note"})
INKED = frozenset({("build", "heading"), ("build", "note"), ("station", "heading")})
UNKERNED = frozenset({"table"})  # columns of figures
WATERMARK_PT, WATERMARK_SPACE_PT, WATERMARK_INK = 64.0, 6.0, "#c9c9c9"
WATERMARK_TOP, WATERMARK_TURN = 0.38, math.radians(32)

_FONTS = ("R", "B")  # names of the regular and the bold face on a page


@dataclass(frozen=True, slots=True)
class DrawnPage:
    """A page's drawing, the glyphs it shows of the regular and the bold face, and its QR code."""

    width_mm: float
    height_mm: float
    drawing: bytes
    glyphs: tuple[frozenset[int], frozenset[int]]
    code: QrCode | None


def drawable(plan: Plan) -> bool:
    """Whether the card needs no shaping and no other face."""
    language = plan.view.language
    said = (run.text for zone in plan.zones for text in zone.texts for line in text.lines
            for run in line)  # fmt: skip
    return all(plainly_set(text, language) for text in (plan.view.watermark, *said))


def drawn(plan: Plan, colours: Mapping[str, str]) -> DrawnPage:
    """The card as a page's drawing: ground, mark of a proof, shapes, texts in order, QR code."""
    width, height = plan.stock.width_mm, plan.stock.height_mm
    used: tuple[set[int], set[int]] = (set(), set())
    texts = [
        _text(text, _ink(plan.view.kind, text, colours), height, used)
        for zone in plan.zones
        for text in zone.texts
    ]
    parts = [
        _ground(colours["paper"], width, height),
        _watermark(plan.view.watermark, width, height, used),
        strokes(plan.shapes, height),
        "BT\n",
        *_lettered(texts),
        "ET\n",
    ]
    if plan.qr:
        side, x, y = plan.qr.code.side_mm, plan.qr.x_mm, height - plan.qr.y_mm
        parts.append(f"q {_pt(side)} 0 0 {_pt(side)} {_pt(x)} {_pt(y - side)} cm /Q Do Q\n")
    return DrawnPage(
        width, height, "".join(parts).encode("ascii"), (frozenset(used[0]), frozenset(used[1])),
        plan.qr.code if plan.qr else None,
    )  # fmt: skip


def to_pdf(plans: Sequence[Plan], colours: Mapping[str, str], *, whole_fonts: bool) -> EngineResult:
    """Draw cards as one document; its fonts are cut to the glyphs used, or left whole, which is
    quicker where they are taken out again."""
    pages = [drawn(plan, colours) for plan in plans]
    laid_out = (
        LaidOutPage(plan.stock.width_mm, plan.stock.height_mm, dict(_ends(number, plan)))
        for number, plan in enumerate(plans)
    )
    return EngineResult(written(pages, _whole if whole_fonts else cut), tuple(laid_out), (), ())


def make_ready() -> None:
    """Import and read now what drawing needs: before workers part, so that none does it again."""
    import pikepdf  # noqa: F401
    import pypdfium2  # noqa: F401
    import zxingcpp  # noqa: F401

    tables()
    for bold in (False, True):
        glyphs("To", bold)


def written(pages: Sequence[DrawnPage], program: Callable[[Any, Any], bytes]) -> bytes:
    """Pages as a PDF; ``program(path, glyphs)`` gives the font files to embed."""
    import pikepdf

    with pikepdf.new() as pdf:
        fonts = {}
        for bold, name in enumerate(_FONTS):
            used = sorted(frozenset().union(*(page.glyphs[bold] for page in pages)))
            if used:
                face = _table(bool(bold))
                fonts[name] = blank(pdf, face)
                fill(pdf, fonts[name], face, used, {}, program(face.path, used))
        for page in pages:
            own = {f"/{n}": fonts[n] for n, used in zip(_FONTS, page.glyphs, strict=True) if used}
            resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(own))
            if page.code:
                resources.XObject = pikepdf.Dictionary(Q=_picture(pdf, page.code))
            size = [0, 0, page.width_mm / MM_PER_PT, page.height_mm / MM_PER_PT]
            made = pikepdf.Dictionary(
                Type=pikepdf.Name.Page, MediaBox=[round(length, 4) for length in size],
                Resources=resources, Contents=pdf.make_stream(page.drawing),
            )  # fmt: skip
            pdf.pages.append(pikepdf.Page(pdf.make_indirect(made)))
        buffer = io.BytesIO()
        pdf.save(buffer, deterministic_id=True)
        return buffer.getvalue()


def _whole(path: Any, used: Any) -> bytes:
    return bytes(path.read_bytes())


def _table(bold: bool) -> FaceTable:
    path = main_face(bold).path
    return next(face for face in tables().values() if face.path == path)


def _picture(pdf: Any, code: QrCode) -> Any:
    import pikepdf

    return pdf.make_stream(
        code.rows, Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image, Width=code.modules,
        Height=code.modules, ColorSpace=pikepdf.Name.DeviceGray, BitsPerComponent=1,
    )  # fmt: skip


def _ends(number: int, plan: Plan) -> Iterator[tuple[str, tuple[float, float]]]:
    """Where each zone's last text ends, as the engine tells of its end marks."""
    for zone in plan.zones:
        if zone.texts:
            last = zone.texts[-1]
            yield end_mark(number, zone.name), (last.x_mm, last.y_mm + last.height_mm)


def _ink(kind: str, text: Text, colours: Mapping[str, str]) -> str:
    soft = text.kind in SOFT and (kind, text.kind) not in INKED
    return text.ink or colours["soft" if soft else "ink"]


def _pt(length_mm: float) -> str:
    return f"{length_mm / MM_PER_PT:.3f}"


def _ground(paper: str, width_mm: float, height_mm: float) -> str:
    if paper.casefold() == "#ffffff":
        return ""
    return f"{colour(paper, 'rg')}0 0 {_pt(width_mm)} {_pt(height_mm)} re f\n"


Piece = tuple[str, str, str]  # ink, font with size, and the text shown at its place


def _lettered(texts: Sequence[Sequence[Piece]]) -> Iterator[str]:
    """Texts one after the other; ink and font are said when they change."""
    last_ink = last_font = ""
    for ink, font, shown in (piece for text in texts for piece in text):
        if ink != last_ink:
            yield colour(ink, "rg")
        if font != last_font:
            yield font
        yield shown
        last_ink, last_font = ink, font


def _text(text: Text, ink: str, height_mm: float, used: tuple[set[int], set[int]]) -> list[Piece]:
    """A text's lines, each on the line its largest type sets."""
    face = main_face()
    # Half of the leading stands over the letters, half under them (CSS 2.2, 10.8.1).
    rise = (text.leading + face.ascent_em - face.descent_em) / 2
    top = (height_mm - text.y_mm) / MM_PER_PT
    pieces: list[Piece] = []
    for line in text.lines:
        largest = max([text.points, *(run.points for run in line)])
        base = top - largest * rise
        x = text.x_mm / MM_PER_PT
        if text.align != "left":
            free = text.width_mm / MM_PER_PT - sum(_width(run, text) for run in line)
            x += free / 2 if text.align == "center" else free
        for run in line:
            points = run.points or text.points
            font = f"/{_FONTS[run.bold]} {points:g} Tf\n"
            for shift, stretch in _stretches(run, text):
                made = glyphs(stretch, run.bold, text.kind not in UNKERNED)
                used[run.bold].update(made.numbers)
                shown = f"1 0 0 1 {x + shift:.3f} {base:.3f} Tm {made.shown} TJ\n"
                pieces.append((ink, font, shown))
            x += _width(run, text)
        top -= largest * text.leading
    return pieces


def _width(run: Run, text: Text) -> float:
    """Width of a run in pt, its tabs included."""
    points, kerned = run.points or text.points, text.kind not in UNKERNED
    if "\t" not in run.text:
        return glyphs(run.text, run.bold, kerned).width_em * points
    *_, (shift, last) = _stretches(run, text, empty=True)
    return shift + glyphs(last, run.bold, kerned).width_em * points


def _stretches(run: Run, text: Text, *, empty: bool = False) -> Iterator[tuple[float, str]]:
    """What stands between a run's tabs, with its distance in pt from the run's start."""
    points, kerned = run.points or text.points, text.kind not in UNKERNED
    stop = text.tab_mm / MM_PER_PT
    x = 0.0
    for place, stretch in enumerate(run.text.split("\t")):
        if place:
            x = (math.floor(x / stop + 1e-6) + 1) * stop
        if stretch or empty:
            yield x, stretch
        x += glyphs(stretch, run.bold, kerned).width_em * points


def _watermark(
    words: str, width_mm: float, height_mm: float, used: tuple[set[int], set[int]]
) -> str:
    """A word across the card, turned about the middle of its line."""
    if not words:
        return ""
    face, made = main_face(True), glyphs(words, True)
    used[1].update(made.numbers)
    wide = made.width_em * WATERMARK_PT + len(words) * WATERMARK_SPACE_PT
    middle = (height_mm * (1 - WATERMARK_TOP)) / MM_PER_PT - WATERMARK_PT / 2
    down = (face.ascent_em - face.descent_em) / 2 * WATERMARK_PT
    c, s = math.cos(WATERMARK_TURN), math.sin(WATERMARK_TURN)
    return (
        f"q {c:.5f} {s:.5f} {-s:.5f} {c:.5f} {_pt(width_mm / 2)} {middle:.3f} cm\n"
        f"BT {colour(WATERMARK_INK, 'rg')}/B {WATERMARK_PT:g} Tf {WATERMARK_SPACE_PT:g} Tc "
        f"1 0 0 1 {-wide / 2:.3f} {-down:.3f} Tm {made.shown} TJ ET Q\n"
    )
