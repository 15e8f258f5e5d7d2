"""A card's key and its view in; the pair that the whole editions room works on out."""

from __future__ import annotations

from dataclasses import Field, dataclass, replace
from typing import Any, ClassVar, Protocol

from buildsheets.views.cardkey import CardKey
from buildsheets.views.views import Foot


class View(Protocol):
    """Any frozen view dataclass with a foot; its other fields are the card's content."""

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    @property
    def foot(self) -> Foot: ...


@dataclass(frozen=True, slots=True)
class Card:
    """One card: its stable key, and all that is printed on it."""

    key: CardKey
    view: View


def with_foot(card: Card, foot: Foot) -> Card:
    """The same card under another printed identity."""
    identity: dict[str, Any] = {"foot": foot}
    if "code" in card.view.__dataclass_fields__:
        identity["code"] = foot.code
    return Card(card.key, replace(card.view, **identity))


SIZE_FIELDS = ("scale", "size_name", "cup_name")
"""Where a view says which size it is for, the plainest words first."""


def label(view: View) -> str:
    """What people call the card, in one line: its title or station, and its size or scale."""
    title = getattr(view, "title", "") or getattr(getattr(view, "station", None), "name", "")
    size = next((found for name in SIZE_FIELDS if (found := getattr(view, name, ""))), "")
    return ", ".join(part for part in (title, size) if part)
