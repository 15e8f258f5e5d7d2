"""A drink or what is not sold goes in; when it is sold, or why not, in a reader's words, out."""

from __future__ import annotations

from datetime import date

from buildsheets.menu.model import Drink, Menu
from buildsheets.menu.when import clock
from buildsheets.prep.sales import NotSold
from buildsheets.views.words import Words


def sold_when(menu: Menu, drink: Drink, words: Words) -> str:
    """Its dates, where they lie inside the edition, and its hours; "" for a drink sold always."""
    edition = menu.edition
    first = drink.first_day if drink.first_day and drink.first_day > edition.valid_from else None
    last = drink.last_day if drink.last_day and drink.last_day < edition.valid_to else None
    hours = (
        words("sold_hours", first=clock(begins)[0], last=clock(ends)[0])
        for begins, ends in drink.hours
    )
    return ", ".join([*_dates(first, last, words), *hours])


def sold_only(menu: Menu, drink: Drink, words: Words) -> str:
    """Its name and when it is sold: "Frost Lemon Tea (until December 10)"."""
    return f"{words.name(drink)} ({sold_when(menu, drink, words)})"


def not_sold(menu: Menu, one: NotSold, words: Words) -> str:
    """What is not sold and why: "Pearl tea (sold out: Dry pearls)"."""
    if isinstance(one.what, Drink) and one.why != "sold-out":
        return sold_only(menu, one.what, words)
    because = [cause for cause in one.because if cause is not one.what]
    if not because:
        return words("prep_sold_out", name=words.name(one.what))
    return words("prep_sold_out_of", name=words.name(one.what), of=words.names(because))


def _dates(first: date | None, last: date | None, words: Words) -> list[str]:
    if first and last:
        if first == last:
            return [words("sold_on", day=_day(words, first))]
        return [words("sold_between", first=_day(words, first), last=_day(words, last))]
    if first:
        return [words("sold_from", day=_day(words, first))]
    return [words("sold_until", day=_day(words, last))] if last else []


def _day(words: Words, day: date) -> str:
    """A day without the year, which is the edition's."""
    from babel.dates import format_skeleton

    return format_skeleton("MMMMd", day, locale=words.locale)
