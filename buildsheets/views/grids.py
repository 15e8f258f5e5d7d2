"""Tables of amounts in; the grids they are printed as, and the pieces they may be cut into, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from buildsheets.views.amounts import NOT_MADE
from buildsheets.views.types import AmountTable, Table

Rows = tuple[tuple[str, ...], ...]


def grids(tables: Iterable[AmountTable], *, titled: bool = True) -> tuple[Table, ...]:
    """The tables as they are printed, those under the same header as one.

    A row of a name alone is a heading of the rows below it, up to the next. Without titles what the
    amounts are of stands nowhere but before the table, and their unit in its header or beside each.
    """
    found: dict[tuple[str, ...], Rows] = {}
    for table in tables:
        head, rows = _head(table), _rows(table, table.title if titled else "")
        if not titled and rows[0][0] != table.title:
            head, rows = _with_unit(head, rows, table.unit)
        found[head] = (*found.get(head, ()), *rows)
    return tuple(Table("", head, rows) for head, rows in found.items())


def _with_unit(head: tuple[str, ...], rows: Rows, unit: str) -> tuple[tuple[str, ...], Rows]:
    """A header and rows without a title, the unit in the header or, without one, in each amount."""
    if any(head):
        return (f"{head[0]} · {unit}", *head[1:]), rows
    return head, tuple(
        (row[0], *(cell if cell == NOT_MADE else f"{cell} {unit}" for cell in row[1:]))
        for row in rows
    )


def sections(grid: Table) -> tuple[tuple[str, Rows], ...]:
    """The rows of a grid under their headings, those before the first under ""."""
    found: list[tuple[str, list[tuple[str, ...]]]] = [("", [])]
    for row in grid.rows:
        if len(row) == 1:
            found.append((row[0], []))
        else:
            found[-1][1].append(row)
    return tuple((heading, tuple(rows)) for heading, rows in found if rows)


def pieces(tables: Sequence[AmountTable]) -> tuple[tuple[AmountTable, ...], ...]:
    """What stays together of the tables where a card is cut, in the order it is printed: each is a
    section of a grid."""
    heads = list(dict.fromkeys(map(_head, tables)))
    found: list[tuple[AmountTable, ...]] = []
    for table in sorted(tables, key=lambda table: heads.index(_head(table))):
        for part in _cut(table):
            last = found[-1] if found else ()
            if last and _goes_on(last[-1], part):
                found[-1] = (*last, part)
            else:
                found.append((part,))
    return tuple(found)


def joined(parts: Iterable[Sequence[AmountTable]]) -> tuple[AmountTable, ...]:
    """The tables that pieces were cut from."""
    found: list[AmountTable] = []
    for table in (table for part in parts for table in part):
        last = found[-1] if found else None
        if last is not None and replace(last, rows=()) == replace(table, rows=()):
            found[-1] = replace(last, rows=(*last.rows, *table.rows))
        else:
            found.append(table)
    return tuple(found)


def _across(table: AmountTable) -> bool:
    """Whether the ice levels are the header."""
    return not table.header and all(row.ice and not row.add_ons for row in table.rows)


def _head(table: AmountTable) -> tuple[str, ...]:
    header = tuple(row.ice for row in table.rows) if _across(table) else table.header
    return (table.choice, *header) if header else ("", "")


def _rows(table: AmountTable, title: str) -> Rows:
    if _across(table):
        return ((table.title, *(cell for row in table.rows for cell in row.amounts)),)
    if len(table.rows) == 1 and not table.rows[0].add_ons and not table.rows[0].ice:
        return ((table.title, *table.rows[0].amounts),)
    rows: list[tuple[str, ...]] = []
    for part in _cut(table):
        sets = part.rows[0].either or part.others
        if part.rows[0].ice:
            rows.append((" · ".join(filter(None, (title, sets))),))
            rows += [(row.ice, *row.amounts) for row in part.rows]
            continue
        if rows or title:
            rows.append((title or part.what,))
        rows += [(row.either or part.others, *row.amounts) for row in part.rows]
    return tuple(row for row in rows if row != ("",))


def _cut(table: AmountTable) -> Iterator[AmountTable]:
    """The rows of each set that has some for each ice; other rows stay together."""
    for _, rows in groupby(table.rows, lambda row: (bool(row.ice), row.add_ons if row.ice else ())):
        yield replace(table, rows=tuple(rows))


def _goes_on(last: AmountTable, part: AmountTable) -> bool:
    """Whether a part stands under no heading of its own, as what is before it."""
    plain = (len(_rows(one, one.title)[0]) > 1 for one in (last, part))
    return _head(last) == _head(part) and all(plain)
