"""A menu and a day go in; what is sold out, and what of the day's sales is sold when, come out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

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
    """Each drink, add-on, size and swap that is sold out or needs what is.

    A size stops where its cup or lid is sold out; its straw or napkin is only told.
    """
    sections: tuple[Mapping[str, Offered], ...] = (
        menu.drinks, menu.add_ons, menu.cups, menu.swaps,
    )  # fmt: skip
    each = (entry for section in sections for entry in section.values())
    found = ((entry, {one.span: one for one in _causes(entry)}) for entry in each)
    return tuple(NotSold(entry, "sold-out", (*why.values(),)) for entry, why in found if why)


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
    out = {_key(one.what): one for one in not_sold_now(menu)}
    not_sold: dict[tuple[str, str], NotSold] = {}
    any_date: dict[str, Drink] = {}
    runs: dict[tuple[tuple[int, int], ...], DaySales] = {}
    kept = []

    def is_out(what: Offered) -> bool:
        """Whether something is sold out; it is then among what is left out."""
        if found := out.get(_key(what)):
            not_sold[_key(what)] = found
        return found is not None

    for line in day.lines:
        drink = line.drink
        if is_out(drink) or is_out(line.cup):
            continue
        if not (menu.sells(drink) if on is None else drink.is_sold_on(on)):
            not_sold[_key(drink)] = NotSold(drink, "dates")
        elif drink.hours and not within(day.spread, drink.hours):
            not_sold[_key(drink)] = NotSold(drink, "hours")
        else:
            if on is None and not menu.always_sells(drink):
                any_date[drink.id] = drink
            offered = tuple(one for one in line.add_ons if not is_out(one[0]))
            # who cannot have a swap takes the drink as written
            swaps = tuple(one for one in line.swaps if not is_out(one[0]))
            kept.append(replace(line, add_ons=offered, swaps=swaps))
            spread = within(day.spread, drink.hours) if drink.hours else day.spread
            run = runs.get(drink.hours, replace(day, lines=(), spread=spread))
            runs[drink.hours] = replace(run, lines=(*run.lines, kept[-1]))
    return Sold(
        replace(day, lines=tuple(kept)),
        tuple(runs.values()),
        tuple(not_sold.values()),
        tuple(any_date.values()),
    )


def _key(what: Offered) -> tuple[str, str]:
    return type(what).__name__, what.id
