"""The menus of the project go in; small ones, each a drink and all it names, come out."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import menu_samples as m

TESTS = Path(__file__).parents[1]
WHOLE = ("shop", "edition", "options")
"""Sections that are kept whole: they have no entries by name."""
WORD = re.compile(r"[a-z][a-z0-9-]*")


@cache
def seeds() -> tuple[str, ...]:
    """One small menu a drink of every menu in the tests, the demo's and the small one's too."""
    files = sorted([*TESTS.glob("menus/*.yaml"), *TESTS.glob("wall/menus/*.yaml")])
    menus = [m.SMALL, "\n".join(m.demo().values()), *(file.read_text("utf-8") for file in files)]
    return tuple(dict.fromkeys(one for menu in menus for one in _small_menus(menu)))


def _small_menus(menu: str) -> list[str]:
    """The menu once for each of its drinks, with what this names, and half of them with a day."""
    sections = {name: _entries(name, text) for name, text in _sections(menu).items()}
    found = []
    for number, drink in enumerate(sections["drinks"]):
        kept = {("drinks", drink)}
        if number % 2:
            kept |= {("days", day) for day in [*sections.get("days", ())][:1]}
        kept |= {(name, one) for name in WHOLE for one in sections.get(name, ())}
        kept |= {("batches", one) for one in [*sections.get("batches", ())][:1]}
        while more := _named(sections, kept) - kept:
            kept |= more
        small = "".join(
            f"{name}:\n" + "".join(text for one, text in entries.items() if (name, one) in kept)
            for name, entries in sections.items()
            if any(where == name for where, _ in kept)
        )
        found.append(re.sub(rf"\n +- {{drink: (?!{drink}\b).*(?:\n {{8,}}.*)*", "", small))
    return found


def _named(sections: dict[str, dict[str, str]], kept: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """What the kept entries name, but no further drinks and days."""
    words = {
        word
        for name, one in kept
        if name not in WHOLE
        for word in WORD.findall(sections[name][one])
    }
    return {
        (name, one)
        for name, entries in sections.items()
        if name not in ("drinks", "days", "allow")
        for one in entries
        if one in words
    }


def _sections(menu: str) -> dict[str, str]:
    """The text below each section's name; a section in two files has the entries of both."""
    found: dict[str, str] = {}
    name = ""
    for line in menu.splitlines(keepends=True):
        if re.match(r"[a-z_]+:", line):
            name, _, rest = line.partition(":")
            if rest.split("#")[0].strip():  # `options: {...}` on one line
                line = f"  {rest.strip()}\n"
            else:
                continue
        if name and line.strip() and not line.lstrip().startswith("#"):
            found[name] = found.get(name, "") + line
    return found


def _entries(name: str, text: str) -> dict[str, str]:
    """The entries of a section by their names; one that has none as a whole."""
    if name in WHOLE or not re.match(r"  [a-z]", text):
        return {"": text}
    found: dict[str, str] = {}
    one = ""
    for line in text.splitlines(keepends=True):
        if match := re.match(r"  ([^\s:#-][^\s:]*):", line):
            one = match[1]
        found[one] = found.get(one, "") + line
    return found
