"""A view in; how many rows it can be split after, and the view of some of its rows, out.

What does not fit on one card goes on on further cards of the same kind: a row is never torn, and
what a card must say stands on each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from buildsheets.views import station
from buildsheets.views.gauge import used_marks
from buildsheets.views.grids import joined, pieces
from buildsheets.views.types import (
    AllergenMatrixView,
    AmountTable,
    BatchCardView,
    BuildCardView,
    CupView,
    GaugeStripView,
    LabelSheetView,
    SheetView,
    StationCardView,
    StationRow,
    View,
)


def rows(view: View) -> int:
    """How many rows a card of the view has that may stand on different cards."""
    match view:
        case BuildCardView():
            return len(view.steps) + len(pieces(view.amounts))
        case StationCardView():
            return len(as_printed(view).rows)
        case AllergenMatrixView():
            return len(view.rows)
        case BatchCardView():
            return len(view.parts) + len(view.steps)
        case SheetView():
            return sum(len(table.rows) for table in view.tables)
        case LabelSheetView():
            return len(view.labels)
        case GaugeStripView():
            return len(view.by_drink)
        case CupView():
            return len(view.rows)


def row_names(view: View) -> tuple[tuple[str, str], ...]:
    """What each row is looked for by where it may stand on another card: the drink, or the first
    and the last of several. Steps of a drink or batch are looked for by nothing."""
    match view:
        case StationCardView():
            names = [drink_of(row) for row in as_printed(view).rows]
        case AllergenMatrixView():
            names = [row.name for row in view.rows]
        case GaugeStripView():
            names = [drink[0] for drink in view.by_drink]
        case SheetView() if view.kind in ("costs", "facts"):
            names = [row[0].partition(" · ")[0] for table in view.tables for row in table.rows]
        case SheetView() if all(table.drinks for table in view.tables):
            ends = [(table.drinks, len(table.rows)) for table in view.tables]
            return tuple((held[0], held[-1]) for held, count in ends for _ in range(count))
        case _:
            names = []
    return tuple((name, name) for name in names)


def runs(view: View) -> tuple[int, ...]:
    """How many rows one after another are of the same drink at a station, which stand together."""
    if not isinstance(view, StationCardView):
        return (1,) * rows(view)
    return tuple(len([*run]) for _, run in groupby(as_printed(view).rows, drink_of))


def drink_of(row: StationRow) -> str:
    """The drink of a row, without which visit of it the row is."""
    return row.drink.partition(" · ")[0]


def lines(view: View) -> int:
    """About how many lines the rows of a view take at least."""
    if isinstance(view, StationCardView):
        return sum(map(station.lines, view.rows))
    return rows(view)


MOST_LINES = 14
"""So many lines of amounts stand in one row of a station's card at most, so that it is not higher
than a card; common practice, no source."""
SET_LETTERS = 24  # of the names of sets on one line beside their amounts, about


def as_printed(view: StationCardView) -> StationCardView:
    """The view with what amounts a row has no room for in rows of their own, which add nothing."""
    return replace(view, rows=tuple(part for row in view.rows for part in _parts(row)))


def _parts(row: StationRow) -> Iterator[StationRow]:
    parts: list[list[tuple[AmountTable, ...]]] = [[]]
    used = 0
    for piece in pieces([table for table in row.amounts if not table.in_line]):
        lines = _lines(piece)
        if parts[-1] and used + lines > MOST_LINES:
            parts.append([])
            used = 0
        parts[-1].append(piece)
        used += lines
    if len(parts) == 1:
        yield row
        return
    short = tuple(table for table in row.amounts if table.in_line)
    yield replace(row, amounts=(*short, *joined(parts[0])))
    for part in parts[1:]:
        yield replace(row, adds=(), add_ons=(), swaps=(), check="", amounts=joined(part))


def _lines(piece: Sequence[AmountTable]) -> int:
    """About how many lines a piece of a table takes: its sets' names wrap beside their amounts."""
    names = {row.either for table in piece for row in table.rows}
    rows = sum(len(table.rows) for table in piece)
    return max(rows, sum(1 + len(name) // SET_LETTERS for name in names))


def is_one_card(view: View) -> bool:
    """Whether the view is never split: labels of one sheet."""
    return isinstance(view, LabelSheetView)


def some_rows(view: View, start: int, end: int) -> View:
    """The view with only the rows from ``start`` to before ``end``."""
    match view:
        case BuildCardView():
            cut = len(view.steps)
            amounts = pieces(view.amounts)[max(0, start - cut) : max(0, end - cut)]
            return replace(view, steps=view.steps[start:end], amounts=joined(amounts))
        case StationCardView():
            some = as_printed(view).rows[start:end]
            own = {label for row in some for label in row.levels}
            gauge = used_marks(view.gauge, own)
            return replace(view, rows=some, gauge=tuple(gauge))
        case AllergenMatrixView():
            return replace(view, rows=view.rows[start:end])
        case CupView():
            return replace(view, rows=view.rows[start:end])
        case BatchCardView():
            cut = len(view.parts)
            steps = view.steps[max(0, start - cut) : max(0, end - cut)]
            return replace(view, parts=view.parts[start:end], steps=steps)
        case SheetView():
            tables = []
            for table in view.tables:
                held = table.rows[max(0, start) : max(0, end)]
                if held or not table.rows:
                    whole = end >= len(table.rows)
                    tables.append(replace(table, rows=held, note=table.note if whole else ""))
                start, end = start - len(table.rows), end - len(table.rows)
            return replace(view, tables=tuple(tables))
        case GaugeStripView():
            held = view.by_drink[start:end]
            names = {name for drink in held for name in drink[1:]}
            lines = (
                (row, tuple(name for name in row.drinks if name in names)) for row in view.rows
            )
            # The limit and the rim are nobody's, and stand on every card.
            rows = (replace(row, drinks=own) for row, own in lines if own or not row.drinks)
            return replace(view, rows=tuple(rows), by_drink=held)
        case _:
            return view


def title(view: View) -> str:
    """What people call the card by, in lists and bookmarks."""
    match view:
        case BuildCardView():
            return f"{view.title}, {view.subtitle}" if view.subtitle else view.title
        case StationCardView():
            return f"{view.station.name}, {view.size_name or view.cup_name}"
        case GaugeStripView():
            return f"{view.title}, {view.size_name}"
        case _:
            return view.title
