"""A card's view in; the digest of all it says and shows, printed identity aside, out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import lru_cache
from typing import Any

from buildsheets.views.cards import View

# A card's identity and a proof's watermark do not change what the card says.
IDENTITY = frozenset({"foot", "watermark", "code"})
DIGEST_CHARACTERS = 32  # 128 bits of SHA-256: no two cards of any shop will meet by chance


def content_digest(view: View) -> str:
    """Digest of the content: equal for views that print the same card, in any process.

    Fields that stand at their default are left out, so that a field added later with a default
    does not make every card of the shop look changed.
    """
    content = {name: value for name, value in _said(view).items() if name not in IDENTITY}
    return digest_of(content)


def print_digest(view: View) -> str:
    """Digest of everything on the card, foot and watermark too: the key of its finished print."""
    return digest_of(view)


def digest_of(value: object) -> str:
    """Digest of frozen dataclasses, tuples, texts and numbers by their canonical JSON."""
    text = json.dumps(value, default=_said, ensure_ascii=False, sort_keys=True, allow_nan=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:DIGEST_CHARACTERS]


def _said(value: object) -> Mapping[str, Any]:
    """A dataclass as a mapping, defaults left out; for JSON, which does the rest itself."""
    if not is_dataclass(value) or isinstance(value, type):
        if isinstance(value, Mapping):
            return dict(value)
        raise TypeError(f"a view holds a {type(value).__name__}, which has no digest")
    said: dict[str, Any] = {}
    for name, default in _fields(type(value)):
        held = getattr(value, name)
        if held is not default and held != default:
            said[name] = held
    return said


@lru_cache(maxsize=256)
def _fields(kind: type) -> tuple[tuple[str, object], ...]:
    """Each field's name and its default; fields without one have a mark equal to nothing."""
    return tuple(
        (
            field.name,
            field.default_factory()
            if field.default_factory is not MISSING
            else field.default,  # MISSING itself is equal to no value a view can hold
        )
        for field in fields(kind)
    )
