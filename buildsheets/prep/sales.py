"""A menu and a day go in; what is sold out, and what of the day's sales is sold when, come out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Batch,
    Component,
    CupSize,
    DaySales,
    Drink,
    Ingredient,
    Menu,
    Packaging,
    Swap,
)
from buildsheets.menu.when import within

Thing = Ingredient | Batch | Packaging | AddOn | Drink
"""What the menu may say is sold out."""

Offered = Drink | AddOn | CupSize | Swap
"""What a guest orders, and what stops being offered where something is sold out."""


@dataclass(frozen=True, slots=True)
class SoldOut:
    """What is not sold now, each by its id with the things that are sold out and stop it.

    A size stops where its cup or lid is sold out; its straw or napkin is only told.
    """

    drinks: Mapping[str, tuple[Thing, ...]]
    add_ons: Mapping[str, tuple[Thing, ...]]
    sizes: Mapping[str, tuple[Thing, ...]]
    swaps: Mapping[str, tuple[Thing, ...]]


def sold_out(menu: Menu) -> SoldOut:
    """Everything that what is marked as sold out stops."""

    def stopped(section: Mapping[str, Offered]) -> dict[str, tuple[Thing, ...]]:
        every = {id_: {one.span: one for one in _causes(entry)} for id_, entry in section.items()}
        return {id_: tuple(causes.values()) for id_, causes in every.items() if causes}

    sections: tuple[Mapping[str, Offered], ...] = (
        menu.drinks, menu.add_ons, menu.cups, menu.swaps,
    )  # fmt: skip
    return SoldOut(*map(stopped, sections))


def _causes(entry: Thing | Component | CupSize | Swap) -> Iterable[Thing]:
    """The things marked as sold out that an entry is, or is made of."""
    if isinstance(entry, CupSize):
        yield from (one for one in entry.packaging if one.sold_out and one.kind in ("cup", "lid"))
        return
    if isinstance(entry, Swap):
        yield from _causes(entry.component)
        return
    if isinstance(entry, Component):
        if entry.source is not None:
            yield from _causes(entry.source)
        return
    if entry.sold_out:
        yield entry
    elif isinstance(entry, Batch):
        for part in entry.parts:
            yield from _causes(part.item)
    elif isinstance(entry, AddOn):
        yield from _causes(entry.component)
    elif isinstance(entry, Drink):
        for step in entry.steps:
            if isinstance(step, AddStep):
                yield from _causes(step.component)


@dataclass(frozen=True, slots=True)
class NotSold:
    """Something of a day's sales that is not sold, and why: "sold-out" with what is, "dates" or
    "hours" of a drink that is not sold on that day or while the shop is open."""

    what: Offered
    why: str
    because: tuple[Thing, ...] = ()


def not_sold_now(menu: Menu) -> tuple[NotSold, ...]:
    """Each drink, add-on and size that is sold out or needs what is."""
    out = sold_out(menu)
    sections: tuple[tuple[Mapping[str, Offered], Mapping[str, Any]], ...] = (
        (menu.drinks, out.drinks), (menu.add_ons, out.add_ons), (menu.cups, out.sizes),
        (menu.swaps, out.swaps),
    )  # fmt: skip
    return tuple(
        NotSold(section[id_], "sold-out", why)
        for section, found in sections
        for id_, why in found.items()
    )


@dataclass(frozen=True, slots=True)
class Sold:
    """What is sold on a day: ``day`` with all of it, ``runs`` the same day by when it is sold.

    ``any_date`` are drinks that are sold on some dates only, planned since no date was named.
    """

    day: DaySales
    runs: tuple[DaySales, ...]
    not_sold: tuple[NotSold, ...]
    any_date: tuple[Drink, ...]


def sold_on(menu: Menu, day: DaySales, on: date | None = None) -> Sold:
    """The sales of a day that are sold on it, those of a drink within its own hours."""
    out = sold_out(menu)
    not_sold: dict[tuple[str, str], NotSold] = {}
    any_date: dict[str, Drink] = {}
    runs: dict[tuple[tuple[int, int], ...], DaySales] = {}
    kept = []

    def leave_out(
        what: Drink | AddOn | CupSize | Swap, why: str, because: tuple[Thing, ...] = ()
    ) -> None:
        not_sold[type(what).__name__, what.id] = NotSold(what, why, because)

    for line in day.lines:
        drink = line.drink
        if because := out.drinks.get(drink.id):
            leave_out(drink, "sold-out", because)
        elif because := out.sizes.get(line.cup.id):
            leave_out(line.cup, "sold-out", because)
        elif not (menu.sells(drink) if on is None else drink.is_sold_on(on)):
            leave_out(drink, "dates")
        elif drink.hours and not within(day.spread, drink.hours):
            leave_out(drink, "hours")
        else:
            if on is None and not menu.always_sells(drink):
                any_date[drink.id] = drink
            for add_on, _ in line.add_ons:
                if because := out.add_ons.get(add_on.id):
                    leave_out(add_on, "sold-out", because)
            offered = tuple(one for one in line.add_ons if one[0].id not in out.add_ons)
            swaps = []
            for swap, count in line.swaps:  # who cannot have one takes the drink as written
                if because := out.swaps.get(swap.id):
                    leave_out(swap, "sold-out", because)
                else:
                    swaps.append((swap, count))
            kept.append(replace(line, add_ons=offered, swaps=tuple(swaps)))
            spread = within(day.spread, drink.hours) if drink.hours else day.spread
            run = runs.get(drink.hours, replace(day, lines=(), spread=spread))
            runs[drink.hours] = replace(run, lines=(*run.lines, kept[-1]))
    return Sold(
        replace(day, lines=tuple(kept)),
        tuple(runs.values()),
        tuple(not_sold.values()),
        tuple(any_date.values()),
    )
