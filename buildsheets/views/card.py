"""A card's key and view in; its name, its printed identity and the digest of what it says out."""

from __future__ import annotations

import hashlib
import json
import pickle
import zlib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import lru_cache
from typing import Any

from buildsheets.menu.model import Menu
from buildsheets.views.types import Foot, View
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True, order=True)
class CardKey:
    """A card's place in the menu: kind, subject id (drink, station, batch), cup id, language.

    ``cup`` is "" for cards that are not made per size; for batch cards it holds the scale.
    """

    kind: str  # "build", "station", "batch", "addons", "allergens", "gauge", "words"
    subject: str
    cup: str
    language: str


class Card:
    """One card: its stable key, and all that is printed on it, which is read anew whenever it is
    asked for. Held so it takes a tenth of the memory, and menus have thousands."""

    __slots__ = ("_packed", "key")

    def __init__(self, key: CardKey, view: View) -> None:
        self.key = key
        self._packed = zlib.compress(pickle.dumps(view, pickle.HIGHEST_PROTOCOL), 1)

    @property
    def view(self) -> View:
        found: View = pickle.loads(zlib.decompress(self._packed))
        return found

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Card) and (self.key, self.view) == (other.key, other.view)

    def __hash__(self) -> int:
        return hash(self.key)

    def __repr__(self) -> str:
        return f"Card({self.key!r}, {self.view!r})"


SIZE_FIELDS = ("scale", "size_name", "cup_name")
"""Where a view says which size it is for, the plainest words first."""


def label(view: View) -> str:
    """What people call the card, in one line: its title or station, and its size or scale."""
    title = getattr(view, "title", "") or getattr(getattr(view, "station", None), "name", "")
    size = next((found for name in SIZE_FIELDS if (found := getattr(view, name, ""))), "")
    return ", ".join(part for part in (title, size) if part)


def office_foot(words: Words, menu: Menu, code: str) -> Foot:
    """The foot of a sheet that belongs to no edition: shop, season and the local code note."""
    edition, shop, note = words.name(menu.edition), words.name(menu.shop), words("follow_code")
    return Foot(code=code, edition=edition, local_code_note=note, shop=shop)


# A card's identity and a proof's watermark do not change what the card says, nor does the order in
# which a gauge strip's drinks go on several cards.
IDENTITY = frozenset({"foot", "watermark", "code", "by_drink"})
DIGEST_CHARACTERS = 32  # 128 bits of SHA-256: no two cards of any shop will meet by chance


def content_digest(view: View) -> str:
    """Digest of the content: equal for views that print the same card, in any process.

    Fields that stand at their default are left out, so that a field added later with a default
    does not make every card of the shop look changed.
    """
    return digest_of({name: v for name, v in _content(view).items() if name not in IDENTITY})


def digest_of(value: object) -> str:
    """Digest of frozen dataclasses, tuples, texts and numbers by their canonical JSON."""
    text = json.dumps(value, default=_content, ensure_ascii=False, sort_keys=True, allow_nan=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:DIGEST_CHARACTERS]


def _content(value: object) -> dict[str, Any]:
    """A dataclass as a mapping, defaults left out; for JSON, which does the rest itself."""
    if isinstance(value, Mapping):
        return dict(value)
    if not is_dataclass(value) or isinstance(value, type):
        raise TypeError(f"a view holds a {type(value).__name__}, which has no digest")
    held = ((name, getattr(value, name), default) for name, default in _fields(type(value)))
    return {name: v for name, v, default in held if v is not default and v != default}


@lru_cache(maxsize=256)
def _fields(kind: type) -> list[tuple[str, object]]:
    """Each field's name and its default; ``MISSING`` is equal to no value a view can hold."""
    return [
        (f.name, f.default if f.default_factory is MISSING else f.default_factory())
        for f in fields(kind)
    ]
