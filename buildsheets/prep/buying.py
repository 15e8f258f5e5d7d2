"""Uses of ingredients go in; what to buy, in whole packs with their prices, comes out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from buildsheets.menu.model import Ingredient, Menu, Packaging
from buildsheets.prep.batches import PackNeed, pack_need
from buildsheets.prep.yields import packs_for


class Use(NamedTuple):
    """One use of an ingredient: grams, and ml without air or gaps where they are known."""

    mass_g: float
    volume_ml: float | None


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is needed of an ingredient in grams, or of packaging in pieces, and whole packs with
    what they leave."""

    ingredient: Ingredient | Packaging
    mass_g: float | None
    packs: PackNeed | None
    cost: Decimal | None  # of the whole packs
    pieces: int | None = None


def purchases(
    menu: Menu, uses: Mapping[str, Sequence[Use]], pieces: Mapping[str, int]
) -> tuple[Purchase, ...]:
    """All uses by ingredient id, then the pieces of packaging by id, in the order of the menu;
    water on tap is not bought."""
    bought = (
        _purchase(item, uses[id_])
        for id_, item in menu.ingredients.items()
        if id_ in uses and not item.on_tap
    )
    return (*bought, *_packaging(menu, pieces))


def _packaging(menu: Menu, pieces: Mapping[str, int]) -> Iterator[Purchase]:
    for id_, item in menu.packaging.items():
        if id_ not in pieces:
            continue
        count, pack = pieces[id_], item.pack
        if pack is None:
            yield Purchase(item, None, None, None, count)
            continue
        packs, left = packs_for(count, pack.pieces)
        need = PackNeed(count, "piece", pack.pieces, pack.pieces, packs, left)
        cost = None if pack.price is None else pack.price * packs
        yield Purchase(item, None, need, cost, count)


def _purchase(item: Ingredient, uses: Sequence[Use]) -> Purchase:
    """In whole packs; ml are known only while every use's are."""
    mass_g = sum(use.mass_g for use in uses)
    known = [use.volume_ml for use in uses if use.volume_ml is not None]
    packs = pack_need(item, mass_g, sum(known) if len(known) == len(uses) else None)
    price = None if item.pack is None else item.pack.price
    cost = None if packs is None or price is None else price * packs.count
    return Purchase(item, mass_g, packs, cost)
