"""Printed tables of amounts and an order go in; the cells that are for this order come out.

Tables are read as they stand on an add-on card or a phone page: columns by their heads, rows by
their names, a row of a name alone is the head of the rows below it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from buildsheets.views.words import Words
from buildsheets.wall.reading import TOGETHER, Unclear, Wish, names_of

BETWEEN = " · "
"""Stands between the parts of a row's name."""
_TITLE = re.compile(r"(?P<what>.+) \((?P<unit>[^()]+)\)")
EITHER = " / "
"""Stands between sets of add-ons of which any one is meant."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A printed table: the heads of its columns, and its rows of cells, the first their name."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class _Row:
    title: str  # "Black tea (ml line)"
    sets: str  # the sets of add-ons it names, "" where it names none
    ice: str
    cell: str


def cells_for(
    grids: Iterable[Grid], wish: Wish, add_ons: Sequence[str], words: Words
) -> dict[tuple[str, str], str]:
    """{(thing, unit): amount} for an order; a thing that no row speaks of is as it is printed.

    ``add_ons`` are the printed names of all add-ons and swaps that may stand in a row's name.
    """
    rows: dict[str, list[_Row]] = {}
    for grid in grids:
        for row in _rows(grid, wish, add_ons, words):
            rows.setdefault(row.title, []).append(row)
    found = {}
    for title, own in rows.items():
        named = names_of(wish, words)
        fitting = [row for row in own if any(lists(row.sets, name) for name in named)]
        fitting = fitting or [row for row in own if row.sets in ("", words("any_other"))]
        fitting = [row for row in fitting if row.ice in ("", wish.ice)]
        cells = {row.cell for row in fitting}
        if len(cells) > 1:
            raise Unclear(f"{title}: {sorted(cells)} for {wish}")
        name = _TITLE.fullmatch(title)
        if name is None:
            raise Unclear(f"'{title}' is no name of an amount")
        if cells:
            found[name["what"], name["unit"]] = cells.pop()
    return found


def _rows(grid: Grid, wish: Wish, add_ons: Sequence[str], words: Words) -> Iterator[_Row]:
    names, head = grid.header[1:], ""
    for first, *cells in grid.rows:
        if not any(cells):
            head = first
            continue
        parts = [part for part in (*head.split(BETWEEN), *first.split(BETWEEN)) if part]
        if _TITLE.fullmatch(first.split(BETWEEN)[0]):
            parts = first.split(BETWEEN)
        title, *rest = parts
        sets = ice = ""
        for part in rest:
            if _names_sets(part, add_ons, words):
                sets = part
            else:
                ice = part
        for name, cell in zip(names, cells, strict=False):
            if name in ("", wish.sweetness):
                yield _Row(title, sets, ice, cell)
            elif name == wish.ice:
                yield _Row(title, sets, name, cell)


def lists(sets: str, wanted: str) -> bool:
    """Whether a set stands in a list of sets; any one of them is meant."""
    return f"{EITHER}{wanted}{EITHER}" in f"{EITHER}{sets}{EITHER}"


def _names_sets(part: str, add_ons: Sequence[str], words: Words) -> bool:
    every = (words("order_with", name=name) for name in add_ons)
    known = (words("any_other"), *add_ons, *every)
    return any(part == one or part.startswith((one + EITHER, one + TOGETHER)) for one in known)
