"""What a card said and says in; every single change, with both texts, out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Any

from buildsheets.editions.said import Said

Where = tuple[str, ...]  # the fields, rows and names that lead to a text, from the outside in


class What(StrEnum):
    """What kind of change, in the order in which a shop should read them."""

    ALLERGEN_ADDED = "allergen-added"
    ALLERGEN_REMOVED = "allergen-removed"
    CAUTION = "caution"
    STEP_ADDED = "step-added"
    STEP_REMOVED = "step-removed"
    STEP_MOVED = "step-moved"
    STEP_CHANGED = "step-changed"
    TEXT = "text"
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


_STEPS = ("steps", "adds")
# Lists whose items go by a name: a drink's row, an add-on, an ingredient.
_BY_NAME = ("rows", "add_ons", "parts")
_NAMES = ("drink", "name", "label", "what", "title")


def _changes(was: Said, now: Said, where: Where = ()) -> Iterator[Change]:
    for name in dict.fromkeys((*was, *now)):
        old, new = was.get(name), now.get(name)
        if old == new:
            continue
        if name == "allergens" and not where and isinstance(old or new, Mapping):
            yield from _allergens(old or {}, new or {})
        elif name == "allergens" and isinstance(old or new, str):
            what = What.ALLERGEN_ADDED if new else What.ALLERGEN_REMOVED
            yield Change(what, name, old or "", new or "", where=where)
        elif name == "cautions":
            yield from _lines(What.CAUTION, name, old or [], new or [], where)
        elif name in _STEPS:
            yield from _steps(old or [], new or [], where)
        elif name == "marks":
            yield from _marks(old or {}, new or {}, where)
        elif name == "gauge":
            yield from _gauge(old or [], new or [], where)
        else:
            yield from _plain(name, old, new, where)


def _plain(name: str, old: Any, new: Any, where: Where) -> Iterator[Change]:
    """Texts, lists and mappings of any shape, down to the texts that differ."""
    sample = new if new else old
    if isinstance(sample, Mapping):
        yield from _changes(old or {}, new or {}, (*where, name))
    elif isinstance(sample, Sequence) and not isinstance(sample, str):
        before, after = _named(old or []), _named(new or [])
        if before is None or after is None:
            yield from _lines(What.TEXT, name, old or [], new or [], where)
            return
        for item in dict.fromkeys((*before, *after)):
            place = (*where, item) if name in _BY_NAME else (*where, name, item)
            yield from _item(before.get(item), after.get(item), place)
        orders = [item for item in before if item in after], [i for i in after if i in before]
        if orders[0] != orders[1]:
            yield Change(What.TEXT, name, " · ".join(orders[0]), " · ".join(orders[1]), where=where)
    else:
        yield Change(What.TEXT, name, str(old or ""), str(new or ""), where=where)


def _item(old: Any, new: Any, place: Where) -> Iterator[Change]:
    if old is None or new is None:
        was, now = ("" if side is None else _line(side) for side in (old, new))
        yield Change(What.TEXT, place[-1], was, now, where=place[:-1])
    elif old != new:
        yield from _changes(old, new, place)


def _named(items: Sequence[Any]) -> dict[str, Any] | None:
    """A list of mappings by their names; ``None`` where the items have none of their own."""
    named: dict[str, Any] = {}
    for item in items:
        if not isinstance(item, Mapping):
            return None
        name = next((str(item[field]) for field in _NAMES if item.get(field)), "")
        if not name or name in named:
            return None
        named[name] = item
    return named


def _lines(
    what: What, name: str, old: Sequence[Any], new: Sequence[Any], where: Where
) -> Iterator[Change]:
    """Lists of lines or of table rows: those that went and those that came, in order."""
    gone = [_line(item) for item in old if item not in new]
    come = [_line(item) for item in new if item not in old]
    if not gone and not come:
        yield Change(
            what, name, "; ".join(map(_line, old)), "; ".join(map(_line, new)), where=where
        )
    for place in range(max(len(gone), len(come))):
        was = gone[place] if place < len(gone) else ""
        now = come[place] if place < len(come) else ""
        yield Change(what, name, was, now, where=where)


def _line(item: Any) -> str:
    if isinstance(item, Mapping):
        return ", ".join(filter(None, map(_line, item.values())))
    if isinstance(item, Sequence) and not isinstance(item, str):
        return " · ".join(filter(None, map(_line, item)))
    return str(item)


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
