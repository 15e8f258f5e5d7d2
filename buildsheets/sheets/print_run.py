"""Sheets and the cards on them in; what to have at hand to print, cut and seal them, out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildsheets.sheets.imposition import SheetOptions
from buildsheets.sheets.sheets import Imposed
from buildsheets.views.words import Words

# Channels of a grey pixel are equal; rasterising may put them a level or two apart.
GREY_SPREAD = 8
COLOUR_DPI = 36


@dataclass(frozen=True, slots=True)
class RunLine:
    """Sheets that are printed alike; sizes are (width, height) in mm."""

    sheet: str
    sheets: int
    sides: int
    colour: bool
    card_mm: tuple[float, float]
    cards: int  # cut from these sheets; front and back are one
    pouch_mm: tuple[float, float] | None  # None: not sealed
    cut_first: bool = False  # cards touch: no border to seal them by on the sheet


def print_run(imposed: Imposed, options: SheetOptions) -> tuple[RunLine, ...]:
    """How many sheets of what, in colour or grey, how many cards, and pouches of what size.

    A pouch is the card and its sealed border on every side. Sheets count as colour when any of
    their cards has any.
    """
    if not imposed.pdf:
        return ()
    coloured = _coloured(imposed.pdf)
    by_sheet: dict[int, list[int]] = {}
    for page, side in enumerate(imposed.sheets):
        by_sheet.setdefault(side.number, []).append(page)
    lines: dict[tuple[object, ...], RunLine] = {}
    for pages in by_sheet.values():
        front = imposed.sheets[pages[0]]
        sides = sum(bool(imposed.sheets[page].placed) for page in pages)
        size = (front.grid.card_width_mm, front.grid.card_height_mm)
        colour = any(coloured[page] for page in pages)
        key = (sides, colour, size)
        before = lines.get(key)
        border = 2 * options.pouch_border_mm
        lines[key] = RunLine(
            options.sheet.name,
            (before.sheets if before else 0) + 1,
            sides,
            colour,
            size,
            (before.cards if before else 0) + len(front.placed),
            (size[0] + border, size[1] + border) if border else None,
            front.grid.close,
        )
    return tuple(lines.values())


def _coloured(pdf: bytes) -> Mapping[int, bool]:
    """Whether each page has anything that is not grey."""
    import pypdfium2
    from PIL import ImageChops

    found = {}
    document = pypdfium2.PdfDocument(pdf)
    for number, page in enumerate(document):
        red, green, blue = page.render(scale=COLOUR_DPI / 72).to_pil().convert("RGB").split()
        apart = [ImageChops.difference(red, other).tobytes() for other in (green, blue)]
        found[number] = max(map(max, apart)) > GREY_SPREAD
    document.close()
    return found


def run_text(lines: tuple[RunLine, ...], words: Words) -> str:
    """The run in words, a line each, for the screen or a note to the printer's shop."""
    said = []
    for line in lines:
        sides = words("run_two_sides" if line.sides > 1 else "run_one_side")
        ink = words("run_colour" if line.colour else "run_grey")
        what = [
            words("run_sheets", count=line.sheets, sheet=line.sheet, sides=sides, ink=ink),
            words("run_cards", count=line.cards, size=_size(line.card_mm, words)),
        ]
        if line.pouch_mm and line.cut_first:
            what.append(words("run_cut_first"))
        if line.pouch_mm:
            what.append(words("run_pouches", count=line.cards, size=_size(line.pouch_mm, words)))
        said.append("; ".join(what))
    return "\n".join(said)


def _size(size: tuple[float, float], words: Words) -> str:
    return f"{words.number(round(size[0], 1))} × {words.number(round(size[1], 1))} mm"
