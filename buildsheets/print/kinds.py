"""A view in; how many rows it can be split after, and the view of some of its rows, out.

What does not fit on one card goes on on further cards of the same kind: a row is never torn, and
what a card must say stands on each.
"""

from __future__ import annotations

from dataclasses import replace

from buildsheets.views.grids import joined, pieces
from buildsheets.views.types import (
    AllergenMatrixView,
    BatchCardView,
    BuildCardView,
    GaugeStripView,
    LabelSheetView,
    SheetView,
    StationCardView,
    View,
)


def rows(view: View) -> int:
    """How many rows a card of the view has that may stand on different cards."""
    match view:
        case BuildCardView():
            return len(view.steps) + len(pieces(view.amounts))
        case StationCardView() | AllergenMatrixView():
            return len(view.rows)
        case BatchCardView():
            return len(view.parts) + len(view.steps)
        case SheetView():
            return sum(len(table.rows) for table in view.tables)
        case LabelSheetView():
            return len(view.labels)
        case GaugeStripView():
            return len(view.rows)


def is_one_card(view: View) -> bool:
    """Whether the view is never split: marks of one cup, labels of one sheet."""
    return isinstance(view, GaugeStripView | LabelSheetView)


def some_rows(view: View, start: int, end: int) -> View:
    """The view with only the rows from ``start`` to before ``end``."""
    match view:
        case BuildCardView():
            cut = len(view.steps)
            amounts = pieces(view.amounts)[max(0, start - cut) : max(0, end - cut)]
            return replace(view, steps=view.steps[start:end], amounts=joined(amounts))
        case StationCardView():
            return replace(view, rows=view.rows[start:end])
        case AllergenMatrixView():
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
