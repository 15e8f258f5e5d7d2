"""What a card said and says in; every single change, with both texts, out."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Any

from buildsheets.editions.said import LOOKS, Said

Where = tuple[str, ...]  # the fields, rows and names that lead to a text, from the outside in


class What(StrEnum):
    """What kind of change, in the order in which a shop should read them."""

    ALLERGEN_ADDED = "allergen-added"
    ALLERGEN_REMOVED = "allergen-removed"
    CAUTION_ADDED = "caution-added"
    CAUTION_REMOVED = "caution-removed"
    STEP_ADDED = "step-added"
    STEP_REMOVED = "step-removed"
    STEP_MOVED = "step-moved"
    STEP_CHANGED = "step-changed"
    TEXT = "text"
    ADDED = "added"  # a row, a line or an item of a list that was not there
    REMOVED = "removed"
    ORDER = "order"
    LOOK = "look"


@dataclass(frozen=True, slots=True)
class Change:
    """One change: ``subject`` is what changed, ``was`` and ``now`` its two texts ("" for none).

    ``parts`` are the fields of a changed step as (field, was, now). ``where`` leads there: the
    row of a station card, the name of an add-on, the table.
    """

    what: What
    subject: str = ""
    was: str = ""
    now: str = ""
    parts: tuple[tuple[str, str, str], ...] = ()
    where: Where = ()


def changes_between(was: Said, now: Said) -> list[Change]:
    """Every change between what a card said and says, the gravest first.

    When the texts agree and the digests do not, it is the drawing or a colour that changed.
    """
    found = sorted(_changes(was, now), key=lambda change: list(What).index(change.what))
    return found or [Change(What.LOOK)]


def allergens_of(told: Said) -> list[Change]:
    """What a card new to the shop says of allergens, as if each had been added."""
    allergens = told.get("allergens")
    return list(_allergens({}, allergens)) if isinstance(allergens, Mapping) else []


def same_but_for_numbers(was: str, now: str) -> bool:
    """Whether two texts say the same of other amounts: "to 480 ml", "to 500 ml"."""
    return _NUMBERS.sub("#", was) == _NUMBERS.sub("#", now)


_NUMBERS = re.compile(r"[\d.,½⅓⅔¼¾⅛]*[\d½⅓⅔¼¾⅛]")


_STEPS = ("steps", "adds")
# Lists whose items go by a name alone: a drink's row, an add-on, an ingredient.
_BY_NAME = ("rows", "add_ons", "parts", "tables")
_NAMES = ("drink", "name", "label", "what", "title")


def _changes(was: Said, now: Said, where: Where = ()) -> Iterator[Change]:
    for name in dict.fromkeys((*was, *now)):
        old, new = was.get(name), now.get(name)
        if old == new or name in LOOKS:
            continue
        if name == "allergens" and not where and isinstance(old or new, Mapping):
            yield from _allergens(old or {}, new or {})
        elif name == "allergens" and isinstance(old or new, str):
            what = What.ALLERGEN_ADDED if new else What.ALLERGEN_REMOVED
            yield Change(what, name, old or "", new or "", where=where)
        elif name in _STEPS:
            yield from _steps(old or [], new or [], where)
        elif name == "marks" and isinstance(old or new, Mapping):
            yield from _marks(old or {}, new or {}, where)
        elif name == "gauge":
            yield from _gauge(old or [], new or [], where)
        else:
            yield from _plain(name, old, new, where)


def _plain(name: str, old: Any, new: Any, where: Where) -> Iterator[Change]:
    """Texts, lists, tables and mappings of any shape, down to the texts that differ."""
    old, new = _keyed(old), _keyed(new)
    sample = new or old
    if isinstance(sample, str):
        yield from _text(name, old or "", new or "", where)
    elif isinstance(sample, Mapping):
        inside = where if name == "line" else (*where, name)  # of a gauge's row: its own name
        yield from _mapping(name, old or {}, new or {}, inside)
    elif all(isinstance(item, Mapping) for item in (*(old or ()), *(new or ()))):
        inside = where if name in _BY_NAME else (*where, name)
        before, after = _named(old or (), name), _named(new or (), name)
        for item in dict.fromkeys((*before, *after)):
            if item not in before:
                more = _amount(after[item]) or " · ".join(after[item].get("drinks", ()))
                yield Change(What.ADDED, item, now=more, where=inside)
            elif item not in after:
                yield Change(What.REMOVED, item, where=inside)
            else:
                yield from _mapping(name, before[item], after[item], (*inside, item))
        yield from _order(name, list(before), list(after), where)
    else:
        yield from _items(name, [*map(str, old or ())], [*map(str, new or ())], where)


def _keyed(value: Any) -> Any:
    """A list of (name, what of it) as a mapping, inside as well: the choices of a station's row."""
    if _is_list(value) and value and all(map(_is_pair, value)):
        return {str(name): _keyed(held) for name, held in value}
    return value


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _is_pair(value: Any) -> bool:
    return _is_list(value) and len(value) == 2 and isinstance(value[0], str)


def _mapping(name: str, old: Said, new: Said, where: Where) -> Iterator[Change]:
    if "header" not in old and "header" not in new:
        yield from _changes(old, new, where)
        return
    if not old or not new:
        yield Change(What.ADDED if new else What.REMOVED, name, where=where[:-1])
        return
    for field in ("title", "note"):
        was, now = str(old.get(field, "")), str(new.get(field, ""))
        if was != now:
            yield from _text(f"table_{field}", was, now, where)
    yield from _table(old, new, where)


def _named(items: Sequence[Said], kind: str) -> dict[str, Said]:
    """A list of mappings by their names, the second of a name as "name (2)"."""
    found: dict[str, Said] = {}
    for item in items:
        name = next((str(item[field]) for field in _NAMES if item.get(field)), "")
        name = name or str(item.get("line", {}).get("label", "")) or kind
        same = sum(known == name or known.startswith(f"{name} (") for known in found)
        found[f"{name} ({same + 1})" if same else name] = item
    return found


def _text(name: str, old: str, new: str, where: Where) -> Iterator[Change]:
    """A text by its sentences; one that stands alone is said to be another now."""
    before, after = _sentences(old), _sentences(new)
    if max(len(before), len(after)) < 2:
        yield Change(What.TEXT, name, old, new, where=where)
    else:
        yield from _items(name, before, after, where)


def _sentences(text: str) -> list[str]:
    return [part.rstrip(".") for part in re.split(r"(?<=[.!?;])\s+", text) if part]


def _items(name: str, old: Sequence[str], new: Sequence[str], where: Where) -> Iterator[Change]:
    """A list of texts: another amount in the same words is a change, all else comes or goes."""
    gone = [item for item in old if item not in new]
    come = [item for item in new if item not in old]
    for was in list(gone):
        now = next((item for item in come if same_but_for_numbers(was, item)), None)
        if now is not None:
            gone.remove(was)
            come.remove(now)
            yield Change(What.TEXT, name, was, now, where=where)
    removed, added = What.REMOVED, What.ADDED
    if name == "cautions":
        removed, added = What.CAUTION_REMOVED, What.CAUTION_ADDED
    yield from (Change(removed, item, where=(*where, name)) for item in gone)
    yield from (Change(added, item, where=(*where, name)) for item in come)
    yield from _order(name, old, new, where)


def _order(name: str, old: Sequence[str], new: Sequence[str], where: Where) -> Iterator[Change]:
    """One change where what stayed stands in another order, how often each stands included."""
    kept = [item for item in old if item in new], [item for item in new if item in old]
    if kept[0] != kept[1]:
        yield Change(What.ORDER, name, " · ".join(kept[0]), " · ".join(kept[1]), where=where)


_Row = tuple[str, ...]


def _table(old: Said, new: Said, where: Where) -> Iterator[Change]:
    """A table by its rows and columns; a row goes by its first cell."""
    heads = tuple(old.get("header", ())), tuple(new.get("header", ()))
    before, after = _rows(old), _rows(new)
    if heads[0] != heads[1]:
        yield Change(What.TEXT, "header", " · ".join(filter(None, heads[0])),
                     " · ".join(filter(None, heads[1])), where=where)  # fmt: skip
    gone = list((Counter(before) - Counter(after)).elements())
    come = list((Counter(after) - Counter(before)).elements())
    named = Counter(row[0] for row in before), Counter(row[0] for row in after)
    for now in list(come):
        alike = [row for row in gone if row[0] == now[0]]
        if not alike or heads[0] != heads[1]:
            continue
        was = max(alike, key=lambda row: sum(a == b for a, b in zip(row, now, strict=False)))
        gone.remove(was)
        come.remove(now)
        name = now[0]
        if max(named[0][name], named[1][name]) > 1:
            name = ", ".join((name, *_telling(was, now, [*before, *after])))
        for head, a, b in zip(heads[1], was, now, strict=False):
            if a != b:
                yield from _cell(head, a, b, (*where, name))
    for row in gone:
        yield Change(What.REMOVED, row[0], where=where)
    for row in come:
        cells = zip(heads[1][1:], row[1:], strict=False)
        said = "; ".join(f"{head}: {cell}" if head else cell for head, cell in cells if cell)
        yield Change(What.ADDED, row[0], now=said, where=where)
    if before != after and Counter(before) == Counter(after):
        firsts = [" · ".join(row[0] for row in rows) for rows in (before, after)]
        yield Change(What.ORDER, "rows", firsts[0], firsts[1], where=where)


def _rows(table: Said) -> list[_Row]:
    return [tuple(map(str, row)) for row in table.get("rows", ()) if row]


def _telling(was: _Row, now: _Row, rows: Sequence[_Row]) -> Iterator[str]:
    """The cells that tell a row from the others of its name, of those that did not change."""
    others = [row for row in rows if row[0] == now[0]]
    for place in range(1, min(len(was), len(now))):
        values = {row[place] for row in others if place < len(row)}
        if was[place] == now[place] and len(values) > 1:
            yield now[place]


def _cell(head: str, was: str, now: str, where: Where) -> Iterator[Change]:
    """A cell; in a list of several, what came and what went."""
    old, new = was.split(" · "), now.split(" · ")
    if {*old} & {*new}:
        yield from _items(head, old, new, where)
    else:
        yield Change(What.TEXT, "", was, now, where=(*where, head))


def _allergens(old: Said, new: Said) -> Iterator[Change]:
    """Each allergen that came or went; "may contain" to "contains" counts as come."""
    for field in ("contains", "may_contain"):
        was, now = old.get(field, []), new.get(field, [])
        for allergen in now:
            if allergen not in was:
                yield Change(What.ALLERGEN_ADDED, field, "", str(allergen))
        for allergen in was:
            if allergen not in now:
                yield Change(What.ALLERGEN_REMOVED, field, str(allergen), "")
    if old.get("statement") != new.get("statement"):
        yield Change(
            What.TEXT, "allergens", str(old.get("statement", "")), str(new.get("statement", ""))
        )


def _marks(old: Said, new: Said, where: Where) -> Iterator[Change]:
    """A row of an allergen matrix, allergen by allergen."""
    for allergen in dict.fromkeys((*old, *new)):
        was, now = str(old.get(allergen, "")), str(new.get(allergen, ""))
        if was != now:
            yield Change(What.ALLERGEN_ADDED, allergen, was, now, where=where)


def _gauge(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    """Marks that stand elsewhere than before; marks that came or went are told by their steps."""
    before = {mark.get("label", ""): mark.get("at", "") for mark in old}
    for mark in new:
        label, height = mark.get("label", ""), mark.get("at", "")
        if before.get(label, height) != height:
            yield Change(What.TEXT, label, before[label], height, where=(*where, "gauge"))


_STEP_FIELDS = ("amount", "line", "tool", "setting", "note", "station", "vessel")


def _steps(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    """Steps are matched by what they add; one that left its order and is still there moved."""
    names_before, names_after = [s.get("what", "") for s in old], [s.get("what", "") for s in new]
    matcher = SequenceMatcher(None, names_before, names_after, autojunk=False)
    pairs = [
        (block.a + offset, block.b + offset)
        for block in matcher.get_matching_blocks()
        for offset in range(block.size)
    ]
    kept_before, kept_after = {a for a, _ in pairs}, {b for _, b in pairs}
    left = [place for place in range(len(old)) if place not in kept_before]
    for place in range(len(new)):
        if place in kept_after:
            continue
        same = next((p for p in left if names_before[p] == names_after[place]), None)
        if same is None:
            yield Change(What.STEP_ADDED, names_after[place], "", step_text(new[place]), (), where)
        else:
            left.remove(same)
            pairs.append((same, place))
            yield Change(
                What.STEP_MOVED, names_after[place], str(same + 1), str(place + 1), where=where
            )
    for place in left:
        yield Change(What.STEP_REMOVED, names_before[place], step_text(old[place]), "", (), where)
    for a, b in sorted(pairs, key=lambda pair: pair[1]):
        was, now = _step_fields(old[a]), _step_fields(new[b])
        parts = tuple((f, was[f], now[f]) for f in _STEP_FIELDS if was[f] != now[f])
        if parts:
            yield Change(
                What.STEP_CHANGED,
                names_after[b],
                step_text(old[a]),
                step_text(new[b]),
                parts,
                where,
            )


def _step_fields(step: Said) -> dict[str, str]:
    fields = {field: str(step.get(field, "")) for field in _STEP_FIELDS}
    return fields | {"amount": _amount(step)}


def _amount(step: Said) -> str:
    return " ".join(filter(None, (step.get("amount", ""), step.get("unit", ""))))


def step_text(step: Said) -> str:
    """A step in one line: "Black tea 120 ml, to 250 ml"."""
    first = " ".join(filter(None, (step.get("what", ""), _amount(step))))
    return ", ".join(filter(None, (first, *(step.get(f, "") for f in ("line", "setting", "note")))))
