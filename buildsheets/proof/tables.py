"""Tables and the pages of a card in; what does not stand under its header beside its name, out.

Strings and geometry only: a cell belongs to the header it stands under and to the row it stands
level with, however the page was made.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buildsheets.proof.page import Box, Page, Place

# How far a cell may stand from its header's ink, sideways, and how much nearer to another's.
ASIDE_MM = 0.5
NEARER_MM = 0.3
# Ink of neighbouring rows may touch.
TOUCH_MM = 0.3

# What stands in a cell, part by part: ("120", "ml").
Cell = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExpectedTable:
    """A header, with "" over columns that have none, and rows whose first cell names the row."""

    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class ExpectedBands:
    """Rows of strings that stand together, one row below the other; the first names the row."""

    rows: tuple[tuple[str, ...], ...]


Header = Mapping[int, Box]  # where the header of each column that has one stands


def misplaced(table: ExpectedTable, pages: Sequence[Page]) -> Iterator[str]:
    """What of a table stands elsewhere than its row and column, in words.

    A table of which neither header nor any row is on the pages was left out, and passes.
    """
    rows = [row for row in table.rows if _said(row[0]) and any(_said(cell) for cell in row[1:])]
    lines = [tuple(_header_lines(table.header, page)) for page in pages]
    has_header = any(table.header)
    if has_header and not any(lines):
        if any(_whole(row, page) for row in rows for page in pages):
            yield f"the header {_words(table.header)} does not stand over its columns"
        return
    last = (0, float("-inf"))
    for row in rows:
        wrong: str | None = f"the row {_said(row[0])!r} is not on the card"
        fewest = float("inf")
        for number, page in enumerate(pages):
            for name in sorted(_cell_places(row[0], page), key=lambda place: place.box.top):
                here = (number, name.box.top)
                above = [one for one in lines[number] if _top(one) < name.box.top]
                if here <= last or (has_header and not above):
                    continue
                # The lowest first; higher ones since a row's name may be the word of a header.
                tried = sorted(above, key=_top, reverse=True) or [{}]
                each = (list(_faults(row, name, line, table.header, page)) for line in tried)
                faults = min(each, key=len)
                if len(faults) < fewest:
                    fewest, wrong = len(faults), faults[0] if faults else None
                if not faults:
                    last = here
                    break
            if wrong is None:
                break
        if wrong is not None:
            yield wrong


def torn(bands: ExpectedBands, pages: Sequence[Page]) -> Iterator[str]:
    """Rows that no level line can part from the rows above and below them, in words.

    Each row ends as high as all its strings allow; what belongs to it may not stand higher than
    where the row before ends.
    """
    at, cut = 0, float("-inf")
    for row in bands.rows:
        lacking = ""
        for number in range(at, len(pages)):
            top = cut if number == at else float("-inf")
            ends = []
            for text in filter(None, row):
                below = [place.box.bottom for place in pages[number].find(text)
                         if place.box.top >= top - TOUCH_MM]  # fmt: skip
                if not below:
                    lacking = lacking or text
                    break
                ends.append(min(below))
            else:
                at, cut = number, max(ends, default=top)
                break
        else:
            yield f"{lacking!r} does not stand in the row {row[0]!r}, between its neighbours"


def _said(cell: Cell) -> str:
    return " ".join(filter(None, cell))


def _words(header: Sequence[str]) -> str:
    return ", ".join(repr(text) for text in header if text)


def _top(header: Header) -> float:
    return min(box.top for box in header.values())


def _header_lines(header: Sequence[str], page: Page) -> Iterator[Header]:
    """Where all of a header stands level, in the order it is read."""
    places = {column: page.find(text) for column, text in enumerate(header) if text}
    if not places:
        return
    rarest = min(places, key=lambda column: len(places[column]))
    for place in places[rarest]:
        line = {rarest: place.box}
        for columns, is_right in (
            ([column for column in places if column > rarest], not page.is_rtl),
            ([column for column in reversed(places) if column < rarest], page.is_rtl),
        ):
            edge = place.box
            for column in columns:
                level = [one.box for one in places[column] if one.box.is_beside(place.box)]
                if is_right:
                    level = [box for box in level if box.left >= edge.right - TOUCH_MM]
                else:
                    level = [box for box in level if box.right <= edge.left + TOUCH_MM]
                if not level:
                    break
                edge = min(level, key=lambda box, edge=edge: abs(box.left - edge.left))  # type: ignore[misc]
                line[column] = edge
        if len(line) == len(places):
            yield line


def _cell_places(cell: Cell, page: Page) -> Iterator[Place]:
    """Where a cell stands: its first part, and the others where they stand nearest to it."""
    first, *others = [part for part in cell if part] or [""]
    for place in page.find(first):
        box, end = place.box, place.end
        for other in others:
            later = [one for one in page.find(other) if one.first >= end]
            if later:
                nearest = min(later, key=lambda one: one.first)
                if nearest.first - end <= 6:  # words of a layout's own may stand between
                    box, end = box.around(nearest.box), nearest.end
        yield Place(box, place.first, end)


def _whole(row: Sequence[Cell], page: Page) -> bool:
    """Whether every cell of a row stands level with its name, wherever that is."""
    return any(not list(_faults(row, name, {}, (), page)) for name in _cell_places(row[0], page))


def _faults(
    row: Sequence[Cell], name: Place, header: Header, titles: Sequence[str], page: Page
) -> Iterator[str]:
    said = _said(row[0])
    if 0 in header and _column(name.box, header) != 0:
        yield f"the name {said!r} does not stand under {titles[0]!r}"
    for column, cell in enumerate(row[1:], 1):
        text = _said(cell)
        if not text:
            continue
        places = list(_cell_places(cell, page))
        if not places:
            yield f"the cell {text!r} of the row {said!r} is not on the card"
            continue
        level = [place.box for place in places if place.box.is_beside(name.box)
                 and not name.first <= place.first < name.end]  # fmt: skip
        if not level:
            box = min((place.box for place in places), key=lambda box: abs(box.top - name.box.top))
            away = box.top - name.box.top
            way = "below" if away > 0 else "above"
            yield f"the cell {text!r} stands {abs(away):.1f} mm {way} its row {said!r}"
        elif column in header and all(_column(box, header) != column for box in level):
            under = _column(level[0], header)
            where = "no column" if under is None else f"{titles[under]!r}"
            yield (
                f"the cell {text!r} of the row {said!r} stands under {where}, it belongs under "
                f"{titles[column]!r}"
            )


def _column(box: Box, header: Header) -> int | None:
    """The column whose header a cell stands under: the one it is flush with, or nearest to it."""

    def off(over: Box) -> float:
        return min(
            abs(box.left - over.left),
            abs(box.right - over.right),
            abs(box.left + box.right - over.left - over.right) / 2,
        )

    def is_under(over: Box) -> bool:
        return box.left <= over.right + ASIDE_MM and over.left <= box.right + ASIDE_MM

    under = [column for column, over in header.items() if is_under(over)]
    if not under:
        return None
    best = min(under, key=lambda column: off(header[column]))
    nearest = min(off(over) for over in header.values())
    return best if off(header[best]) <= nearest + NEARER_MM else None
