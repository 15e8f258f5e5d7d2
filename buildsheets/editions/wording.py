"""A comparison and a language's words in; lines as a shop would say them, and JSON, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from buildsheets.cards.words import Words
from buildsheets.editions.changes import Change, What
from buildsheets.editions.compare import CardChange, Comparison, Side
from buildsheets.editions.ledger import Entry

_ALLERGENS = (What.ALLERGEN_ADDED, What.ALLERGEN_REMOVED)
_DECLARED = ("contains", "may_contain")


@dataclass(frozen=True, slots=True)
class Group:
    """A heading and its lines: a drink and its changes by size, a station and its cards."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A comparison in words: allergens first, then drinks, then what to print and take down."""

    title: str
    allergens: tuple[str, ...]
    drinks: tuple[Group, ...]
    new: tuple[str, ...]
    withdrawn: tuple[str, ...]
    reprint: tuple[Group, ...]
    pull: tuple[Group, ...]


def tell(comparison: Comparison, words: Words) -> Told:
    """The comparison in words, told once: from the cards in the words' language if any are."""
    cards = _in_language(comparison.cards, words.language)
    changed = [card for card in cards if card.before and card.after]
    return Told(
        title=words(
            "changes_title",
            before=side_name(comparison.before, words.language),
            after=side_name(comparison.after, words.language),
        ),
        allergens=tuple(
            f"{_label(card)}: {change_text(change, words)}"
            for card in changed
            for change in card.changes
            if change.what in _ALLERGENS
        ),
        drinks=_drinks(changed, words),
        new=tuple(_label(card) for card in cards if not card.before),
        withdrawn=tuple(_label(card) for card in cards if not card.after),
        reprint=_by_station(comparison.reprint, words, after=True),
        pull=_by_station(comparison.pull, words, after=False),
    )


def side_name(side: Side, language: str) -> str:
    """An edition's code and name: "W26 (Winter 2026)"."""
    name = side.names.get(language) or side.names.get("") or next(iter(side.names.values()), "")
    return f"{side.code} ({name})" if name and name != side.code else side.code


def as_text(told: Told, words: Words) -> str:
    """The comparison as a text for a terminal or a message to the team."""
    lines = [told.title, ""]
    for key, part in (("changes_allergens", told.allergens), ("changes_drinks", told.drinks)):
        if part:
            lines += [words(key), *_indented(part), ""]
    for key, names in (("changes_new", told.new), ("changes_withdrawn", told.withdrawn)):
        if names:
            lines += [words(key), *_indented(names), ""]
    for key, groups in (("changes_reprint", told.reprint), ("changes_pull", told.pull)):
        if groups:
            lines += [words(key), *_indented(groups), ""]
    if not told.reprint and not told.pull:
        lines.append(words("changes_none"))
    return "\n".join(lines).rstrip() + "\n"


def as_json(comparison: Comparison, words: Words) -> dict[str, Any]:
    """The comparison as plain data; every change has its ``text`` in the words' language."""
    return {
        "from": comparison.before.code,
        "to": comparison.after.code,
        "cards": [_card_json(card, words) for card in comparison.cards],
        "reprint": _codes_by_station(comparison.reprint, after=True),
        "pull": _codes_by_station(comparison.pull, after=False),
    }


def change_text(change: Change, words: Words) -> str:
    """One change as a shop would say it: "Black tea to 480 ml, was 500"."""
    place = [name for name in (_field(part, words) for part in change.where) if name]
    text = ": ".join((*place, _said(change, words)))
    return text[:1].upper() + text[1:]


def _said(change: Change, words: Words) -> str:
    match change.what:
        case What.ALLERGEN_ADDED | What.ALLERGEN_REMOVED if change.subject not in _DECLARED:
            return _changed(_field(change.subject, words), change.was, change.now, words)
        case What.ALLERGEN_ADDED:
            return words(f"now_{change.subject}", allergen=change.now)
        case What.ALLERGEN_REMOVED:
            return words(f"gone_{change.subject}", allergen=change.was)
        case What.STEP_ADDED:
            return words("step_added", step=change.now)
        case What.STEP_REMOVED:
            return words("step_removed", step=change.was)
        case What.STEP_MOVED:
            return words("step_moved", step=change.subject, was=change.was, now=change.now)
        case What.STEP_CHANGED:
            return f"{change.subject} " + "; ".join(_step_parts(change, words))
        case What.LOOK:
            return words("look_changed")
        case _:
            return _changed(_field(change.subject, words), change.was, change.now, words)


def _step_parts(change: Change, words: Words) -> Iterator[str]:
    for field, was, now in change.parts:
        plain = field in ("amount", "line")  # these say themselves what they are
        yield _changed("" if plain else _field(field, words), was, now, words)


def _changed(name: str, was: str, now: str, words: Words) -> str:
    if not was:
        text = words("text_added", now=now)
    elif not now:
        text = words("text_removed", was=was)
    else:
        text = words("text_changed", now=now, was=without_common(was, now))
    return f"{name} {text}" if name else text


def without_common(was: str, now: str) -> str:
    """The words of ``was`` that differ: "500" of "to 500 ml" beside "to 480 ml"."""
    old, new = was.split(), now.split()
    start = end = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    return " ".join(old[start : len(old) - end]) or was


def _field(name: str, words: Words) -> str:
    key = f"field_{name}"
    return words(key) if key in words.catalogue else name.replace("_", " ")


def _drinks(changed: Sequence[CardChange], words: Words) -> tuple[Group, ...]:
    """Changes by card name, a line a size; sizes that change alike share a line."""
    by_name: dict[str, dict[str, list[str]]] = {}
    for card in changed:
        texts = [change_text(c, words) for c in card.changes if c.what not in _ALLERGENS]
        if texts:
            sizes = by_name.setdefault(card.name, {}).setdefault("; ".join(texts), [])
            sizes.append(card.size)
    return tuple(
        Group(
            name,
            tuple(
                ": ".join(filter(None, (", ".join(filter(None, sizes)), text)))
                for text, sizes in lines.items()
            ),
        )
        for name, lines in by_name.items()
    )


def _by_station(cards: Sequence[CardChange], words: Words, after: bool) -> tuple[Group, ...]:
    lines: dict[str, list[str]] = {}
    for station, card, entry in _at_stations(cards, after):
        lines.setdefault(station or words("elsewhere"), []).append(
            f"{entry.code}  {words('revision', number=entry.revision)}  {_label(card)}"
            + (f" [{entry.key.language}]" if entry.key.language != words.language else "")
        )
    return tuple(Group(station, tuple(found)) for station, found in sorted(lines.items()))


def _codes_by_station(cards: Sequence[CardChange], after: bool) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for station, _, entry in _at_stations(cards, after):
        found.setdefault(station, []).append({"code": entry.code, "revision": entry.revision})
    return dict(sorted(found.items()))


def _at_stations(
    cards: Iterable[CardChange], after: bool
) -> Iterator[tuple[str, CardChange, Entry]]:
    """Each card once for every station it hangs at; ``after`` says which of its two prints."""
    for card in cards:
        entry = card.after if after else card.before
        assert entry is not None
        for station in card.stations or ("",):
            yield station, card, entry


def _card_json(card: CardChange, words: Words) -> dict[str, Any]:
    key = card.key
    return {
        "status": "new" if not card.before else "changed" if card.after else "withdrawn",
        "code": (card.after or card.before).code,  # type: ignore[union-attr]
        "was_revision": card.before.revision if card.before else None,
        "revision": card.after.revision if card.after else None,
        "kind": key.kind,
        "subject": key.subject,
        "cup": key.cup,
        "language": key.language,
        "name": card.name,
        "size": card.size,
        "stations": list(card.stations),
        "changes": [
            {**asdict(change), "text": change_text(change, words)} for change in card.changes
        ],
    }


def _in_language(cards: Sequence[CardChange], language: str) -> list[CardChange]:
    return [card for card in cards if card.key.language == language] or list(cards)


def _label(card: CardChange) -> str:
    return ", ".join(filter(None, (card.name, card.size)))


def _indented(part: Sequence[str | Group]) -> Iterator[str]:
    for item in part:
        if isinstance(item, str):
            yield f"  {item}"
        else:
            yield f"  {item.title}"
            yield from (f"    {line}" for line in item.lines)
