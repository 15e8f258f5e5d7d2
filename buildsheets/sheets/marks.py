"""A sheet's grid in; its crop marks, corner guides, proof bar and words as SVG, in mm, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from buildsheets.print.drawing import number
from buildsheets.print.fonts import MM_PER_PT, advance_mm, main_face
from buildsheets.print.gauge import PROOF_BAR_MM
from buildsheets.print.sizes import HAND_DISTANCE_MM, PREFERRED_ARCMIN, size_pt
from buildsheets.sheets.imposition import Grid, Matrix, SheetOptions

MARK_MM = 4.0  # length of a crop mark
LEAST_MARK_MM = 1.5  # a shorter one guides no blade
HAIRLINE_MM = 0.1
BAR_WIDTH_MM = 0.3
TICK_MM = 2.4
CLEAR_MM = 1.0  # between marks and words
WORDS_PT = size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN)
LINE_MM = 1.12 * WORDS_PT * MM_PER_PT


def _lines(d: Sequence[str], width_mm: float, more: str = 'stroke="#000"') -> str:
    return f'<path d="{" ".join(d)}" fill="none" stroke-width="{width_mm:g}" {more}/>'


def crop_marks(grid: Grid, options: SheetOptions) -> tuple[str, bool]:
    """Marks around the whole grid, never between or over cards; and whether all have their room.

    Unbroken ones are where a card is cut; where cards get a sealed border, broken ones are where
    a sheet that was laminated whole is cut.
    """
    if grid.close:
        return _lines(_cuts(grid), HAIRLINE_MM, 'stroke="#737373"'), True
    off = max(options.pouch_border_mm, options.bleed_mm)
    border = options.pouch_border_mm
    trims_x = [x + d for x in grid.lefts_mm for d in (0.0, grid.card_width_mm)]
    trims_y = [y + d for y in grid.tops_mm for d in (0.0, grid.card_height_mm)]
    sheet = grid.sheet
    drawn: list[str] = []
    complete = True
    for is_broken in (False, True) if border else (False,):
        shift = [-border, border] if is_broken else [0.0, 0.0]
        marks: list[str] = []
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
                for cut in map(number, cuts):
                    if along is trims_x:
                        marks.append(f"M{cut} {number(start)}V{number(end)}")
                    else:
                        marks.append(f"M{number(start)} {cut}H{number(end)}")
        dashes = ' stroke-dasharray="0.6 0.4"' if is_broken else ""
        drawn.append(_lines(marks, HAIRLINE_MM, f'stroke="#000"{dashes}'))
    return "".join(drawn), complete


def _cuts(grid: Grid) -> list[str]:
    """Lines along every edge of touching cards that is not the sheet's own, or next to it."""
    sheet, w, h = grid.sheet, grid.card_width_mm, grid.card_height_mm
    xs = {round(x + d, 3) for x in grid.lefts_mm for d in (0.0, w)}
    ys = {round(y + d, 3) for y in grid.tops_mm for d in (0.0, h)}
    least = CLEAR_MM
    upright = [f"M{number(x)} 0V{number(sheet.height_mm)}" for x in sorted(xs)
               if least < x < sheet.width_mm - least]  # fmt: skip
    level = [f"M0 {number(y)}H{number(sheet.width_mm)}" for y in sorted(ys)
             if least < y < sheet.height_mm - least]  # fmt: skip
    return upright + level


def corner_guides(grid: Grid, radius_mm: float) -> str:
    """A quarter circle in each corner of each card, to round it by."""
    if not radius_mm:
        return ""
    r, w, h = radius_mm, grid.card_width_mm, grid.card_height_mm
    arcs = [
        f"M{number(x)} {number(y + dy * r)}A{r:g} {r:g} 0 0 {int(dx == dy)} "
        f"{number(x + dx * r)} {number(y)}"
        for left in grid.lefts_mm
        for top in grid.tops_mm
        for x, y, dx, dy in (
            (left, top, 1, 1), (left + w, top, -1, 1),
            (left, top + h, 1, -1), (left + w, top + h, -1, -1),
        )
    ]  # fmt: skip
    return _lines(arcs, HAIRLINE_MM, 'stroke="#737373"')


@dataclass(frozen=True, slots=True)
class BarAndWords:
    """The proof bar and the words beside it, drawn from ``place`` along its direction."""

    place: Matrix
    lines: tuple[str, ...]

    def drawn(self) -> str:
        """As SVG."""
        p, left, inner = self.place, BAR_WIDTH_MM / 2, PROOF_BAR_MM - BAR_WIDTH_MM
        half = TICK_MM / 2
        bar = f"M{left:g} 0V{TICK_MM:g}M{left:g} {half:g}h{inner:g}m0 {-half:g}v{TICK_MM:g}"
        size = WORDS_PT * MM_PER_PT
        words = "".join(
            f'<text x="{PROOF_BAR_MM + 2:g}" y="{number(row * LINE_MM + 0.84 * size)}">'
            f"{escape(line)}</text>"
            for row, line in enumerate(self.lines)
        )
        move = f"{p.xx} {p.yx} {p.xy} {p.yy} {number(p.x)} {number(p.y)}"
        font = f'font-family="{main_face().family}" font-size="{number(size)}"'
        return f'<g transform="matrix({move})" {font}>{_lines([bar], BAR_WIDTH_MM)}{words}</g>'


def bar_and_words(grid: Grid, options: SheetOptions, text: str) -> BarAndWords | None:
    """The 50 mm bar and its words in the first free strip that holds them: below, above, left,
    right; ``None`` if there is none."""
    sheet = grid.sheet
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
        lines = _broken(text, length - PROOF_BAR_MM - 2)
        if lines and max(TICK_MM, len(lines) * LINE_MM) <= thick:
            return BarAndWords(place, tuple(lines))
    return None


def _broken(text: str, width_mm: float) -> list[str]:
    """The text broken to a width; nothing if a word of it is wider."""
    lines: list[str] = []
    for word in text.split():
        if advance_mm(word, WORDS_PT) > width_mm:
            return []
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and advance_mm(longer, WORDS_PT) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
