"""A card's tables as they were and as they are in; their changes, by row, drink and column, out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from buildsheets.compare.change import Change, What, Where, numbered, order_changed
from buildsheets.ledger.said import BETWEEN, Said

_Cells = Mapping[str, str]  # of a row, by the heads of their columns


def by_row(old: Said, new: Said, where: Where) -> Iterator[Change]:
    """A table whose rows go by their first cell."""
    yield from _heads(_heads_of(old), _heads_of(new), where)
    before, after = _rows(old), _rows(new)
    for name in dict.fromkeys((*before, *after)):
        if name not in before:
            yield Change(What.ADDED, name, now=_headed(after[name]), where=where)
        elif name not in after:
            yield Change(What.REMOVED, name, where=where)
        else:
            for head, was, now in _differing(before[name], after[name]):
                yield Change(What.TEXT, "", was, now, where=(*where, name, head))
    yield from order_changed("rows", list(before), list(after), where)


def _heads_of(table: Said) -> list[str]:
    return list(map(str, table.get("header", ())))


def _heads(old: Sequence[str], new: Sequence[str], where: Where) -> Iterator[Change]:
    if old != new:
        was, now = (" · ".join(filter(None, heads)) for heads in (old, new))
        yield Change(What.TEXT, "header", was, now, where=where)


def _rows(table: Said) -> dict[str, _Cells]:
    rows = [list(map(str, row)) for row in table.get("rows", ()) if row]
    heads = numbered(_heads_of(table)[1:])
    names = numbered(row[0] for row in rows)
    return {
        name: dict(zip(heads, row[1:], strict=False)) for name, row in zip(names, rows, strict=True)
    }


def _differing(was: _Cells, now: _Cells) -> Iterator[tuple[str, str, str]]:
    """(head, cell before, cell after); of a column that went, its head tells."""
    for head, cell in now.items():
        if was.get(head, "") != cell:
            yield head, was.get(head, ""), cell


def _headed(cells: _Cells) -> str:
    return "; ".join(f"{head}: {cell}" if head else cell for head, cell in cells.items() if cell)


# Of one title: what a row is about (an add-on, a syrup), then its drinks, then their rows.
_Table = dict[str, dict[str, list[_Cells]]]


def by_drink(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    """Tables that end in a list of drinks: what each drink's row for each first cell said and says.

    Rows are grouped by what they say, so one drink more or less moves others between them; told
    is only what changed for a drink. Tables of one title count as one.
    """
    for title in _titles([*old, *new]):
        was, now = (
            [table for table in tables if str(table.get("title", "")) == title]
            for tables in (old, new)
        )
        if was != now:
            yield from _of_title(was, now, (*where, title) if title else where)
    yield from order_changed("tables", _titles(old), _titles(new), where)


def _titles(tables: Sequence[Said]) -> list[str]:
    return list(dict.fromkeys(str(table.get("title", "")) for table in tables))


def _of_title(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    found = list(_rows_by_drink(old, new, where))
    if old and new:
        before, after = _all_heads(old), _all_heads(new)
        if len(old) == len(new) == 1 or {*before} != {*after}:
            found += _heads(before, after, where)
        was, now = (_notes(tables) for tables in (old, new))
        if was != now:
            found.append(Change(What.TEXT, "table_note", was, now, where=where))
    if not found:
        columns = ([_column(tables, place) for tables in (old, new)] for place in (0, -1))
        was, now = next((texts for texts in columns if texts[0] != texts[1]), ("", ""))
        found = [Change(What.ORDER, "rows", was, now, where=where)]
    yield from found


def _notes(tables: Sequence[Said]) -> str:
    return " ".join(str(table["note"]) for table in tables if table.get("note"))


def _all_heads(tables: Sequence[Said]) -> list[str]:
    return list(dict.fromkeys(head for table in tables for head in _heads_of(table)))


def _column(tables: Sequence[Said], place: int) -> str:
    rows = (row for table in tables for row in table.get("rows", ()) if row)
    return " · ".join(str(row[place]) for row in rows)


def _rows_by_drink(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    before, after = _drinks(old), _drinks(new)
    pairs = _paired(before, after)
    for first, drinks in after.items():
        if first not in pairs:
            yield Change(What.ADDED, first, now=_offered(drinks), where=where, drinks=tuple(drinks))
            continue
        had = before[pairs[first]]
        alone = sum(_name(other) == _name(first) for other in after) == 1
        name = _name(first) if alone else first
        if first != pairs[first]:
            was, now = (one.removeprefix(f"{name}: ") for one in (pairs[first], first))
            yield Change(What.TEXT, "", was, now, where=(*where, name), drinks=tuple(drinks))
        yield from _cells_by_drink(had, drinks, where, name)
        common = _common([*had.values(), *drinks.values()])
        for drink, rows in drinks.items():
            if drink not in had:
                told = " / ".join(_plain(row, common) for row in rows)
                yield Change(What.FOR_MORE, drink, "", told, (), (*where, name), (drink,))
        for drink in had:
            if drink not in drinks:
                yield Change(What.FOR_FEWER, drink, where=(*where, name), drinks=(drink,))
    for first, drinks in before.items():
        if first not in pairs.values():
            yield Change(What.REMOVED, first, where=where, drinks=tuple(drinks))


def _drinks(tables: Sequence[Said]) -> _Table:
    found: _Table = {}
    for table in tables:
        heads = numbered(_heads_of(table)[1:-1])
        for row in table.get("rows", ()):
            if not row:
                continue
            first, *cells = map(str, row)
            for drink in cells[-1].split(BETWEEN) if cells else ("",):
                rows = found.setdefault(first, {}).setdefault(drink, [])
                rows.append(dict(zip(heads, cells[:-1], strict=False)))
    return found


def _paired(before: _Table, after: _Table) -> dict[str, str]:
    """First cells after, each with the one before that is of the same thing: an add-on whose
    amount changed is the same one, when no other goes by its name."""
    pairs = {first: first for first in after if first in before}
    left = [[first for first in table if first not in pairs] for table in (before, after)]
    for first in left[1]:
        name = _name(first)
        alike = [one for one in left[0] if _name(one) == name != one]
        if name != first and len(alike) == 1 and sum(_name(one) == name for one in left[1]) == 1:
            pairs[first] = alike[0]
    return pairs


def _name(first: str) -> str:
    """An add-on without its amount: "Pearls" of "Pearls: 2 scoops (60 ml)"."""
    return first.partition(": ")[0]


def _cells_by_drink(
    had: Mapping[str, list[_Cells]], has: Mapping[str, list[_Cells]], where: Where, name: str
) -> Iterator[Change]:
    """Cells of drinks that stand in both; drinks that changed alike together."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for drink in has:
        if drink in had:
            for change in _of_drink(had[drink], has[drink]):
                alike.setdefault(change, []).append(drink)
    for (head, was, now), drinks in alike.items():
        place = f"{name}, {BETWEEN.join(drinks)}"
        yield Change(What.TEXT, "", was, now, (), (*where, place, head), tuple(drinks))


def _of_drink(had: list[_Cells], has: list[_Cells]) -> Iterator[tuple[str, str, str]]:
    if len(had) == len(has) == 1:
        yield from _differing(had[0], has[0])
        return
    was, now = (sorted(map(_headed, rows)) for rows in (had, has))
    if was != now:
        yield "", " / ".join(was), " / ".join(now)


def _common(rows: Sequence[list[_Cells]]) -> set[tuple[str, str]]:
    """Cells that all rows of an add-on share, which tell nothing of a drink."""
    counted = Counter(cell for row in rows for cells in row for cell in cells.items())
    return {cell for cell, count in counted.items() if count == sum(map(len, rows)) > 1}


def _plain(cells: _Cells, common: set[tuple[str, str]]) -> str:
    return " · ".join(cell for head, cell in cells.items() if cell and (head, cell) not in common)


def _offered(drinks: Mapping[str, list[_Cells]]) -> str:
    """What a row that is new says, for which drinks."""
    alike: dict[str, list[str]] = {}
    for drink, rows in drinks.items():
        for row in rows:
            alike.setdefault(_plain(row, set()), []).append(drink)
    return "; ".join(f"{told}: {BETWEEN.join(named)}" for told, named in alike.items())
