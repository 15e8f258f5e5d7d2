"""A sheet's grid in; PDF drawing of its crop marks, corner guides, proof bar and words out.

Drawn in mm from the top left corner, y down; ``in_mm`` turns PDF's points so. Words are drawn as
outlines, so that a sheet brings no font of its own beside its cards'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from buildsheets.print.fonts import MM_PER_PT, advance_mm, faces
from buildsheets.print.gauge import PROOF_BAR_MM
from buildsheets.print.sizes import HAND_DISTANCE_MM, PREFERRED_ARCMIN, size_pt
from buildsheets.sheets.imposition import Grid, Matrix, SheetOptions

MARK_MM = 4.0  # length of a crop mark
LEAST_MARK_MM = 1.5  # a shorter one guides no blade
HAIRLINE_MM = 0.1
BAR_WIDTH_MM = 0.3
TICK_MM = 2.4
CLEAR_MM = 1.0  # between marks and words
# A quarter circle as one cubic curve: 4/3 (sqrt 2 - 1).
_KAPPA = 0.5522847498


def number(value: float) -> str:
    """A number as PDF writes it."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def in_mm(height_mm: float) -> str:
    """The operator after which a page of that height is drawn in mm from its top left corner."""
    unit = number(1 / MM_PER_PT)
    return f"{unit} 0 0 -{unit} 0 {number(height_mm / MM_PER_PT)} cm"


def _line(x0: float, y0: float, x1: float, y1: float) -> str:
    return f"{number(x0)} {number(y0)} m {number(x1)} {number(y1)} l S"


def crop_marks(grid: Grid, options: SheetOptions) -> tuple[str, bool]:
    """Marks around the whole grid, never between or over cards; and whether all have their room.

    Unbroken ones are where a card is cut; where cards get a sealed border, broken ones are where
    a sheet that was laminated whole is cut.
    """
    off = max(options.pouch_border_mm, options.bleed_mm)
    border = options.pouch_border_mm
    trims_x = [x + d for x in grid.lefts_mm for d in (0.0, grid.card_width_mm)]
    trims_y = [y + d for y in grid.tops_mm for d in (0.0, grid.card_height_mm)]
    sheet = grid.sheet
    lines: list[str] = []
    complete = True
    for dashed in (False, True) if border else (False,):
        shift = [-border, border] if dashed else [0.0, 0.0]
        lines.append("[0.6 0.4] 0 d" if dashed else "[] 0 d")
        for ends, along, far in (
            (trims_y, trims_x, sheet.height_mm),
            (trims_x, trims_y, sheet.width_mm),
        ):
            cuts = dict.fromkeys(round(cut + shift[i % 2], 6) for i, cut in enumerate(along))
            for start, end in (
                (ends[0] - off, max(0.0, ends[0] - off - MARK_MM)),
                (ends[-1] + off, min(far, ends[-1] + off + MARK_MM)),
            ):
                if abs(end - start) < LEAST_MARK_MM or not 0 < start < far:
                    complete = False
                    continue
                upright = along is trims_x
                lines += [
                    _line(cut, start, cut, end) if upright else _line(start, cut, end, cut)
                    for cut in cuts
                ]
    return "\n".join([f"q {HAIRLINE_MM} w 0 G", *lines, "Q"]), complete


def corner_guides(grid: Grid, radius_mm: float) -> str:
    """A quarter circle in each corner of each card, to round it by."""
    if not radius_mm:
        return ""
    r, k = radius_mm, radius_mm * (1 - _KAPPA)
    w, h = grid.card_width_mm, grid.card_height_mm
    arcs = []
    for left in grid.lefts_mm:
        for top in grid.tops_mm:
            for x, y, dx, dy in (
                (left, top, 1, 1), (left + w, top, -1, 1),
                (left, top + h, 1, -1), (left + w, top + h, -1, -1),
            ):  # fmt: skip
                points = ((x, y + dy * r), (x, y + dy * k), (x + dx * k, y), (x + dx * r, y))
                a, b, c, d = (f"{number(px)} {number(py)}" for px, py in points)
                arcs.append(f"{a} m {b} {c} {d} c S")
    return "\n".join([f"q {HAIRLINE_MM} w .45 G", *arcs, "Q"])


@dataclass(frozen=True, slots=True)
class Slug:
    """The proof bar and the words beside it, at a free place; drawn along ``place``."""

    place: Matrix
    lines: tuple[str, ...]
    points: float

    def drawn(self) -> str:
        """As PDF operators."""
        lead = self.points * 1.12 * MM_PER_PT
        inner = PROOF_BAR_MM - BAR_WIDTH_MM
        left, mid = BAR_WIDTH_MM / 2, TICK_MM / 2
        strokes = (
            _line(left, 0, left, TICK_MM),
            _line(left, mid, left + inner, mid),
            _line(left + inner, 0, left + inner, TICK_MM),
        )
        words = [
            outlines(line, PROOF_BAR_MM + 2, index * lead + 0.84 * self.points * MM_PER_PT,
                     self.points)
            for index, line in enumerate(self.lines)
        ]  # fmt: skip
        p = self.place
        move = f"{p.xx} {p.yx} {p.xy} {p.yy} {number(p.x)} {number(p.y)} cm"
        said = " ".join(self.lines).encode("utf-16-be").hex()
        return "\n".join(
            [f"q {move} {BAR_WIDTH_MM} w 0 G 0 g", *strokes,
             f"/Span <</ActualText <feff{said}>>> BDC", *words, "EMC", "Q"]
        )  # fmt: skip


def slug(grid: Grid, options: SheetOptions, text: str) -> Slug | None:
    """The 50 mm bar and its words in the first free strip that holds them: below, above, left,
    right; ``None`` if there is none."""
    sheet = grid.sheet
    points = size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN)
    clear = max(options.pouch_border_mm, options.bleed_mm) + MARK_MM + CLEAR_MM
    margin = max(options.margin_mm, CLEAR_MM)
    below = grid.tops_mm[-1] + grid.card_height_mm + clear
    right = grid.lefts_mm[-1] + grid.card_width_mm + clear
    level = sheet.width_mm - 2 * margin
    upright = sheet.height_mm - 2 * margin
    top_room = grid.tops_mm[0] - clear - margin
    left_room = grid.lefts_mm[0] - clear - margin
    for length, thick, place in (
        (level, sheet.height_mm - margin - below, Matrix(1, 0, 0, 1, margin, below)),
        (level, top_room, Matrix(1, 0, 0, 1, margin, margin)),
        (upright, left_room, Matrix(0, 1, -1, 0, margin, sheet.height_mm - margin)),
        (upright, sheet.width_mm - margin - right, Matrix(0, 1, -1, 0, right,
                                                          sheet.height_mm - margin)),
    ):  # fmt: skip
        lines = _lines(text, length - PROOF_BAR_MM - 2, points)
        if not lines:
            continue
        height = max(TICK_MM, len(lines) * points * 1.12 * MM_PER_PT)
        if height <= thick:
            return Slug(place, tuple(lines), points)
    return None


def _lines(text: str, width_mm: float, points: float) -> list[str]:
    """The text broken to a width; nothing if a word of it is wider."""
    lines: list[str] = []
    for word in text.split():
        if advance_mm(word, points) > width_mm:
            return []
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and advance_mm(longer, points) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


class _Operators(BasePen):  # type: ignore[misc]
    """Glyph outlines as PDF path operators, in font units."""

    def __init__(self, glyphs: Any) -> None:
        super().__init__(glyphs)
        self.out: list[str] = []

    def _moveTo(self, point: tuple[float, float]) -> None:
        self.out.append(f"{number(point[0])} {number(point[1])} m")

    def _lineTo(self, point: tuple[float, float]) -> None:
        self.out.append(f"{number(point[0])} {number(point[1])} l")

    def _curveToOne(self, *points: tuple[float, float]) -> None:
        self.out.append(" ".join(f"{number(x)} {number(y)}" for x, y in points) + " c")

    def _closePath(self) -> None:
        self.out.append("h")


@lru_cache(maxsize=512)
def _glyph(char: str) -> tuple[str, float, int]:
    """A character's outline in font units, its advance in em, and the units of an em."""
    for face in faces():
        if face.bold or ord(char) not in face.advances:
            continue
        with TTFont(face.path, lazy=True) as font:
            glyphs = font.getGlyphSet()
            pen = _Operators(glyphs)
            glyphs[font.getBestCmap()[ord(char)]].draw(pen)
        return " ".join(pen.out), face.advances[ord(char)] / face.units_per_em, face.units_per_em
    return "", 1.0, 1


def outlines(text: str, x_mm: float, baseline_mm: float, points: float) -> str:
    """A line of text as filled outlines, where y runs down in mm."""
    size = points * MM_PER_PT
    drawn: list[str] = []
    x = x_mm
    for char in text:
        path, advance, em = _glyph(char)
        if path:
            scale = f"{size / em:.9f}"
            at = f"{number(x)} {number(baseline_mm)}"
            drawn.append(f"q {scale} 0 0 -{scale} {at} cm {path} f Q")
        x += advance * size
    return "\n".join(drawn)


def joined(parts: Sequence[str]) -> bytes:
    """Drawing parts as one content stream."""
    return "\n".join(part for part in parts if part).encode("ascii")
