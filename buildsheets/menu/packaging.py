"""Cups, lids, straws and what else goes out with a drink: checked as they are linked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from buildsheets.menu.schema import ABOVE_0, FROM_0, Entry, Kinds, Record, Ref, Text, key, maybe
from buildsheets.menu.when import SOLD_OUT

Pieces = Annotated[float, Kinds("count")]


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecePack(Record):
    """How packaging is bought."""

    called: ClassVar[str] = "packaging pack"

    pieces: Pieces = key("how many one pack holds: 1000 pieces", "quantity", within=ABOVE_0)
    price: Decimal | None = maybe("price of one pack", within=FROM_0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Packaging(Entry):
    """Something that goes out with a drink and is not food."""

    name: Text = key("what it is called: wide straw")
    kind: Literal["cup", "lid", "straw", "sleeve", "napkin", "other"] = key(
        "cup, lid, straw, sleeve, napkin or other: one that a drink or an add-on names takes the "
        "place of the size's own of its kind; others come on top"
    )
    pack: PiecePack | None = maybe("how it is bought: {quantity: 1000 pieces, price: 38.00}")
    supplier: str = key("who it is ordered from, as it stands on order lists", default="")
    sold_out: bool = key(SOLD_OUT, default=False)


PackagingRef = Annotated[Packaging, Ref("packaging", "packaging")]


def in_place_of(first: Iterable[Packaging], then: Iterable[Packaging]) -> tuple[Packaging, ...]:
    """What goes out when ``then`` is asked for over ``first``: each kind but "other" by the last
    that names it. What is named twice in one list goes out twice."""
    asked = tuple(then)
    kinds = {item.kind for item in asked} - {"other"}
    return (*(item for item in first if item.kind not in kinds), *asked)


def straw_of(items: Iterable[Packaging]) -> Text | None:
    """What the straw among some packaging is called."""
    return next((item.name for item in items if item.kind == "straw"), None)
