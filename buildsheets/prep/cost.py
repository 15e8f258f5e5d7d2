"""Amounts used and pack prices go in; exact cost, price and margin come out, rounded once.

Fill model section 7. A margin is what the shop keeps: the price without its tax, less the cost of
what is in the cup and of the packaging it goes out in. Binary floats are read as the decimal they
print as: 0.1 is one tenth. A price nobody gave makes the cost unknown, with the ingredient or
packaging named; it is never taken as free.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from numbers import Integral, Real
from typing import Self, TypeAlias

from buildsheets.cup.errors import FigureError
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import (
    AddOn,
    Batch,
    Component,
    CupSize,
    Ingredient,
    Menu,
    Packaging,
    Swap,
)
from buildsheets.menu.packaging import in_place_of
from buildsheets.prep.batches import (
    BatchFigure,
    Item,
    Stored,
    bought_g_ml,
    figure_batch,
    heap_g_ml,
)
from buildsheets.prep.packaging import handed_out
from buildsheets.prep.scaling import purchase

Number: TypeAlias = Decimal | Fraction | int | float


@dataclass(frozen=True, slots=True)
class CostLine:
    """``used`` of a pack of ``pack_quantity`` (same unit) at ``pack_price``.

    ``usable`` is the share of the pack that can be used (peel, residue). A price of None is not
    known.
    """

    used: Number
    pack_quantity: Number
    pack_price: Number | None
    usable: Number = 1

    def __post_init__(self) -> None:
        _exact("used", self.used)
        if _exact("pack_quantity", self.pack_quantity) == 0:
            raise FigureError("pack_quantity", self.pack_quantity, "must be above 0")
        if not 0 < _exact("usable", self.usable) <= 1:
            raise FigureError("usable", self.usable, "must be above 0 and at most 1")
        if self.pack_price is not None:
            _exact("pack_price", self.pack_price)


def exact_cost(lines: Iterable[CostLine]) -> Fraction | None:
    """Sum of used / (pack quantity x usable) x pack price; None if a price is missing."""
    total = Fraction(0)
    for line in lines:
        used = _exact("used", line.used)
        if used > 0:
            if line.pack_price is None:
                return None
            pack = _exact("pack_quantity", line.pack_quantity) * _exact("usable", line.usable)
            total += used / pack * _exact("pack_price", line.pack_price)
    return total


def cost(lines: Iterable[CostLine]) -> Decimal | None:
    """As :func:`exact_cost`, rounded once at the end, half up, to 0.01."""
    exact = exact_cost(lines)
    return None if exact is None else rounded_money(exact)


def rounded_money(amount: Fraction) -> Decimal:
    """Half up to 0.01; money here is never negative."""
    if amount < 0:
        raise FigureError("amount", amount, "must not be negative")
    return Decimal(math.floor(amount * 100 + Fraction(1, 2))).scaleb(-2)


def _exact(name: str, value: Number) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, (Decimal, Real)):
        raise FigureError(name, value, "must be a number")
    if not math.isfinite(value):
        raise FigureError(name, value, "must be a finite number")
    if isinstance(value, (Decimal, Fraction)):
        exact = Fraction(value)
    else:
        exact = Fraction(int(value) if isinstance(value, Integral) else repr(float(value)))
    if exact < 0:
        raise FigureError(name, value, "must not be negative")
    return exact


@dataclass(frozen=True, slots=True)
class Cost:
    """An exact amount of money, or ``None`` and the ids of what has no price."""

    exact: Fraction | None
    missing: tuple[str, ...] = ()

    @property
    def rounded(self) -> Decimal | None:
        return None if self.exact is None else rounded_money(self.exact)

    def __add__(self, other: Cost) -> Cost:
        missing = tuple(dict.fromkeys((*self.missing, *other.missing)))
        if self.exact is None or other.exact is None:
            return Cost(None, missing)
        return Cost(self.exact + other.exact, missing)


FREE = Cost(Fraction(0))


class Costed:
    """What has a cost that other prices of packs would change."""

    __slots__ = ()
    cost: Cost | Decimal | None

    def changed_to(self, then: Self) -> tuple[Decimal | None, ...]:
        """What the same costs at other prices, how much more that is and, of what is sold, the
        margin then."""
        now, later = (c.rounded if isinstance(c, Cost) else c for c in (self.cost, then.cost))
        sold = (then.margin,) if isinstance(then, DrinkCost | ExtraCost) else ()
        return (later, _less(later, now), *sold)


@dataclass(frozen=True, slots=True)
class CostPart:
    """What one component of a serving costs."""

    component: Component
    mass_g: float
    cost: Cost


@dataclass(frozen=True, slots=True)
class DrinkCost(Costed):
    """A serving's cost by component and of its packaging, its price with add-ons and swaps, and its
    margin.

    ``price`` is as the menu has it: the drink's price in this cup, every add-on's and swap's.
    Without one of them it is ``None``. ``packaging`` is in ``cost``; ``tax_in_price`` is the
    drink's.
    """

    serving: Serving
    parts: tuple[CostPart, ...]
    packaging: Cost
    cost: Cost
    price: Decimal | None
    price_missing: tuple[str, ...]
    tax_in_price: float | None

    @property
    def missing_prices(self) -> tuple[str, ...]:
        return (*self.cost.missing, *self.price_missing)

    @property
    def net_price(self) -> Decimal | None:
        """The price without its tax, rounded once."""
        return rounded_net(self.price, self.tax_in_price)

    @property
    def margin(self) -> Decimal | None:
        """Net price less cost, as both are printed; below zero the drink is sold at a loss."""
        return _less(self.net_price, self.cost.rounded)

    @property
    def margin_share(self) -> Fraction | None:
        """Exact margin as a share of the exact net price."""
        cost = self.cost.exact
        if not self.price or cost is None:
            return None
        return 1 - cost / without_tax(self.price, self.tax_in_price)

    @property
    def price_without_loss(self) -> Decimal | None:
        """The least price, in whole cents, whose net price pays the cost."""
        cost = self.cost.rounded
        if cost is None:
            return None
        gross = Fraction(cost) * _with_tax(self.tax_in_price)
        return Decimal(math.ceil(gross * 100)).scaleb(-2)


def _with_tax(rate: Number | None) -> Fraction:
    """What a net price of 1 is with its tax."""
    return 1 + (Fraction(0) if rate is None else _exact("tax", rate))


def without_tax(price: Number, rate: Number | None) -> Fraction:
    """A price less the tax it holds; as it is where nobody said the rate."""
    return _exact("price", price) / _with_tax(rate)


def rounded_net(price: Decimal | None, rate: float | None) -> Decimal | None:
    """A price without its tax, rounded once."""
    return None if price is None else rounded_money(without_tax(price, rate))


def _less(price: Decimal | None, cost: Decimal | None) -> Decimal | None:
    return None if price is None or cost is None else price - cost


@dataclass(frozen=True, slots=True)
class ExtraCost(Costed):
    """What a guest's extra costs in a cup, its price and what is left of that without its tax."""

    cup: CupSize
    cost: Decimal | None
    price: Decimal | None
    tax_in_price: float | None

    @property
    def net_price(self) -> Decimal | None:
        """The price without its tax, rounded once."""
        return rounded_net(self.price, self.tax_in_price)

    @property
    def margin(self) -> Decimal | None:
        """Net price less cost, as both are printed."""
        return _less(self.net_price, self.cost)


@dataclass(frozen=True, slots=True)
class AddOnCost(ExtraCost):
    """One serving of an add-on; ``cost`` has the packaging it asks for, less that of the size whose
    place it takes."""

    add_on: AddOn


@dataclass(frozen=True, slots=True)
class SizeCost(Costed):
    """What the packaging of a size costs."""

    cup: CupSize
    cost: Cost


@dataclass(frozen=True, slots=True)
class SwapCost(ExtraCost):
    """A swap in the drink where it costs most: ``cost`` is how much more than as written."""

    swap: Swap


@dataclass(frozen=True, slots=True)
class BatchCost(Costed):
    """A full batch: what it gives and costs, and the worth of what its opened packs leave over.

    ``left_in_packs`` leaves out ingredients without a price; ``None`` where no pack is known.
    """

    figure: BatchFigure
    gives: Stored
    cost: Cost
    left_in_packs: Decimal | None


@dataclass(frozen=True, slots=True)
class Costs:
    """What a shop sells and makes, at the same prices of packs."""

    drinks: Sequence[DrinkCost]
    add_ons: Sequence[AddOnCost] = ()
    swaps: Sequence[SwapCost] = ()
    batches: Sequence[BatchCost] = ()
    sizes: Sequence[SizeCost] = ()


class Prices:
    """What everything costs at the prices of packs; ``what_if`` gives some another price, by id.

    What one gram or ml of an ingredient or a batch costs, or one piece, is figured once and kept.
    """

    def __init__(self, what_if: Mapping[str, Decimal] | None = None) -> None:
        self._what_if = what_if or {}
        self._of_one: dict[tuple[type, str, bool], tuple[str, Cost]] = {}

    def item(self, item: Item, mass_g: float, volume_ml: float | None = None) -> Cost:
        """Cost of grams of an ingredient, or of grams of a batch's yield, waste of both included.

        What stays in the pack (usable share) and in the bowl (loss) is paid for by what is served;
        what comes from the tap and has no price is free.
        ``volume_ml`` serves packs and yields that are only known in ml.
        """
        if mass_g <= 0:
            return FREE
        # a shot may be called as the batch of beans is that it is pulled of
        key = (type(item), item.id, isinstance(item, Batch) and item.to_order)
        if key not in self._of_one:
            figured = self._of_batch(item) if isinstance(item, Batch) else self._of_pack(item)
            self._of_one[key] = figured
        unit, one = self._of_one[key]
        if one.exact is None:
            return one
        used = _exact("mass_g", mass_g)
        if unit == "ml":
            if volume_ml is not None:
                used = _exact("volume_ml", volume_ml)
            elif isinstance(item, Ingredient) and item.density_g_ml is not None:
                used /= _exact("density_g_ml", item.density_g_ml)
            else:
                return Cost(None, (item.id,))
        return Cost(one.exact * used)

    def _of_pack(self, item: Ingredient) -> tuple[str, Cost]:
        pack = item.pack
        price = None if pack is None else self._what_if.get(item.id, pack.price)
        if price is None and item.on_tap:
            return "g", FREE
        if pack is None or price is None:
            return "g", Cost(None, (item.id,))
        return pack.unit, Cost(exact_cost([CostLine(1, pack.quantity, price, pack.usable_share)]))

    def _of_batch(self, batch: Batch) -> tuple[str, Cost]:
        """As of a pack that holds the batch's yield."""
        figure, whole = figure_batch(batch), self.full_batch(batch)
        unit, amount = ("g", figure.yield_g) if figure.yield_g else ("ml", figure.yield_ml)
        if whole.exact is None or not amount:
            return unit, Cost(None, whole.missing or (batch.id,))
        return unit, Cost(exact_cost([CostLine(1, amount, whole.exact)]))

    def full_batch(self, batch: Batch) -> Cost:
        """Cost of everything that goes into a full batch, packs not rounded up."""
        parts = figure_batch(batch).parts
        return sum((self.item(p.part.item, p.exact_g, p.volume_ml) for p in parts), FREE)

    def component(
        self, component: Component, mass_g: float, volume_ml: float | None = None
    ) -> Cost:
        """Cost of grams of a component; the shop's own water and ice are free.

        ``volume_ml`` is as served (a cap's with its air), for a batch whose yield is only known
        in ml.
        """
        source = component.source
        if source is None:
            return FREE if component.role == "ice" else Cost(None, (component.id,))
        if not isinstance(source, Batch):
            volume_ml = mass_g / bought_g_ml(component)
        return self.item(source, mass_g, volume_ml)

    def packaging(self, items: Iterable[Packaging]) -> Cost:
        """Cost of one piece of each."""
        return sum(map(self._piece, items), FREE)

    def _piece(self, item: Packaging) -> Cost:
        key = (type(item), item.id, False)
        if key not in self._of_one:
            pack = item.pack
            price = None if pack is None else self._what_if.get(item.id, pack.price)
            if pack is None or price is None:
                self._of_one[key] = "piece", Cost(None, (item.id,))
            else:
                self._of_one[key] = "piece", Cost(exact_cost([CostLine(1, pack.pieces, price)]))
        return self._of_one[key][1]

    def of_all(self, menu: Menu, servings: Iterable[Serving], written: Iterable[Serving]) -> Costs:
        """Costs of servings, of the swaps of those as ``written``, and of all else of a menu."""
        drinks = [self.drink(serving) for serving in servings]
        add_ons, swaps = self.add_ons(menu), self.swaps(written)
        return Costs(drinks, add_ons, swaps, self.batches(menu), self.sizes(menu))

    def drink(self, serving: Serving) -> DrinkCost:
        """Cost, price and margin of one serving, add-ons and packaging included."""
        parts = tuple(
            CostPart(u.component, u.mass_g, self.component(u.component, u.mass_g, u.volume_ml))
            for u in serving.used
            if u.mass_g > 0
        )
        drink = serving.drink
        add_ons = [one for one in drink.add_ons if one.id in serving.choice.add_ons]
        priced = [(drink.id, drink.price.get(serving.cup.id))]
        priced += [(one.id, one.price) for one in add_ons]
        priced += [(one.id, one.price) for one in drink.swapped]
        known = [price for _, price in priced if price is not None]
        packaging = self.packaging(handed_out(drink, serving.cup, add_ons))
        whole = sum((part.cost for part in parts), packaging)
        missing = tuple(id_ for id_, price in priced if price is None)
        price = None if missing else sum(known, Decimal(0))
        return DrinkCost(serving, parts, packaging, whole, price, missing, drink.tax_in_price)

    def add_ons(self, menu: Menu) -> tuple[AddOnCost, ...]:
        """Every add-on in every cup that a drink is offered in with it."""
        found = []
        for add_on in menu.add_ons.values():
            for cup in menu.cups_with(add_on):
                amount = add_on.amounts[cup.id]
                one = self.component(add_on.component, amount.mass_g, amount.volume_ml)
                one += self._more_packaging(cup, add_on)
                tax = menu.shop.tax_in_price()
                found.append(AddOnCost(cup, one.rounded, add_on.price, tax, add_on))
        return tuple(found)

    def _more_packaging(self, size: CupSize, add_on: AddOn) -> Cost:
        """What the packaging of a size costs more with an add-on; nothing where it costs less."""
        own, asked = self.packaging(size.packaging), self.packaging(add_on.packaging)
        with_it = self.packaging(in_place_of(size.packaging, add_on.packaging))
        if own.exact is None or with_it.exact is None:
            return asked
        return Cost(max(Fraction(0), with_it.exact - own.exact))

    def sizes(self, menu: Menu) -> tuple[SizeCost, ...]:
        """The packaging of every size that names some."""
        cups = (cup for cup in menu.cups.values() if cup.packaging)
        return tuple(SizeCost(cup, self.packaging(cup.packaging)) for cup in cups)

    def swaps(self, servings: Iterable[Serving]) -> tuple[SwapCost, ...]:
        """Every swap in every cup of the drinks it is offered with, the dearest of them."""
        found: dict[tuple[str, str], SwapCost] = {}
        for serving in servings:
            usual = self.drink(serving)
            for swap in serving.drink.swaps:
                choice = replace(serving.choice, swaps=(swap.id,))
                more = usual.changed_to(self.drink(serving.choices[choice]))[1]
                known = found.setdefault(
                    (swap.id, serving.cup.id),
                    SwapCost(serving.cup, more, swap.price, serving.drink.tax_in_price, swap),
                )
                if known.cost is not None and (more is None or more > known.cost):
                    found[swap.id, serving.cup.id] = replace(known, cost=more)
        return tuple(found.values())

    def batches(self, menu: Menu) -> tuple[BatchCost, ...]:
        """Every batch of the menu, full."""
        found = []
        for figure in map(figure_batch, menu.batches.values()):
            heap = heap_g_ml(menu.components.values(), figure.batch)
            gives = Stored(figure.yield_g, figure.yield_ml, heap)
            whole, left = self.full_batch(figure.batch), _left_in_packs(figure)
            found.append(BatchCost(figure, gives, whole, left))
        return tuple(found)


def _left_in_packs(figure: BatchFigure) -> Decimal | None:
    needs = purchase(figure)
    lines = [
        CostLine(need.left_over, need.usable, item.pack.price)
        for item, need in needs
        if isinstance(item, Ingredient) and item.pack is not None and item.pack.price is not None
    ]
    return cost(lines) if needs else None
