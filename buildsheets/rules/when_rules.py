"""Rules of when drinks are sold and of what is sold out; a menu in, findings out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.findings.spelling import count_of, listed
from buildsheets.menu.model import AddOn, CupSize, Drink, Menu
from buildsheets.menu.when import clock, within
from buildsheets.prep.sales import Thing, not_sold_now
from buildsheets.rules.registry import found, rule


def each_drink(menu: Menu, servings: Sequence[Serving]) -> Iterable[Drink]:
    return menu.drinks.values()


def each_sold_out(menu: Menu, servings: Sequence[Serving]) -> Iterable[Thing]:
    sections = (menu.ingredients, menu.batches, menu.packaging, menu.add_ons, menu.drinks)
    return (one for section in sections for one in section.values() if one.sold_out)


@rule("WHEN02", "outside-edition", Severity.WARNING, each_drink)
def outside_edition(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """The dates of a drink lie outside the edition, so that it has no card in it.

    At the counter: a drink that guests are to find on the board is on no card; mostly a year is
    wrong. For a drink that is meant to wait for another season, allow the finding.

    Trips it::

        drinks:
          cloud: {from: 2027-12-01, until: 2027-12-24}

    Fixed::

        drinks:
          cloud: {from: 2026-06-01, until: 2026-06-24}

    Source: common practice, no source.
    """
    if menu.sells(drink):
        return
    edition, late = menu.edition, drink.first_day and drink.first_day > menu.edition.valid_to
    dates = f"from {drink.first_day}" if late else f"until {drink.last_day}"
    yield found(
        drink.written("from" if late else "until").span,
        f"'{drink.id}' is sold {dates}, and the edition runs from {edition.valid_from} to "
        f"{edition.valid_to}: it gets no card",
        f"write a day from {edition.valid_from} to {edition.valid_to}, or take the dates out",
        labels=(Label(edition.at("valid_from"), "the edition"),),
    )


@rule("WHEN03", "hours-while-closed", Severity.WARNING, each_drink)
def hours_while_closed(menu: Menu, drink: Drink) -> Iterator[Finding]:
    """The hours of a drink lie outside the opening hours of every day.

    At the counter: the card names hours in which nobody is there; no day plans the drink.

    Trips it::

        drinks:
          cloud: {hours: 06:00 to 07:00}
        days:
          busy: {opens: "10:00", closes: "20:00"}

    Fixed::

        drinks:
          cloud: {hours: 10:00 to 12:00}
        days:
          busy: {opens: "10:00", closes: "20:00"}

    Source: common practice, no source.
    """
    if not drink.hours or not menu.days:
        return
    for day in menu.days.values():
        if within(((day.opens_at_minutes, day.closes_at_minutes, 1.0),), drink.hours):
            return
    opening = dict.fromkeys(
        f"{clock(day.opens_at_minutes)[0]} to {clock(day.closes_at_minutes)[0]}"
        for day in menu.days.values()
    )
    hours = listed((f"{clock(a)[0]} to {clock(b)[0]}" for a, b in drink.hours), "and")
    yield found(
        drink.written("hours").span,
        f"'{drink.id}' is sold from {hours}, and no day is open then: open from "
        f"{listed(opening, 'and')}",
        "write hours within those, or take them out",
    )


@rule("SOLD01", "sold-out", Severity.NOTE, each_sold_out)
def is_sold_out(menu: Menu, thing: Thing) -> Iterator[Finding]:
    """Something is marked as sold out; this says what is not sold because of it.

    The day's plan leaves it out and the phone pages say so. Cards stay on the wall: what is back
    tomorrow needs no new card. A drink that goes for the season is taken off with until: or out of
    the menu.

    At the counter: the barista reads on the day's plan what to refuse; a mark that nobody takes
    away again keeps a drink from being planned for.

    Trips it::

        ingredients:
          milk: {sold_out: yes}

    Fixed::

        ingredients:
          milk: {sold_out: no}

    Source: common practice, no source.
    """
    out = [one.what for one in not_sold_now(menu) if thing in one.because]
    stopped = [one for one in out if isinstance(one, Drink)]
    add_ons = [one for one in out if isinstance(one, AddOn)]
    sizes = [one for one in out if isinstance(one, CupSize)]
    told = [
        *_told("drink", [one for one in stopped if one is not thing]),
        *_told("add-on", [one for one in add_ons if one is not thing]),
        *_told("size", sizes),
    ]
    offering = [drink for drink in menu.drinks.values() if any(a in add_ons for a in drink.add_ons)]
    with_it = [cup for cup in menu.cups.values() if thing in cup.packaging and cup not in sizes]
    days = [
        (day, sum(line.count for line in day.lines if line.drink in stopped or line.cup in sizes))
        for day in menu.days.values()
    ]
    hints = [f"{day.id} plans {count_of(count, 'drink')} fewer" for day, count in days if count]
    hints += [f"{count_of(len(offering), 'drink')} offered with it"] if offering else []
    hints += [f"{listed((cup.id for cup in with_it), 'and')} go out with it"] if with_it else []
    yield found(
        thing.at("sold_out"),
        f"'{thing.id}' is sold out" + (f", and with it {listed(told, 'and')}" if told else ""),
        "; ".join([*hints, "write sold_out: no once it is back"]),
        subject=(thing.id,),
    )


def _told(what: str, entries: Sequence[Drink | AddOn | CupSize]) -> list[str]:
    """ "drink 'x'", or "drinks 'x', 'y'"."""
    names = ", ".join(f"'{one.id}'" for one in entries)
    return [f"{what}{'s' if len(entries) > 1 else ''} {names}"] if entries else []
