"""Two editions in; what changed, card by card, what to reprint and what to pull, out.

Nothing here is in words for a reader: a change keeps the two texts and what they are texts of.
:mod:`buildsheets.compare.sentences` says it in the shop's words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from buildsheets.compare.change import Change, What
from buildsheets.compare.changes import brought_by, changes_between
from buildsheets.ledger.card_texts import (
    CardTexts,
    card_texts,
    name_of,
    size_of,
    stations_of,
    with_names,
)
from buildsheets.ledger.ledger import Entry, Ledger, PublishedEdition
from buildsheets.ledger.publish import EditionCards
from buildsheets.views.card import CardKey


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a comparison: an edition's entries by code, and what each card says."""

    code: str
    names: Mapping[str, str]
    valid_from: date | None
    entries: Mapping[str, Entry]
    texts: Mapping[str, CardTexts]


NOWHERE = Side("", {}, None, {}, {})
"""The side before the first edition: no card."""


def side_of_edition(ledger: Ledger, edition: PublishedEdition) -> Side:
    """A published edition as a side of a comparison."""
    texts = {entry.code: ledger.texts(entry) for entry in edition.entries}
    return Side(edition.code, edition.names, edition.valid_from, edition.by_code(), texts)


def side_of_cards(cards: EditionCards) -> Side:
    """The menu as it stands now as a side of a comparison."""
    edition = cards.edition
    return Side(
        edition.code,
        edition.name.by_language,
        edition.valid_from,
        {one.entry.code: one.entry for one in cards.cards},
        {one.entry.code: card_texts(one.card.view) for one in cards.cards},
    )


@dataclass(frozen=True, slots=True)
class CardChange:
    """A card on one or both sides: ``before`` is ``None`` for a new one, ``after`` for one gone.

    The ``changes`` of a new card are the allergens and cautions it brings.
    """

    before: Entry | None
    after: Entry | None
    name: str
    size: str
    stations: tuple[str, ...]
    changes: tuple[Change, ...] = ()

    @property
    def entry(self) -> Entry:
        """The card as it is now, or as it was when it is gone."""
        entry = self.after or self.before
        assert entry is not None
        return entry

    @property
    def key(self) -> CardKey:
        return self.entry.key


@dataclass(frozen=True, slots=True)
class Comparison:
    """All cards that differ, sorted by name, size and code; ``stay`` counts those that do not.

    ``stations`` has the names of the stations with cards, by id and language, and ``labels`` what
    people call each card of either side.
    """

    before: Side
    after: Side
    cards: tuple[CardChange, ...]
    stations: Mapping[tuple[str, str], str]
    labels: Mapping[CardKey, str]
    stay: int

    @property
    def reprint(self) -> tuple[CardChange, ...]:
        """Cards to print and hang up: the new and the changed."""
        return tuple(card for card in self.cards if card.after)

    @property
    def pull(self) -> tuple[CardChange, ...]:
        """Cards to take down: the changed and the withdrawn."""
        return tuple(card for card in self.cards if card.before)


def compare(before: Side, after: Side) -> Comparison:
    """What differs between two editions, or between an edition and the menu."""
    found, stay = [], 0
    renamed_drinks, renamed_stations = (
        _renamed(before, after, kind) for kind in ("build", "station")
    )
    for code in before.entries.keys() | after.entries.keys():
        old, new = before.entries.get(code), after.entries.get(code)
        if old and new and old.digest == new.digest:
            stay += 1
            continue
        texts = after.texts[code] if new else before.texts[code]
        changes: Sequence[Change] = ()
        if new and old:
            language = new.key.language
            drinks = {} if new.key.kind == "build" else renamed_drinks.get(language, {})
            stations = renamed_stations.get(language, {})
            changes = _changes(before.texts[code], texts, drinks, stations)
        elif new:
            changes = brought_by(texts)
        names = name_of(texts), size_of(texts), stations_of(texts)
        found.append(CardChange(old, new, *names, tuple(changes)))
    found.sort(key=lambda card: (card.name, card.key))
    entries = [(side, entry) for side in (before, after) for entry in side.entries.values()]
    labels = {entry.key: entry.label for _, entry in entries}
    station_names = {
        (entry.key.subject, entry.key.language): name_of(side.texts[entry.code])
        for side, entry in entries
        if entry.key.kind == "station"
    }
    return Comparison(before, after, tuple(found), station_names, labels, stay)


def _renamed(before: Side, after: Side, kind: str) -> dict[str, dict[str, str]]:
    """Names before and after, by language, of what the cards of a kind are of: drinks, stations."""
    found: dict[str, dict[str, str]] = {}
    for code, entry in after.entries.items():
        if entry.key.kind == kind and code in before.entries:
            was, now = name_of(before.texts[code]), name_of(after.texts[code])
            if was != now:
                found.setdefault(entry.key.language, {})[was] = now
    return found


def _changes(
    was: CardTexts, now: CardTexts, drinks: Mapping[str, str], stations: Mapping[str, str]
) -> list[Change]:
    """Changes of a card; a new name of a drink or a station on it once, and not as another."""
    known = with_names(was, {**drinks, **stations})
    found = changes_between(known, now)
    if known == was:
        return found
    named = [
        Change(What.RENAMED, new, old, new, drinks=(new,) if old in drinks else ())
        for old, new in (*drinks.items(), *stations.items())
        if with_names(was, {old: new}) != was
    ]
    return [*named, *(change for change in found if change.what is not What.LOOK)]
