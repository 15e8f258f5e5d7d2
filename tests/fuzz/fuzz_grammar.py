"""The keys of the menu's records go in; values that they may hold, or nearly, come out.

Nothing here lists a key: a record that gains one is hurt at it from that day on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from random import Random
from typing import Any, get_args, get_origin

import yaml

from buildsheets.menu.model import BY_ID, Menu
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.schema import (
    BySize,
    Id,
    Key,
    Kinds,
    Range,
    Record,
    Ref,
    Text,
    alternatives,
    bare,
    is_record,
    keys_of,
)
from buildsheets.menu.units import UNITS
from buildsheets.menu.values import choices_of

Data = str | list[Any] | dict[str, Any]
"""A menu as YAML's simplest reader gives it: texts, lists and mappings."""

Path = tuple[str | int, ...]

SPELLINGS = sorted(UNITS)
NUMBERS = (
    *("0", "1", "2", "5", "10", "30", "60", "100", "250", "0.5", "1/2", "½", "1 1/2", "0.001"),
    *("-1", "-0", "1e9", "1e400", "nan", "inf", "999999999999999", "9" * 16, "9" * 400, "1,5"),
    *("1.000,5", "٣", "²", "1_000", "0x10", "1/0", "0/0", "1/3", "00012", "+3", "1.", ".5", "--1"),
)
WORDS = (
    *("", "~", "null", "no", "yes", "[]", "{}", "x", "medium", "milk", "cubes", "none", "nobody"),
    *("2026-12-31", "0001-01-01", "9999-12-31", "2026-02-30", "07:00", "24:00", "07:00 to 11:00"),
    *("12:30 to 12:30", "23:59 to 00:01", "monday", "en", "zh-Hant", "xx-yy-zz", "EUR", "XXX"),
    *("Europe/Madrid", "Mars/Base", "../../etc/passwd", "/dev/null", "con", "nul", "javascript:x"),
    *("https://[::1", "https://x.example", "#0b5563", "#fff", "A5", "A4", "99999x99999", "all"),
    *("café", "漢字", "\u202e", "\u00a0", "\ufe0f", "\x07", "\ud7ff", "🍵", "a" * 300, "{{ 1/0 }}"),
    *("<script>", "&amp;", "%s", "\\", "'", '"', ": ", "- a", "? a", "*a", "&a b", "!!int 3", "|"),
    *("cloud", "settled", "floated", "swimming", "on-wall", "shaker", "blender", "strained"),
    *("hot", "iced", "lid", "stir", "blend", "FIT01", "NUT01", "ALG01", "12 pieces", "1 pack"),
)


@cache
def reader() -> Any:
    """YAML as texts alone, by libyaml where it is there."""
    return getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@dataclass(frozen=True, slots=True)
class Site:
    """A mapping of a menu that a record is read from."""

    path: Path
    record: type[Record]


def sites(menu: Data) -> list[Site]:
    """Every record in a menu, by what the keys on the way to it say."""
    return list(_sites(Menu, menu, ()))


def _sites(hint: Any, data: Data, path: Path) -> Iterator[Site]:
    kinds = [kind for kind in alternatives(hint) if is_record(kind)]
    plain, _ = bare(alternatives(hint)[0])
    origin, args = get_origin(plain), get_args(plain)
    if kinds and isinstance(data, dict):
        tagged = [one for one in kinds if one.tag_key and one.tag_key in data]
        record = (tagged or kinds)[0]
        yield Site(path, record)
        for name, key in keys_of(record).items():
            if name in data:
                yield from _sites(key.hint, data[name], (*path, name))
    elif origin is tuple:
        for number, item in enumerate(data if isinstance(data, list) else []):
            yield from _sites(args[0], item, (*path, number))
    elif origin in (BySize, Mapping) and isinstance(data, dict):
        for name, value in data.items():
            yield from _sites(args[-1], value, (*path, name))


def names(menu: Data) -> dict[str, list[str]]:
    """The names that stand in each section."""
    sections = menu if isinstance(menu, dict) else {}
    return {name: [*section] for name, section in sections.items() if isinstance(section, dict)}


@dataclass(frozen=True, slots=True)
class Grammar:
    """Values of any key, by chance; ``known`` are the names to refer to."""

    random: Random
    known: Mapping[str, list[str]]

    def value(self, key: Key, depth: int = 0) -> Data:
        """A value of one key: mostly of a kind it takes, within its bounds or at them."""
        return self.of(self.random.choice(alternatives(key.hint)), key.within, depth)

    def of(self, hint: Any, within: Range | None, depth: int) -> Data:
        random = self.random
        plain, notes = bare(hint)
        if random.random() < 0.06 or depth > 5:
            return random.choice(WORDS)
        if refs := [note for note in notes if isinstance(note, Ref)]:
            sections = [one for one in refs[0].sections if self.known.get(one)]
            pool = self.known[random.choice(sections)] if sections else WORDS
            return random.choice(pool)
        if is_record(plain):
            return self.record(plain, depth)
        origin, args = get_origin(plain), get_args(plain)
        if origin is tuple:
            kinds = alternatives(args[0])
            return [
                self.of(random.choice(kinds), within, depth + 1)
                for _ in range(random.choice((0, 1, 1, 2, 3)))
            ]
        if origin is Mapping or (origin is BySize and random.random() < 0.5):
            sections = [one for one in BY_ID if self.known.get(one)]
            cups = self.known.get("cups", []) if origin is BySize else []
            pool = cups or (self.known[random.choice(sections)] if sections else ["x", "y"])
            picked = random.sample(pool, min(len(pool), random.choice((0, 1, 1, 2))))
            return {one: self.of(args[-1], within, depth + 1) for one in picked}
        if origin is BySize:
            return self.of(args[0], within, depth + 1)
        if plain is Text:
            text = random.choice(WORDS)
            return (
                {random.choice(("en", "es", "de", "xx")): text} if random.random() < 0.3 else text
            )
        if words := choices_of(plain):
            return random.choice(words)
        kinds_taken = next((note.names for note in notes if isinstance(note, Kinds)), ())
        if kinds_taken or plain is Quantity:
            return self.amount(kinds_taken, within)
        if plain in (int, float, Decimal):
            return self.number(within)
        if plain is date:
            return (
                f"202{random.randint(0, 9)}-{random.randint(1, 12):02}-{random.randint(1, 28):02}"
            )
        if plain is bool:
            return random.choice(("yes", "no"))
        if Id() in notes:
            return random.choice(("a", "b-1", "cloud", "x" * 60, "con"))
        return random.choice(WORDS)

    def record(self, record: type[Record], depth: int) -> dict[str, Data]:
        """A record with the keys it needs, or most of them, and some others."""
        often = 0.15 if depth else 0.3
        return {
            name: self.value(key, depth + 1)
            for name, key in keys_of(record).items()
            if self.random.random() < (0.95 if key.required or name == record.tag_key else often)
        }

    def number(self, within: Range | None) -> str:
        random = self.random
        if within is not None and random.random() < 0.4:
            most = within.most if within.most < 1e15 else within.least + 10
            return f"{random.choice((within.least, most, (within.least + most) / 2)):g}"
        return random.choice(NUMBERS)

    def amount(self, kinds: tuple[str, ...], within: Range | None) -> str:
        units = [
            spelling
            for spelling in SPELLINGS
            if not kinds or UNITS[spelling].kind in kinds or UNITS[spelling].name in kinds
        ]
        unit = self.random.choice(units if units and self.random.random() < 0.95 else SPELLINGS)
        return f"{self.number(within)} {unit}"
