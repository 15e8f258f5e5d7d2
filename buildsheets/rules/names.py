"""What a thing is called goes in; the allergens and the gas that its name speaks of come out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from buildsheets.menu.read import LOADER
from buildsheets.menu.schema import Entry, Text


def allergens_named(entry: Entry, name: Text) -> dict[str, str]:
    """The allergens that an entry's id or name says are in it, each with the word that says so."""
    found: dict[str, str] = {}
    for text in _texts(entry, name):
        text = _without_other_things(text)
        for allergen, words in _tables()["allergens"].items():
            word = _first(text, words)
            if word:
                found.setdefault(allergen, word)
    return found


def fizz_named(entry: Entry, name: Text) -> str:
    """The word of an entry's id or name that says it holds gas, or ""."""
    texts = list(_texts(entry, name))
    if any(_first(text, _tables()["still"]) for text in texts):
        return ""
    return next((word for text in texts if (word := _first(text, _tables()["fizzy"]))), "")


def _texts(entry: Entry, name: Text) -> Iterator[str]:
    """Its id and its names as small words with one space between."""
    for text in (entry.id, *name.by_language.values()):
        yield " ".join(re.findall(r"\w+", text.casefold()))


def _without_other_things(text: str) -> str:
    for pattern, made_of in _other_things():
        text = pattern.sub(made_of, text)
    return text


def _first(text: str, words: Iterable[str]) -> str:
    """The first of some words that stands in a text; "" where none does."""
    for word in words:
        found = _pattern(word).search(text)
        if found:
            return found[0]
    return ""


@cache
def _pattern(word: str) -> re.Pattern[str]:
    start = r"\b\w*" if word.startswith("*") else r"\b"
    return re.compile(rf"{start}{re.escape(word.strip('*').casefold())}\b")


@cache
def _other_things() -> tuple[tuple[re.Pattern[str], str], ...]:
    parts = (line.partition(" > ") for line in _tables()["other_things"])
    return tuple((re.compile(rf"\b{thing}\b"), made_of) for thing, _, made_of in parts)


@cache
def _tables() -> Mapping[str, Any]:
    text = Path(__file__).with_name("names.yaml").read_text("utf-8")
    tables: Mapping[str, Any] = yaml.load(text, Loader=LOADER)
    return tables
