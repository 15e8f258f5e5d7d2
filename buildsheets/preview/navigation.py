"""The keys of a menu's cards in; the way to each, in groups by kind, out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from buildsheets.menu.model import Menu
from buildsheets.views.card import CardKey
from buildsheets.views.words import Named, Words


@dataclass(frozen=True, slots=True)
class Way:
    """A link to a card: its words, and what a list of all links calls it."""

    label: str
    key: CardKey


@dataclass(frozen=True, slots=True)
class Entry:
    """Something with cards, such as a drink; ``name`` is "" where its kind says it all."""

    name: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """All cards of a kind."""

    title: str
    entries: tuple[Entry, ...]


def address(key: CardKey) -> str:
    """Where a card's page is."""
    return f"/{key.language}/card/{key.kind}/{key.subject}/{key.cup or '-'}"


def groups(menu: Menu, keys: Iterable[CardKey], language: str, words: Words) -> list[Group]:
    """The cards of a language by kind, then by drink, station or batch."""
    found: dict[str, dict[str, list[CardKey]]] = {}
    for key in keys:
        if key.language == language:
            found.setdefault(key.kind, {}).setdefault(key.subject, []).append(key)
    named: Mapping[str, Mapping[str, Named]] = {
        "station": menu.stations, "build": menu.drinks, "batch": menu.batches,
    }  # fmt: skip

    def entry(kind: str, subject: str, own: list[CardKey]) -> Entry:
        name = words.name(named[kind][subject]) if kind in named else ""
        return Entry(name, tuple(Way(_size(menu, key, words), key) for key in own))

    return [
        Group(words(f"kind_{kind}"), tuple(entry(kind, *one) for one in subjects.items()))
        for kind, subjects in sorted(found.items(), key=lambda one: KINDS.index(one[0]))
    ]


KINDS = ("build", "station", "addons", "batch", "gauge", "allergens", "words")


def _size(menu: Menu, key: CardKey, words: Words) -> str:
    """What tells the cards of one thing apart: the cup, or the scale of a batch."""
    if key.cup in menu.cups:
        return words.name(menu.cups[key.cup])
    return words.get(f"prep_scale_{key.cup}", key.cup) if key.cup else words(f"kind_{key.kind}")
