"""Uses of ingredients, packaging and what is on hand go in; what to buy, in whole packs, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from buildsheets.menu.model import Ingredient, Menu, Packaging
from buildsheets.prep.batches import PackNeed, pack_need
from buildsheets.prep.stock import OnHand, Stock, up_to
from buildsheets.prep.yields import packs_for


class Use(NamedTuple):
    """One use of an ingredient: grams, and ml without air or gaps where they are known."""

    mass_g: float
    volume_ml: float | None


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is needed of an ingredient in grams, or of packaging in pieces, and whole packs with
    what they leave.

    ``have`` is what can be used of what was counted; packs, cost and what is left are then of what
    it falls short. Of what has no pack, ``short`` is what to buy, in grams or pieces.
    """

    ingredient: Ingredient | Packaging
    mass_g: float
    packs: PackNeed | None
    cost: Decimal | None  # of the whole packs
    have: OnHand | None = None
    pieces: int | None = None  # of packaging, which has no grams

    @property
    def weighed_g(self) -> float | None:
        """What is needed of it, unless it is counted in pieces."""
        return self.mass_g if self.pieces is None else None

    @property
    def need(self) -> float:
        """Grams, or pieces of packaging."""
        return self.mass_g if self.pieces is None else float(self.pieces)

    @property
    def short(self) -> float:
        """Grams or pieces to buy where there is no pack."""
        return max(0.0, self.need - (self.have.usable if self.have is not None else 0.0))

    @property
    def enough(self) -> bool:
        """Whether nothing has to be bought."""
        return self.short == 0.0 if self.packs is None else self.packs.count == 0


@dataclass(frozen=True, slots=True)
class Order:
    """What to buy of one supplier ("" where none is named), and what of it has a price costs."""

    supplier: str
    lines: tuple[Purchase, ...]

    @property
    def cost(self) -> Decimal:
        return sum((one.cost for one in self.lines if one.cost is not None), Decimal(0))

    @property
    def unpriced(self) -> tuple[Ingredient | Packaging, ...]:
        return tuple(one.ingredient for one in self.lines if one.cost is None)


def purchases(
    menu: Menu, uses: Mapping[str, Sequence[Use]], pieces: Mapping[str, int] | None = None
) -> tuple[Purchase, ...]:
    """All uses by ingredient id, then the pieces of packaging by id, in the order of the menu;
    water on tap is not bought."""
    bought = (
        _purchase(item, uses[id_])
        for id_, item in menu.ingredients.items()
        if id_ in uses and not item.on_tap
    )
    return (*bought, *_packaging(menu, pieces or {}))


def _packaging(menu: Menu, pieces: Mapping[str, int]) -> Iterator[Purchase]:
    for id_, item in menu.packaging.items():
        if id_ in pieces:
            count, pack = pieces[id_], item.pack
            need = None
            if pack is not None:
                need = PackNeed(count, "piece", pack.pieces, pack.pieces, 0, 0.0)
            yield _bought(Purchase(item, 0.0, need, None, pieces=count))


def _purchase(item: Ingredient, uses: Sequence[Use]) -> Purchase:
    """In whole packs; ml are known only while every use's are."""
    mass_g = sum(use.mass_g for use in uses)
    known = [use.volume_ml for use in uses if use.volume_ml is not None]
    packs = pack_need(item, mass_g, sum(known) if len(known) == len(uses) else None)
    return _bought(Purchase(item, mass_g, packs, None))


def together(days: Iterable[Iterable[Purchase]]) -> tuple[Purchase, ...]:
    """What several days need of each thing, in packs of all days."""
    found: dict[str, Purchase] = {}
    for one in (one for purchases in days for one in purchases):
        if (other := found.get(one.ingredient.id)) is not None:
            packs = None
            if one.packs is not None and other.packs is not None:
                packs = replace(one.packs, need=one.packs.need + other.packs.need)
            pieces = None if one.pieces is None else one.pieces + (other.pieces or 0)
            mass_g = one.mass_g + other.mass_g
            one = replace(one, mass_g=mass_g, pieces=pieces, packs=packs)
        found[one.ingredient.id] = _bought(one)
    return tuple(found.values())


def less_stock(needs: Iterable[Purchase], on_hand: Stock, at: datetime) -> tuple[Purchase, ...]:
    """What to buy beside what is on hand and can still be used at a moment."""
    there = up_to(on_hand, at)
    return tuple(_bought(replace(one, have=there.get(one.ingredient.id))) for one in needs)


def _bought(one: Purchase) -> Purchase:
    """In whole packs, their cost and what they leave worked out from the need and the stock."""
    if one.packs is None:
        return one
    have = 0.0 if one.have is None else one.have.usable
    count, _ = packs_for(max(0.0, one.packs.need - have), one.packs.usable)
    left = max(0.0, have + count * one.packs.usable - one.packs.need)
    price = None if one.ingredient.pack is None else one.ingredient.pack.price
    cost = None if price is None else price * count
    return replace(one, packs=replace(one.packs, count=count, left_over=left), cost=cost)


def orders(needs: Iterable[Purchase]) -> tuple[Order, ...]:
    """What has to be bought, by supplier in the order of the menu; of no supplier last."""
    by_supplier: dict[str, list[Purchase]] = {}
    for one in needs:
        if not one.enough:
            by_supplier.setdefault(one.ingredient.supplier, []).append(one)
    named = sorted(by_supplier, key=lambda supplier: not supplier)
    return tuple(Order(supplier, tuple(by_supplier[supplier])) for supplier in named)
