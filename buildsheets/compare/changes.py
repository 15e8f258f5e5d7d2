"""What a card said and says in; every single change, with both texts, out."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from buildsheets.compare.change import (
    Change,
    Changes,
    What,
    Where,
    joined,
    numbered,
    numbers_of,
    order_changed,
    pairs,
    same_but_for_numbers,
)
from buildsheets.compare.steps import amount_of, step_changes
from buildsheets.compare.tables import by_choice, by_drink, by_row
from buildsheets.ledger.card_texts import BETWEEN, LOOKS, CardTexts, Items


def changes_between(was: CardTexts, now: CardTexts) -> list[Change]:
    """Every change between what a card said and says, the gravest first.

    When the texts agree and the digests do not, it is the drawing or a colour that changed.
    """
    poured = [str(step.get("what", "")) for step in now.get("steps", ())]
    found = without_consequences(list(_changes(was, now)), poured)
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


def brought_by(texts: CardTexts) -> list[Change]:
    """What a card new to the shop says of allergens and cautions, and the steps of a drink, as if
    each had been added."""
    fields = (
        "allergens",
        "cautions",
        "add_ons",
        "swaps",
        *(("steps",) if "cup_name" in texts else ()),
    )
    return list(_changes({}, {name: texts[name] for name in fields if name in texts}))


def _changes(was: CardTexts, now: CardTexts, where: Where = ()) -> Changes:
    for name, old, new in pairs(was, now):
        if old == new or name in LOOKS or name == "sold_days":  # which ``sold`` says in words
            continue
        sample = old or new
        if name == "allergens" and not where and isinstance(sample, Mapping):
            yield from _allergens(old or {}, new or {}, now.get("add_ons", ()))
        elif name == "allergens" and isinstance(sample, str):
            what = What.ALLERGEN_ADDED if new else What.ALLERGEN_REMOVED
            yield Change(what, name, old or "", new or "", where=where)
        elif name == "marks" and isinstance(sample, Mapping):  # of an allergen matrix's row
            for allergen, a, b in pairs(old or {}, new or {}):
                if (a or "") != (b or ""):
                    yield Change(What.ALLERGEN_ADDED, allergen, a or "", b or "", where=where)
        elif name in _BY_FIELD:
            yield from _BY_FIELD[name](old or [], new or [], where)
        else:
            yield from _plain(name, old, new, where)


def _plain(name: str, old: Any, new: Any, where: Where) -> Changes:
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
        for item, was, now in pairs(before, after):
            if was is None or now is None:
                yield from _one_more_or_less(item, was, now, inside)
                continue
            drinks = _drinks_of(now) if "drinks" not in now else ()
            for change in _mapping(name, was, now, (*inside, item)):
                yield replace(change, drinks=change.drinks or drinks)
        yield from order_changed(name, before, after, where)
    else:
        yield from _items(name, [*map(str, old or ())], [*map(str, new or ())], where)


def _one_more_or_less(
    item: str, was: CardTexts | None, now: CardTexts | None, where: Where
) -> Changes:
    if now is not None:
        amount = joined(amount_of(now), str(now.get("place", "")))
        more = amount or BETWEEN.join(now.get("drinks", ()))
        yield Change(What.ADDED, item, now=more, where=where, drinks=_drinks_of(now))
    elif was is not None:
        yield Change(What.REMOVED, item, where=where, drinks=_drinks_of(was))


def _drinks_of(item: CardTexts) -> tuple[str, ...]:
    """The drinks a row is of: of a station card's, of the allergen sheet, of an edge gauge."""
    if "drink" in item:
        return (str(item["drink"]).partition(BETWEEN)[0],)  # without which part of it this is
    if "marks" in item:
        return (str(item["name"]),)
    return tuple(map(str, item.get("drinks", ())))


def _for_drinks(old: Sequence[str], new: Sequence[str], where: Where) -> Changes:
    """The drinks of a line on the gauge."""
    for what, drinks, others in ((What.FOR_MORE, new, old), (What.FOR_FEWER, old, new)):
        for drink in drinks:
            if drink not in others:
                yield Change(what, drink, where=where, drinks=(drink,))
    yield from order_changed("drinks", old, new, where)


_ASKED = ("verdict",)  # that a drink has no room for it
_OF_OLD = ("line", "hold_back")  # how it made room, on cards of before: tables tell that now


def _add_ons(
    old: Items,
    new: Items,
    where: Where,
    field: str = "add_ons",
    changed: What = What.ADD_ON_ALLERGENS,
) -> Changes:
    """The add-ons of a drink, or its swaps, by name."""
    before, after = _named(old, field), _named(new, field)
    for name, was, now in pairs(before, after):
        if was is None or now is None:
            yield from _one_more_or_less(name, was, now, (*where, field))
        if now is None:
            continue
        brings = str(now.get("allergens", ""))
        if was is None:
            yield Change(What.ADD_ON_OFFERED, name, "", brings, where=where)
        else:
            brought = str(was.get("allergens", ""))
            if brought != brings:
                yield Change(changed, name, brought, brings, where=where)
            with_tool = "tool" if was.get("tool") != now.get("tool") else ""
            had, has = _measured(was, with_tool), _measured(now, with_tool)
            if had != has:
                yield Change(What.TEXT, "amount", had, has, where=(*where, name))
            old_rest, rest = (
                {field: text for field, text in add_on.items() if field not in _OF_ITS_OWN}
                for add_on in (was, now)
            )
            yield from _changes(old_rest, rest, (*where, name))
        (asked_by, before_text), (asks_by, text) = _asked(was or {}), _asked(now)
        if (asked_by, before_text) != (asks_by, text):
            parts = (asked_by, before_text, ""), (asks_by, "", text)
            yield Change(What.ROOM, "", before_text, text, parts, (*where, name))
    yield from order_changed(field, before, after, where)


def _swaps(old: Items, new: Items, where: Where) -> Changes:
    """The swaps of a drink: what they bring and take away is told as that of add-ons is."""
    yield from _add_ons(old, new, where, "swaps", What.SWAP_ALLERGENS)


_OF_ITS_OWN = (*_ASKED, *_OF_OLD, "allergens", "amount", "unit", "tool")


def _asked(add_on: CardTexts) -> tuple[str, str]:
    """(field, text) of what an add-on asks of its drink; ("", "") when it goes in as written."""
    return next(((f, str(add_on[f])) for f in _ASKED if add_on.get(f)), ("", ""))


def _parts(old: Items, new: Items, where: Where) -> Changes:
    """The ingredients of a batch, each with its amount and how that is measured."""
    before, after = _named(old, "parts"), _named(new, "parts")
    for name, was, now in pairs(before, after):
        if was is None or now is None:
            yield from _one_more_or_less(name, was, now, where)
        elif (had := _measured(was, "note")) != (has := _measured(now, "note")):
            yield Change(What.TEXT, "", had, has, where=(*where, name))
    yield from order_changed("parts", before, after, where)


def _measured(part: CardTexts, beside: str) -> str:
    """An amount with the text that stands beside it: "5 leaves (1 g)"."""
    more = part.get(beside, "")
    return f"{amount_of(part)} ({more})" if more else amount_of(part)


def _gauge(old: Items, new: Items, where: Where) -> Changes:
    """Marks that stand elsewhere than before; marks that came or went are told by their steps."""
    before = {mark.get("label", ""): mark.get("at", "") for mark in old}
    for mark in new:
        label, height = mark.get("label", ""), mark.get("at", "")
        if before.get(label, height) != height:
            yield Change(What.TEXT, label, before[label], height, where=(*where, "gauge"))


_BY_FIELD: Mapping[str, Callable[[Any, Any, Where], Changes]] = {
    "parts": _parts,
    "steps": step_changes,
    "adds": step_changes,
    "gauge": _gauge,
    "add_ons": _add_ons,
    "swaps": _swaps,
    "tables": by_drink,
    "amounts": by_choice,
    "drinks": _for_drinks,
}


def _keyed(value: Any) -> Any:
    """A list of (name, what of it) as a mapping, inside as well: the choices of a station's row."""
    if _is_list(value) and value and all(map(_is_pair, value)):
        return {str(name): _keyed(held) for name, held in value}
    return value


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _is_pair(value: Any) -> bool:
    return _is_list(value) and len(value) == 2 and isinstance(value[0], str)


def _mapping(name: str, old: CardTexts, new: CardTexts, where: Where) -> Changes:
    if "header" not in old and "header" not in new:
        yield from _changes(old, new, where)
    elif not old or not new:
        yield Change(What.ADDED if new else What.REMOVED, name, where=where[:-1])
    else:
        for field in ("title", "note"):
            was, now = str(old.get(field, "")), str(new.get(field, ""))
            if was != now:
                yield from _text(f"table_{field}", was, now, where)
        yield from by_row(old, new, where)


_NAMES = ("drink", "name", "label", "what", "title")


def _named(items: Items, kind: str) -> dict[str, CardTexts]:
    """A list of mappings by their names, the second of a name as "name (2)"."""
    names = []
    for item in items:
        name = next((str(item[field]) for field in _NAMES if item.get(field)), "")
        names.append(name or str(item.get("line", {}).get("label", "")) or kind)
    return dict(zip(numbered(names), items, strict=True))


def _text(name: str, old: str, new: str, where: Where) -> Changes:
    """A text by its sentences; one that stands alone is said to be another now."""
    before, after = _sentences(old), _sentences(new)
    if max(len(before), len(after)) > 1:
        yield from _items(name, before, after, where)
    elif before == after:  # but for its full stop
        yield Change(What.TEXT, name, old, new, where=where)
    else:
        yield Change(What.TEXT, name, "".join(before), "".join(after), where=where)


def _sentences(text: str) -> list[str]:
    return [part.rstrip(".") for part in re.split(r"(?<=[.!?;])\s+", text) if part]


def _items(name: str, old: Sequence[str], new: Sequence[str], where: Where) -> Changes:
    """A list of texts: another amount in the same words is a change, all else comes or goes."""
    gone = [item for item in old if item not in new]
    come = [item for item in new if item not in old]
    for was in list(gone):
        now = next((item for item in come if same_but_for_numbers(was, item)), None)
        if now is not None:
            gone.remove(was)
            come.remove(now)
            texts = was.removesuffix("."), now.removesuffix(".")
            yield Change(What.TEXT, name, *texts, where=where)
    removed, added = What.REMOVED, What.ADDED
    if name == "cautions":
        removed, added = What.CAUTION_REMOVED, What.CAUTION_ADDED
    yield from (Change(removed, item, where=(*where, name)) for item in gone)
    yield from (Change(added, item, where=(*where, name)) for item in come)
    yield from order_changed(name, old, new, where)


def _allergens(old: CardTexts, new: CardTexts, add_ons: Items) -> Changes:
    """Each allergen that came, went or turned from possible to contained or back."""
    before, after = ([*a.get("contains", []), *a.get("may_contain", [])] for a in (old, new))
    for field in ("contains", "may_contain"):
        was, now = old.get(field, []), new.get(field, [])
        for allergen in now:
            if allergen not in was:
                what = What.ALLERGEN_TURNED if allergen in before else What.ALLERGEN_ADDED
                yield Change(what, field, "", str(allergen))
        for allergen in was:
            if allergen not in after:
                yield Change(What.ALLERGEN_REMOVED, field, str(allergen), _with(allergen, add_ons))
    # That none is declared follows from what came or went; what is not declared does not.
    was, now = (str(allergens.get("statement", "")) for allergens in (old, new))
    if was != now and before == after:
        yield Change(What.TEXT, "allergens", was, now)


def _with(allergen: str, add_ons: Items) -> str:
    """The add-ons whose own line names an allergen, with that line."""
    named = re.compile(rf"\b{re.escape(allergen)}\b", re.IGNORECASE)
    lines = ((str(a.get("name", "")), str(a.get("allergens", ""))) for a in add_ons)
    return BETWEEN.join(
        f"{name}: {line[:1].lower()}{line[1:]}" for name, line in lines if named.search(line)
    )


def without_consequences(changes: Sequence[Change], poured: Collection[str]) -> list[Change]:
    """The changes without those that follow from a step that was swapped or changed.

    ``poured`` is what the card's steps add now: what is still among them was not swapped away.
    """
    swaps = (c.parts[0] for c in changes if c.what is What.STEP_SWAPPED and not c.where)
    names = {was: now for _, was, now in swaps if was not in poured}
    left = _swapped_items(changes, names)
    amounts = [
        (change.subject, numbers_of(was), numbers_of(now))
        for change in left
        if change.what is What.STEP_CHANGED and not change.where
        for field, was, now in change.parts
        if field in ("amount", "line")
    ]

    def follows(change: Change) -> bool:
        was, now = change.was, change.now
        if change.what in (What.TEXT, What.ROOM) and was and _renamed(was, names) == now:
            return True
        return change.what is What.TEXT and any(
            name in was and (numbers_of(was), numbers_of(now)) == (before, after)
            for name, before, after in amounts
        )

    return [change for change in left if not follows(change)]


def _swapped_items(changes: Sequence[Change], names: Mapping[str, str]) -> list[Change]:
    """An item that came where one of the thing swapped away went, as one changed text."""
    left: list[Change | None] = list(changes)
    for place, come in enumerate(changes):
        if come.what is What.ADDED and come.now and names:  # a row of amounts
            for gone_place, gone in enumerate(left):
                same = gone and gone.what is What.REMOVED and gone.where == come.where
                if gone and same and _renamed(gone.subject, names) == come.subject:
                    texts = gone.was, come.now
                    row = Change(What.TEXT, "", *texts, where=(*come.where, come.subject))
                    left[place] = row if gone.was != come.now else None
                    left[gone_place] = None
        if come.what is not What.ADDED or come.now or not come.where:
            continue
        for gone_place, gone in enumerate(left):
            if gone is None or gone.what is not What.REMOVED or gone.where != come.where:
                continue
            renamed = _renamed(gone.subject, names)
            if renamed != gone.subject and same_but_for_numbers(renamed, come.subject):
                *where, name = come.where
                texts = gone.subject, come.subject
                left[place] = Change(What.TEXT, name, *texts, where=tuple(where))
                left[gone_place] = None
                break
    return [change for change in left if change]


def _renamed(text: str, names: Mapping[str, str]) -> str:
    for was, now in names.items():
        text = text.replace(was, now)
    return text
