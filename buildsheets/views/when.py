"""A drink or what is not sold goes in; when it is sold, or why not, in a reader's words, out."""

from __future__ import annotations

from datetime import date

from buildsheets.menu.model import Drink, Menu
from buildsheets.menu.when import clock
from buildsheets.prep.sales import NotSold
from buildsheets.views.words import Words


def sold_when(menu: Menu, drink: Drink, words: Words) -> str:
    """ "sold until December 14, 07:00 to 11:00"; "" for a drink sold always."""
    when = _when(menu, drink, words)
    return words("sold", when=when) if when else ""


def _when(menu: Menu, drink: Drink, words: Words) -> str:
    """Its dates, where they lie inside the edition, and its hours; "" for a drink sold always."""
    first, last = _inside(menu, drink)
    hours = (
        words("sold_hours", first=clock(begins)[0], last=clock(ends)[0])
        for begins, ends in drink.hours
    )
    return ", ".join([*_dates(first, last, words), *hours])


def sold_days(menu: Menu, drink: Drink) -> tuple[str, ...]:
    """Its first and last day inside the edition in ISO 8601, "" for none of its own."""
    days = _inside(menu, drink)
    return tuple(day.isoformat() if day else "" for day in days) if any(days) else ()


def _inside(menu: Menu, drink: Drink) -> tuple[date | None, date | None]:
    """Its first and last day, where the edition begins before and ends after."""
    edition, first, last = menu.edition, drink.first_day, drink.last_day
    return (
        first if first and first > edition.valid_from else None,
        last if last and last < edition.valid_to else None,
    )


def sold_only(menu: Menu, drink: Drink, words: Words) -> str:
    """Its name and when it is sold: "Frost Lemon Tea (until December 10)"."""
    return f"{words.name(drink)} ({_when(menu, drink, words)})"


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
