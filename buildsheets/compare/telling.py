"""A comparison and a language's words in; lines as a shop would say them, and JSON, out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any

from buildsheets.compare.change import ALLERGENS, Change, What
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.safety import is_safety, new_name, safety
from buildsheets.compare.wall import KINDS, Group, of_portions, wall, wall_notes, wall_title
from buildsheets.compare.wording import (
    capital,
    change_text,
    edition_name,
)
from buildsheets.views.words import Words

_CAME_OR_WENT = (What.ADDED, What.REMOVED, What.FOR_MORE, What.FOR_FEWER)
_FOLLOWING = ("station", "gauge", "allergens")
"""Kinds of card that say again, of each drink, what its build card says."""


@dataclass(frozen=True, slots=True)
class Section:
    """All that is told of one kind of card."""

    title: str
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A comparison in words: allergens and cautions first, then what came and went, then each kind
    of card; last what to hang up and take down, station by station."""

    title: str
    begins: str
    safety: tuple[str, ...]
    new: tuple[str, ...]
    withdrawn: tuple[str, ...]
    changed: tuple[Section, ...]
    wall_title: str
    wall_notes: tuple[str, ...]
    wall: tuple[Group, ...]


def tell(comparison: Comparison, words: Words) -> Told:
    """The comparison in words, told once: from the cards in the words' language if any are."""
    cards = _in_language(comparison.cards, words.language)
    begins = comparison.after.valid_from
    same = comparison.before.code == comparison.after.code  # the menu goes by the code it had
    return Told(
        title=words(
            "changes_title",
            before=edition_name(comparison.before, words.language),
            after=words("changes_now") if same else edition_name(comparison.after, words.language),
        ),
        begins=words("changes_begin", day=words.date(begins)) if begins and cards else "",
        safety=safety([card for card in cards if card.after], comparison, words),
        new=_names((card for card in cards if not card.before), words),
        withdrawn=_names((card for card in cards if not card.after), words),
        changed=_sections(cards, comparison, words),
        wall_title=wall_title(comparison, words),
        wall_notes=wall_notes(comparison, words),
        wall=wall(comparison, words),
    )


def as_text(told: Told, words: Words) -> str:
    """The comparison as a text for a terminal or a message to the team."""
    lines = [told.title, *filter(None, [told.begins]), ""]
    lists = (
        ("changes_safety", told.safety),
        ("changes_new", told.new),
        ("changes_withdrawn", told.withdrawn),
    )
    for key, names in lists:
        if names:
            lines += [words(key), *_indented(names), ""]
    for section in told.changed:
        lines += [section.title, *_indented(section.groups), ""]
    if told.wall:
        lines += [told.wall_title, *_indented(told.wall_notes), *_indented(told.wall), ""]
    else:
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


def _sections(
    cards: Sequence[CardChange], comparison: Comparison, words: Words
) -> tuple[Section, ...]:
    """Changes by kind of card, then by its name; those told as safety are not told again."""
    fates, resized = _fates(cards), _resized(cards)
    found = []
    for kind in KINDS:
        named: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
        for card in cards:
            if card.key.kind != kind or not card.after:
                continue
            name = card.name if card.before else new_name(card, comparison, words)
            cup = card.key.cup
            lines = tuple(
                _card_lines(card, fates.get(cup, {}), resized.get(cup, frozenset()), words)
            )
            if lines:
                named.setdefault(name, []).append((card.size, lines))
        if named:
            groups = _alike(Group(name, _by_size(sized)) for name, sized in named.items())
            title = words("changes_changed", kind=words(f"kind_{kind}"))
            found.append(Section(title, groups))
    return tuple(found)


def _alike(groups: Iterable[Group]) -> tuple[Group, ...]:
    """Names of which all the same is told, under one heading."""
    titles: dict[tuple[str, ...], list[str]] = {}
    for group in groups:
        titles.setdefault(group.lines, []).append(group.title)
    return tuple(Group(", ".join(names), lines) for lines, names in titles.items())


def _by_size(cards: Iterable[tuple[str, tuple[str, ...]]]) -> tuple[str, ...]:
    """Size after size; those of which all the same is told together."""
    sizes: dict[tuple[str, ...], list[str]] = {}
    for size, lines in cards:
        sizes.setdefault(lines, []).append(size)
    return tuple(
        f"{', '.join(named)}: {line}" if any(named) else line
        for lines, named in sizes.items()
        for line in lines
    )


class _Fate(StrEnum):
    """What became of a drink."""

    CHANGED = "changed"
    SAFETY = "safety"  # only its allergens or cautions changed
    NEW = "new"
    GONE = "gone"


_Fates = Mapping[str, _Fate]


def _fates(cards: Iterable[CardChange]) -> Mapping[str, _Fates]:
    """What became of each drink whose build card differs, by cup; under "" for cards of all cups,
    where a drink of several fates has changed."""
    found: dict[str, dict[str, _Fate]] = {}
    for card in cards:
        if card.key.kind != "build":
            continue
        fate = _fate(card)
        found.setdefault(card.key.cup, {})[card.name] = fate
        overall = found.setdefault("", {})
        overall[card.name] = fate if overall.get(card.name, fate) is fate else _Fate.CHANGED
    return found


def _fate(card: CardChange) -> _Fate:
    if not card.after:
        return _Fate.GONE
    if not card.before:
        return _Fate.NEW
    return _Fate.SAFETY if all(is_safety(c, "build") for c in card.changes) else _Fate.CHANGED


def _resized(cards: Iterable[CardChange]) -> dict[str, frozenset[str]]:
    """Add-ons of which another amount goes in, by cup, as their add-on card tells."""
    return {
        card.key.cup: frozenset(
            change.where[-1]
            for change in card.changes
            if change.what is What.TEXT and change.where and not change.subject
        )
        for card in cards
        if card.key.kind == "addons"
    }


def _card_lines(
    card: CardChange, fates: _Fates, resized: Collection[str], words: Words
) -> Iterator[str]:
    """A card's changes, but for those that follow from drinks told of already: these are named.
    Of a new build card, its steps."""
    if not card.before:
        steps = [change.now for change in card.changes if change.what is What.STEP_ADDED]
        if steps:
            yield " / ".join(steps)
        return
    kind = card.key.kind
    following: dict[str, set[What]] = {}
    own: list[Change] = []
    on_add_on_card = False
    for change in card.changes:
        if change.drinks and all(_follows(change, fates.get(d), kind) for d in change.drinks):
            for drink in change.drinks:
                following.setdefault(drink, set()).add(change.what)
        elif change.subject == "amount" and change.where and change.where[0] in resized:
            on_add_on_card = True
        elif not is_safety(change, kind):
            own.append(change)
    if any(map(of_portions, own)):
        alone = all(map(of_portions, card.changes))
        yield capital(words("portions_only" if alone else "portions_changed"))
    for change in _together([change for change in own if not of_portions(change)]):
        yield change_text(change, words)
    if following:
        yield capital(_following(following, fates, kind, words))
    elif not own:
        yield capital(words("add_ons_only" if on_add_on_card else "safety_only"))


def _following(following: Mapping[str, set[What]], fates: _Fates, kind: str, words: Words) -> str:
    """The drinks of which a card says again what is told elsewhere, by where that is."""
    named: dict[str, list[str]] = {}
    for drink, whats in following.items():
        named.setdefault(_as_told(whats, fates.get(drink), kind), []).append(drink)
    return "; ".join(
        words(key, what=", ".join(named[key]))
        for key in ("follows", "follows_safety", "added", "removed")
        if key in named
    )


def _follows(change: Change, fate: _Fate | None, kind: str) -> bool:
    """Whether a card's change for a drink is told elsewhere: with the drink, or as safety."""
    if change.what in ALLERGENS:
        return True
    if fate in (None, _Fate.SAFETY):
        return False
    return kind in _FOLLOWING or fate is not _Fate.CHANGED


def _as_told(whats: set[What], fate: _Fate | None, kind: str) -> str:
    """Where a card's changes for a drink are told: the key of the words that say so."""
    if kind == "station" and whats in ({What.ADDED}, {What.REMOVED}):
        return "added" if What.ADDED in whats else "removed"  # its row came or went
    if fate in (_Fate.NEW, _Fate.GONE) and whats <= {*_CAME_OR_WENT}:
        return "added" if fate is _Fate.NEW else "removed"
    return "follows_safety" if whats <= {*ALLERGENS} else "follows"


def _together(changes: Sequence[Change]) -> list[Change]:
    """Items that came to one place, or went from it, as one change."""
    found: dict[object, Change] = {}
    for place, change in enumerate(changes):
        plain = change.what in (What.ADDED, What.REMOVED) and not change.now
        alike = plain or change.what in (What.FOR_MORE, What.FOR_FEWER)
        key = (change.what, change.where, change.now) if alike else place
        known = found.get(key)
        subject = change.subject
        if known:
            subject = f"{known.subject.removesuffix('.')}, {subject}"
        found[key] = replace(change, subject=subject)
    return list(found.values())


def _names(cards: Iterable[CardChange], words: Words) -> tuple[str, ...]:
    """Each drink or other card once, with its sizes."""
    sizes: dict[str, list[str]] = {}
    for card in cards:
        name = card.name
        if card.key.kind != "build":
            name = f"{capital(words(f'kind_{card.key.kind}'))}: {card.name}"
        sizes.setdefault(name, []).append(card.size)
    return tuple(", ".join(filter(None, (name, *named))) for name, named in sizes.items())


def _codes_by_station(cards: Sequence[CardChange], after: bool) -> dict[str, list[dict[str, Any]]]:
    """Each card once for every station it hangs at; ``after`` says which of its two prints."""
    found: dict[str, list[dict[str, Any]]] = {}
    for card in cards:
        entry = card.after if after else card.before
        assert entry is not None
        for station in card.stations or ("",):
            found.setdefault(station, []).append({"code": entry.code, "revision": entry.revision})
    return dict(sorted(found.items()))


def _card_json(card: CardChange, words: Words) -> dict[str, Any]:
    key = card.key
    return {
        "status": "new" if not card.before else "changed" if card.after else "withdrawn",
        "code": card.entry.code,
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


def _indented(part: Sequence[str | Group]) -> Iterator[str]:
    for item in part:
        if isinstance(item, str):
            yield f"  {item}"
        else:
            yield f"  {item.title}"
            yield from (f"    {line}" for line in item.lines)
