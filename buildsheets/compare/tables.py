"""A card's tables as they were and as they are in; their changes, by row, drink and column, out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from buildsheets.compare.change import (
    Change,
    Changes,
    What,
    Where,
    grouped,
    numbered,
    order_changed,
    pairs,
)
from buildsheets.ledger.card_texts import BETWEEN, CardTexts, Items

_Cells = Mapping[str, str]  # of a row, by the heads of their columns


def by_row(old: CardTexts, new: CardTexts, where: Where) -> Changes:
    """A table whose rows go by their first cell."""
    yield from _heads_changed(_heads(old), _heads(new), where)
    yield from _rows_changed(_rows(old), _rows(new), where)


def by_choice(old: Items, new: Items, where: Where) -> Changes:
    """What the steps of a drink take for each choice, whatever tables they stand in."""
    before, after = (_amounts(tables) for tables in (old, new))
    yield from _rows_changed(before, after, (*where, "amounts"))


def _amounts(tables: Items) -> dict[str, _Cells]:
    """Rows by the heading they stand under and their name."""
    found: dict[str, _Cells] = {}
    for table in tables:
        heading = ""
        for name, cells in _rows(table).items():
            if cells and any(cells.values()):
                found[" · ".join(filter(None, (heading, name)))] = cells
            else:
                heading = name
    return found


def _rows_changed(
    before: Mapping[str, _Cells], after: Mapping[str, _Cells], where: Where
) -> Changes:
    for name, was, now in pairs(before, after):
        if now is None:
            yield Change(What.REMOVED, name, _headed(was or {}), where=where)
        elif was is None:
            yield Change(What.ADDED, name, now=_headed(now), where=where)
        else:
            for head, old_cell, cell in _differing(was, now):
                yield Change(What.TEXT, "", old_cell, cell, where=(*where, name, head))
    yield from order_changed("rows", before, after, where)


def _heads(*tables: CardTexts) -> list[str]:
    return [str(head) for table in tables for head in table.get("header", ())]


def _heads_changed(old: Sequence[str], new: Sequence[str], where: Where) -> Changes:
    if old != new:
        was, now = (" · ".join(filter(None, heads)) for heads in (old, new))
        yield Change(What.TEXT, "header", was, now, where=where)


def _rows(table: CardTexts) -> dict[str, _Cells]:
    rows = [list(map(str, row)) for row in table.get("rows", ()) if row]
    heads = numbered(_heads(table)[1:])
    cells = (dict(zip(heads, row[1:], strict=False)) for row in rows)
    return dict(zip(numbered(row[0] for row in rows), cells, strict=True))


def _differing(was: _Cells, now: _Cells) -> Iterator[tuple[str, str, str]]:
    """(head, cell before, cell after); of a column that went, its head tells."""
    for head, cell in now.items():
        if was.get(head, "") != cell:
            yield head, was.get(head, ""), cell


def _headed(cells: _Cells) -> str:
    return "; ".join(f"{head}: {cell}" if head else cell for head, cell in cells.items() if cell)


# Of one title: what a row is about (an add-on, a syrup), then its drinks, then their rows.
_Table = dict[str, dict[str, list[_Cells]]]


def by_drink(old: Items, new: Items, where: Where) -> Changes:
    """Tables that end in a list of drinks: what each drink's row for each first cell said and says.

    Rows are grouped by what they say, so one drink more or less moves others between them; told
    is only what changed for a drink. Tables of one title count as one.
    """
    before, after = (
        grouped((str(table.get("title", "")), table) for table in tables) for tables in (old, new)
    )
    for title, was, now in pairs(before, after):
        if was != now:
            inside = (*where, title) if title else where
            listed = _heads(*(was or ()), *(now or ()))[-1:] != [""]  # of drinks, under a heading
            yield from (_of_title if listed else _by_rows)(was or (), now or (), inside)
    yield from order_changed("tables", before, after, where)


def _by_rows(old: Items, new: Items, where: Where) -> Changes:
    """Tables of two columns that list no drinks: a word and what it means."""
    rows = ([row for table in tables for row in table.get("rows", ())] for tables in (old, new))
    before, after = ({"header": ("", ""), "rows": held} for held in rows)
    yield from by_row(before, after, where)


def _of_title(old: Items, new: Items, where: Where) -> Changes:
    found = list(_rows_by_drink(old, new, where))
    if old and new:
        before, after = (list(dict.fromkeys(_heads(*tables))) for tables in (old, new))
        if len(old) == len(new) == 1 or {*before} != {*after}:
            found += _heads_changed(before, after, where)
        was, now = (
            " ".join(str(t["note"]) for t in tables if t.get("note")) for tables in (old, new)
        )
        if was != now:
            found.append(Change(What.TEXT, "table_note", was, now, where=where))
    if not found:
        columns = ([_column(tables, place) for tables in (old, new)] for place in (0, -1))
        was, now = next((texts for texts in columns if texts[0] != texts[1]), ("", ""))
        found = [Change(What.ORDER, "rows", was, now, where=where)]
    yield from found


def _column(tables: Items, place: int) -> str:
    rows = (row for table in tables for row in table.get("rows", ()) if row)
    return " · ".join(str(row[place]) for row in rows)


def _rows_by_drink(old: Items, new: Items, where: Where) -> Changes:
    before, after = _drinks(old), _drinks(new)
    earlier = _earlier_names(before, after)
    for first, drinks in after.items():
        if first not in earlier:
            yield Change(What.ADDED, first, now=_offered(drinks), where=where, drinks=tuple(drinks))
            continue
        had = before[earlier[first]]
        alone = sum(_name(other) == _name(first) for other in after) == 1
        name = _name(first) if alone else first
        if first != earlier[first]:
            was, now = (one.removeprefix(f"{name}: ") for one in (earlier[first], first))
            yield Change(What.TEXT, "", was, now, where=(*where, name), drinks=tuple(drinks))
        yield from _cells_by_drink(had, drinks, where, name)
        common = _common([*had.values(), *drinks.values()])
        for drink, rows in drinks.items():
            if drink not in had:
                cells = " / ".join(_plain(row, common) for row in rows)
                yield Change(What.FOR_MORE, drink, "", cells, (), (*where, name), (drink,))
        for drink in had:
            if drink not in drinks:
                yield Change(What.FOR_FEWER, drink, where=(*where, name), drinks=(drink,))
    for first, drinks in before.items():
        if first not in earlier.values():
            yield Change(What.REMOVED, first, where=where, drinks=tuple(drinks))


def _drinks(tables: Items) -> _Table:
    found: _Table = {}
    for table in tables:
        heads = numbered(_heads(table)[1:-1])
        for row in filter(None, table.get("rows", ())):
            first, *cells = map(str, row)
            for drink in cells[-1].split(BETWEEN) if cells else ("",):
                rows = found.setdefault(first, {}).setdefault(drink, [])
                rows.append(dict(zip(heads, cells[:-1], strict=False)))
    return found


def _earlier_names(before: _Table, after: _Table) -> dict[str, str]:
    """First cells after, each with the one before that is of the same thing: an add-on whose
    amount changed is the same one, when no other goes by its name."""
    same = {first: first for first in after if first in before}
    gone, come = ([first for first in table if first not in same] for table in (before, after))
    for first in come:
        name = _name(first)
        alike = [one for one in gone if _name(one) == name != one]
        if name != first and len(alike) == 1 and sum(_name(one) == name for one in come) == 1:
            same[first] = alike[0]
    return same


def _name(first: str) -> str:
    """An add-on without its amount: "Pearls" of "Pearls: 2 scoops (60 ml)"."""
    return first.partition(": ")[0]


def _cells_by_drink(
    had: Mapping[str, list[_Cells]], has: Mapping[str, list[_Cells]], where: Where, name: str
) -> Changes:
    """Cells of drinks that stand in both; drinks that changed alike together."""
    alike = grouped(
        (change, drink)
        for drink in has
        if drink in had
        for change in _of_drink(had[drink], has[drink])
    )
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
    alike = grouped((_plain(row, set()), drink) for drink, rows in drinks.items() for row in rows)
    return "; ".join(f"{cells}: {BETWEEN.join(named)}" for cells, named in alike.items())
