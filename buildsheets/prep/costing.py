"""Servings and pack prices go in; exact cost, price, margin and what-if come out.

Every sum is a fraction and is rounded once, at the end (fill model section 7). A price nobody gave
makes the cost unknown, with the ingredient named; it is never taken as free.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from buildsheets.cup.errors import FigureError
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddOn, Batch, Component, Ingredient, Menu
from buildsheets.prep.batches import BatchFigure, Item, figure_batch
from buildsheets.prep.cost import CostLine, exact_cost, rounded_money
from buildsheets.prep.scaling import purchase


@dataclass(frozen=True, slots=True)
class Cost:
    """An exact amount of money, or ``None`` and the ids of what has no price."""

    exact: Fraction | None
    missing: tuple[str, ...] = ()

    @property
    def shown(self) -> Decimal | None:
        """Rounded once, half up, to 0.01."""
        return None if self.exact is None else rounded_money(self.exact)

    def __add__(self, other: Cost) -> Cost:
        missing = tuple(dict.fromkeys((*self.missing, *other.missing)))
        if self.exact is None or other.exact is None:
            return Cost(None, missing)
        return Cost(self.exact + other.exact, missing)

    def times(self, number: float) -> Cost:
        """The cost of so many of the same."""
        return self if self.exact is None else Cost(self.exact * _fraction(number))


FREE = Cost(Fraction(0))


def cost_of(item: Item, mass_g: float, volume_ml: float | None = None) -> Cost:
    """Cost of grams of an ingredient, or of grams of a batch's yield, waste of both included.

    What stays in the pack (usable share) and in the bowl (loss) is paid for by what is served.
    ``volume_ml`` serves packs and yields that are only known in ml.
    """
    if mass_g <= 0:
        return FREE
    if isinstance(item, Batch):
        figure = figure_batch(item)
        whole = batch_cost(figure)
        if whole.exact is None:
            return whole
        if figure.yield_g:
            share = _fraction(mass_g) / _fraction(figure.yield_g)
        elif figure.yield_ml and volume_ml is not None:
            share = _fraction(volume_ml) / _fraction(figure.yield_ml)
        else:
            return Cost(None, (item.id,))
        return Cost(whole.exact * share)
    return _ingredient_cost(item, mass_g, volume_ml)


def _ingredient_cost(item: Ingredient, mass_g: float, volume_ml: float | None) -> Cost:
    pack = item.pack
    if pack is None or pack.price is None:
        return Cost(None, (item.id,))
    used: Fraction | None = _fraction(mass_g)
    if pack.unit == "ml":
        used = None if volume_ml is None else _fraction(volume_ml)
        if used is None and item.density_g_ml is not None:
            used = _fraction(mass_g) / _fraction(item.density_g_ml)
    if used is None:
        return Cost(None, (item.id,))
    return Cost(exact_cost([CostLine(used, pack.quantity, pack.price, pack.usable_share)]))


def batch_cost(figure: BatchFigure) -> Cost:
    """Cost of everything that goes into a batch at its factor, exact packs not rounded up."""
    total = FREE
    for part in figure.parts:
        total += cost_of(part.part.item, part.exact_g, part.volume_ml)
    return total


@dataclass(frozen=True, slots=True)
class PackWaste:
    """One ingredient of a batch bought in whole packs: money spent, and money left over."""

    item: Item
    packs: int
    unit: str
    left_over: float  # in the pack's unit
    spent: Fraction | None
    left_over_cost: Fraction | None


def pack_waste(figure: BatchFigure) -> tuple[PackWaste, ...]:
    """What whole packs cost at this factor beyond what the batch uses."""
    result = []
    for item, packs in purchase(figure):
        price = item.pack.price if isinstance(item, Ingredient) and item.pack else None
        spent = left = None
        if price is not None:
            spent = Fraction(price) * packs.count
            left = Fraction(price) * _fraction(packs.left_over) / _fraction(packs.usable)
        result.append(PackWaste(item, packs.count, packs.unit, packs.left_over, spent, left))
    return tuple(result)


@dataclass(frozen=True, slots=True)
class CostPart:
    """What one component of a serving costs."""

    component: Component
    mass_g: float
    cost: Cost


@dataclass(frozen=True, slots=True)
class DrinkCost:
    """A serving's cost by component, its price with add-ons, and its margin.

    ``price`` is what the guest pays: the drink's price in this cup and every add-on's. Without
    one of them it is ``None``. ``margin`` is the rounded price less the exact cost.
    """

    serving: Serving
    parts: tuple[CostPart, ...]
    cost: Cost
    price: Decimal | None
    price_missing: tuple[str, ...]

    @property
    def margin(self) -> Decimal | None:
        """Price less cost, rounded once; below zero the drink is sold at a loss."""
        if self.price is None or self.cost.shown is None:
            return None
        return self.price - self.cost.shown

    @property
    def margin_share(self) -> Fraction | None:
        """Exact margin as a share of the price."""
        if not self.price or self.cost.exact is None:
            return None
        return 1 - self.cost.exact / Fraction(self.price)


def drink_cost(serving: Serving) -> DrinkCost:
    """Cost, price and margin of one serving, add-ons included."""
    parts = tuple(
        CostPart(
            used.component,
            used.mass_g,
            component_cost(used.component, used.mass_g, used.volume_ml),
        )
        for used in serving.used
        if used.mass_g > 0
    )
    total = FREE
    for part in parts:
        total += part.cost
    chosen = {a.id: a for a in serving.drink.add_ons}
    add_ons = [chosen[id_] for id_ in serving.choice.add_ons if id_ in chosen]
    price, missing = _price(serving.drink.price.get(serving.cup.id), serving.drink.id, add_ons)
    return DrinkCost(serving, parts, total, price, missing)


def component_cost(component: Component, mass_g: float, volume_ml: float | None = None) -> Cost:
    """Cost of grams of a component; the shop's own water and ice are free.

    ``volume_ml`` is as served (a cap's with its air), for a batch whose yield is only known in ml.
    """
    source = component.source
    if source is None:
        return FREE if component.role == "ice" else Cost(None, (component.id,))
    if isinstance(source, Batch):
        return cost_of(source, mass_g, volume_ml)
    return cost_of(source, mass_g, mass_g / component.density_g_ml)


def _price(
    own: Decimal | None, drink: str, add_ons: Iterable[AddOn]
) -> tuple[Decimal | None, tuple[str, ...]]:
    priced = [(drink, own), *((a.id, a.price) for a in add_ons)]
    missing = tuple(id_ for id_, price in priced if price is None)
    if missing:
        return None, missing
    return sum((price for _, price in priced if price is not None), Decimal(0)), ()


def with_price(menu: Menu, ingredient: str, price: Decimal) -> Menu:
    """The menu as if one ingredient's pack cost ``price``: what-if, everywhere it is used.

    Raises :class:`FigureError` for an unknown ingredient or one without a pack.
    """
    old = menu.ingredients.get(ingredient)
    if old is None or old.pack is None:
        raise FigureError("ingredient", ingredient, "is not an ingredient with a pack")
    new = replace(old, pack=replace(old.pack, price=price))
    swap = _Swap({ingredient: new})
    components = {
        id_: replace(c, source=swap.item(c.source)) if c.source is not None else c
        for id_, c in menu.components.items()
    }
    return replace(
        menu,
        ingredients={**menu.ingredients, ingredient: new},
        batches={id_: swap.batch(b) for id_, b in menu.batches.items()},
        components=components,
    )


def repriced(serving: Serving, menu: Menu) -> Serving:
    """A serving with its components taken from ``menu``; nothing physical changes."""
    steps = tuple(
        figure
        if figure.used is None or figure.used.component.id not in menu.components
        else replace(
            figure,
            used=replace(figure.used, component=menu.components[figure.used.component.id]),
        )
        for figure in serving.steps
    )
    return replace(serving, steps=steps)


class _Swap:
    """Rebuilds batches with some ingredients exchanged, each batch once."""

    def __init__(self, ingredients: Mapping[str, Ingredient]) -> None:
        self._ingredients = ingredients
        self._done: dict[str, Batch] = {}

    def item(self, item: Item) -> Item:
        if isinstance(item, Ingredient):
            return self._ingredients.get(item.id, item)
        return self.batch(item)

    def batch(self, batch: Batch) -> Batch:
        if batch.id not in self._done:
            parts = tuple(replace(part, item=self.item(part.item)) for part in batch.parts)
            lead = None if batch.lead is None else self.item(batch.lead)
            self._done[batch.id] = replace(batch, parts=parts, lead=lead)
        return self._done[batch.id]


def _fraction(value: float) -> Fraction:
    """A binary float read as the decimal it prints as: 0.1 is one tenth."""
    return Fraction(repr(float(value)))
