"""What a card said and says in; every single change, with both texts, out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from typing import Any

from buildsheets.compare.change import (
    Change,
    What,
    Where,
    numbered,
    order_changed,
    same_but_for_numbers,
)
from buildsheets.compare.repeats import without_repeats
from buildsheets.compare.tables import by_drink, by_row
from buildsheets.ledger.said import BETWEEN, LOOKS, Said


def changes_between(was: Said, now: Said) -> list[Change]:
    """Every change between what a card said and says, the gravest first.

    When the texts agree and the digests do not, it is the drawing or a colour that changed.
    """
    poured = [str(step.get("what", "")) for step in now.get("steps", ())]
    found = without_repeats(list(_changes(was, now)), poured)
    return _in_order(found) or [Change(What.LOOK)]


_RANK = {what: rank for rank, what in enumerate(What)}


def _in_order(changes: Sequence[Change]) -> list[Change]:
    """The gravest first; after the steps, what is of one add-on or one row together."""
    places = {change.where[:1]: place for place, change in reversed([*enumerate(changes)])}
    steps = _RANK[What.STEP_CHANGED]

    def key(change: Change) -> tuple[int, int, int]:
        rank = _RANK[change.what]
        late = rank > steps and bool(change.where)
        return min(rank, steps + 1), places[change.where[:1]] if late else -1, rank

    return sorted(changes, key=key)


def brought_by(told: Said) -> list[Change]:
    """What a card new to the shop says of allergens and cautions, and the steps of a drink, as if
    each had been added."""
    fields = ("allergens", "cautions", "add_ons", *(("steps",) if "cup_name" in told else ()))
    return list(_changes({}, {name: told[name] for name in fields if name in told}))


_STEPS = ("steps", "adds")
_NAMES = ("drink", "name", "label", "what", "title")


def _changes(was: Said, now: Said, where: Where = ()) -> Iterator[Change]:
    for name in dict.fromkeys((*was, *now)):
        old, new = was.get(name), now.get(name)
        if old == new or name in LOOKS:
            continue
        if name == "allergens" and not where and isinstance(old or new, Mapping):
            yield from _allergens(old or {}, new or {}, now.get("add_ons", ()))
        elif name == "allergens" and isinstance(old or new, str):
            what = What.ALLERGEN_ADDED if new else What.ALLERGEN_REMOVED
            yield Change(what, name, old or "", new or "", where=where)
        elif name == "parts":
            yield from _parts(old or [], new or [], where)
        elif name in _STEPS:
            yield from _steps(old or [], new or [], where)
        elif name == "marks" and isinstance(old or new, Mapping):
            yield from _marks(old or {}, new or {}, where)
        elif name == "gauge":
            yield from _gauge(old or [], new or [], where)
        elif name == "add_ons":
            yield from _add_ons(old or [], new or [], where)
        elif name == "tables":
            yield from by_drink(old or [], new or [], where)
        elif name == "drinks":
            yield from _for_drinks(old or [], new or [], where)
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
        inside = where if name == "rows" else (*where, name)  # rows go by their names alone
        before, after = _named(old or (), name), _named(new or (), name)
        for item in dict.fromkeys((*before, *after)):
            was, now = before.get(item), after.get(item)
            if was is None or now is None:
                yield from _one_more_or_less(item, was, now, inside)
                continue
            drinks = _drinks_of(now) if "drinks" not in now else ()
            for change in _mapping(name, was, now, (*inside, item)):
                yield replace(change, drinks=change.drinks or drinks)
        yield from order_changed(name, list(before), list(after), where)
    else:
        yield from _items(name, [*map(str, old or ())], [*map(str, new or ())], where)


def _one_more_or_less(
    item: str, was: Said | None, now: Said | None, where: Where
) -> Iterator[Change]:
    if now is not None:
        amount = ", ".join(filter(None, (_amount(now), str(now.get("place", "")))))
        more = amount or BETWEEN.join(now.get("drinks", ()))
        yield Change(What.ADDED, item, now=more, where=where, drinks=_drinks_of(now))
    elif was is not None:
        yield Change(What.REMOVED, item, where=where, drinks=_drinks_of(was))


def _drinks_of(item: Said) -> tuple[str, ...]:
    """The drinks a row is of: of a station card's, of the allergen sheet, of an edge gauge."""
    if "drink" in item:
        return (str(item["drink"]).partition(BETWEEN)[0],)  # without which part of it this is
    if "marks" in item:
        return (str(item["name"]),)
    return tuple(map(str, item.get("drinks", ())))


def _for_drinks(old: Sequence[str], new: Sequence[str], where: Where) -> Iterator[Change]:
    """The drinks of a line on the gauge."""
    for what, drinks, others in ((What.FOR_MORE, new, old), (What.FOR_FEWER, old, new)):
        for drink in drinks:
            if drink not in others:
                yield Change(what, drink, where=where, drinks=(drink,))
    yield from order_changed("drinks", old, new, where)


_ASKED = ("line", "hold_back", "verdict")  # how a drink makes room, or that it does not


def _add_ons(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    """The add-ons of a drink, by name."""
    before, after = _named(old, "add_ons"), _named(new, "add_ons")
    for name in dict.fromkeys((*before, *after)):
        was, now = before.get(name), after.get(name)
        if was is None or now is None:
            yield from _one_more_or_less(name, was, now, (*where, "add_ons"))
        if now is None:
            continue
        brings = str(now.get("allergens", ""))
        if was is None:
            yield Change(What.ADD_ON_OFFERED, name, "", brings, where=where)
        else:
            brought = str(was.get("allergens", ""))
            if brought != brings:
                yield Change(What.ADD_ON_ALLERGENS, name, brought, brings, where=where)
            apart = (*_ASKED, "allergens")
            yield from _changes(_without(was, apart), _without(now, apart), (*where, name))
        (asked_by, before_text), (asks_by, text) = _asked(was or {}), _asked(now)
        if (asked_by, before_text) != (asks_by, text):
            parts = (asked_by, before_text, ""), (asks_by, "", text)
            yield Change(What.ROOM, "", before_text, text, parts, (*where, name))
    yield from order_changed("add_ons", list(before), list(after), where)


def _without(item: Said, fields: Sequence[str]) -> Said:
    return {field: held for field, held in item.items() if field not in fields}


def _asked(add_on: Said) -> tuple[str, str]:
    """(field, text) of what an add-on asks of its drink; ("", "") when it goes in as written."""
    return next(((f, str(add_on[f])) for f in _ASKED if add_on.get(f)), ("", ""))


def _parts(old: Sequence[Said], new: Sequence[Said], where: Where) -> Iterator[Change]:
    """The ingredients of a batch, each with its amount and how that is measured."""
    before, after = _named(old, "parts"), _named(new, "parts")
    for name in dict.fromkeys((*before, *after)):
        if name not in before or name not in after:
            yield from _one_more_or_less(name, before.get(name), after.get(name), where)
        elif (was := _weighed(before[name])) != (now := _weighed(after[name])):
            yield Change(What.TEXT, "", was, now, where=(*where, name))
    yield from order_changed("parts", list(before), list(after), where)


def _weighed(part: Said) -> str:
    note = str(part.get("note", ""))
    return f"{_amount(part)} ({note})" if note else _amount(part)


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
    yield from by_row(old, new, where)


def _named(items: Sequence[Said], kind: str) -> dict[str, Said]:
    """A list of mappings by their names, the second of a name as "name (2)"."""
    names = []
    for item in items:
        name = next((str(item[field]) for field in _NAMES if item.get(field)), "")
        names.append(name or str(item.get("line", {}).get("label", "")) or kind)
    return dict(zip(numbered(names), items, strict=True))


def _text(name: str, old: str, new: str, where: Where) -> Iterator[Change]:
    """A text by its sentences; one that stands alone is said to be another now."""
    before, after = _sentences(old), _sentences(new)
    if max(len(before), len(after)) < 2:
        stops_differ = before == after
        was, now = (old, new) if stops_differ else ("".join(before), "".join(after))
        yield Change(What.TEXT, name, was, now, where=where)
    else:
        yield from _items(name, before, after, where)


def _unstopped(text: str) -> str:
    return text.removesuffix(".")


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
            yield Change(What.TEXT, name, _unstopped(was), _unstopped(now), where=where)
    removed, added = What.REMOVED, What.ADDED
    if name == "cautions":
        removed, added = What.CAUTION_REMOVED, What.CAUTION_ADDED
    yield from (Change(removed, item, where=(*where, name)) for item in gone)
    yield from (Change(added, item, where=(*where, name)) for item in come)
    yield from order_changed(name, old, new, where)


def _allergens(old: Said, new: Said, add_ons: Sequence[Said]) -> Iterator[Change]:
    """Each allergen that came, went or turned from possible to contained or back."""
    every = [[*told.get("contains", []), *told.get("may_contain", [])] for told in (old, new)]
    for field in ("contains", "may_contain"):
        was, now = old.get(field, []), new.get(field, [])
        for allergen in now:
            if allergen not in was:
                turned = allergen in every[0]
                what = What.ALLERGEN_TURNED if turned else What.ALLERGEN_ADDED
                yield Change(what, field, "", str(allergen))
        for allergen in was:
            if allergen not in every[1]:
                yield Change(What.ALLERGEN_REMOVED, field, str(allergen), _with(allergen, add_ons))
    # That none is declared follows from what came or went; what is not declared does not.
    if old.get("statement") != new.get("statement") and every[0] == every[1]:
        yield Change(
            What.TEXT, "allergens", str(old.get("statement", "")), str(new.get("statement", ""))
        )


def _with(allergen: str, add_ons: Sequence[Said]) -> str:
    """The add-ons whose own line names an allergen, with that line."""
    named = re.compile(rf"\b{re.escape(allergen)}\b", re.IGNORECASE)
    lines = ((str(a.get("name", "")), str(a.get("allergens", ""))) for a in add_ons)
    return BETWEEN.join(
        f"{name}: {line[:1].lower()}{line[1:]}" for name, line in lines if named.search(line)
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
    """Steps are matched by what they add; one that left its order and is still there moved, and
    one that stands in another's place between the same neighbours took its place."""
    names_before, names_after = [s.get("what", "") for s in old], [s.get("what", "") for s in new]
    pairs: list[tuple[int, int]] = []
    taken: dict[int, int] = {}  # places after, by those before
    left: list[int] = []
    come: list[int] = []
    matcher = SequenceMatcher(None, names_before, names_after, autojunk=False)
    for tag, a, a_end, b, b_end in matcher.get_opcodes():
        if tag == "equal":
            pairs += zip(range(a, a_end), range(b, b_end), strict=True)
            continue
        left += range(a, a_end)
        come += range(b, b_end)
        if a_end - a == b_end - b == 1:
            taken[a] = b
        else:  # of several, like for like: pumps for pumps
            free = list(range(b, b_end))
            for place in range(a, a_end):
                like = [p for p in free if new[p].get("unit") == old[place].get("unit")]
                if like:
                    taken[place] = like[0]
                    free.remove(like[0])
    for place in list(come):
        same = next((p for p in left if names_before[p] == names_after[place]), None)
        if same is not None:
            left.remove(same)
            come.remove(place)
            pairs.append((same, place))
            yield Change(
                What.STEP_MOVED, names_after[place], str(same + 1), str(place + 1), where=where
            )
    for place in left:
        if taken.get(place) in come:
            come.remove(taken[place])
            yield _swapped(old[place], new[taken[place]], where)
        else:
            yield Change(
                What.STEP_REMOVED, names_before[place], step_text(old[place]), "", (), where
            )
    for place in come:
        yield Change(What.STEP_ADDED, names_after[place], "", step_text(new[place]), (), where)
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


def _swapped(was: Said, now: Said, where: Where) -> Change:
    """What was added is named alone where the rest of the step stayed the same."""
    names = str(was.get("what", "")), str(now.get("what", ""))
    parts = tuple(
        (field, a, b)
        for field in ("tool", "station", "vessel")
        if (a := str(was.get(field, ""))) != (b := str(now.get(field, "")))
    )
    same = step_text({**was, "what": ""}) == step_text({**now, "what": ""})
    text = names[0] if same else step_text(was)
    return Change(
        What.STEP_SWAPPED, names[1], text, step_text(now), (("what", *names), *parts), where
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
