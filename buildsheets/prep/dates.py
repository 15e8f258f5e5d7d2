"""Days of the menu, a moment and perhaps a date go in; the date of each day comes out.

A day named after a weekday is the next of that weekday, today's until it closes; any other is
today. Of several days each comes after the one before.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import cache

from buildsheets.menu.model import DaySales, Menu

_DAY = timedelta(days=1)
_LANGUAGES = ("en", "es", "fr", "de")
"""Of the words that come with the program; those of the shop are read too."""


def dates_of(
    menu: Menu, days: Sequence[DaySales], now: datetime, on: date | None = None
) -> tuple[date, ...]:
    """The date of each day, the first ``on`` one where it is given; ``now`` is the shop's."""
    found: list[date] = []
    for day in days:
        weekday = weekday_of(menu, day)
        if found:
            first = found[-1] + _DAY
        elif on is not None:
            found.append(on)
            continue
        else:
            over = weekday is not None and now.hour * 60 + now.minute >= day.closes_at_minutes
            first = now.date() + _DAY * over
        ahead = 0 if weekday is None else (weekday - first.weekday()) % 7
        found.append(first + _DAY * ahead)
    return tuple(found)


def weekday_of(menu: Menu, day: DaySales) -> int | None:
    """The one weekday, Monday 0, that its id or its name in a shop's language has as a word."""
    texts = (day.id, *(day.name.in_language(one) for one in menu.shop.languages))
    names = _weekdays((*_LANGUAGES, *menu.shop.languages))
    words = (word for text in texts for word in re.findall(r"[^\W_]+", plain(text)))
    found = {names[word] for word in words if word in names}
    return found.pop() if len(found) == 1 else None


@cache
def _weekdays(languages: tuple[str, ...]) -> dict[str, int]:
    from babel import Locale, UnknownLocaleError

    found: dict[str, int] = {}
    for language in dict.fromkeys(languages):
        try:
            names = Locale.parse(language, sep="-").days["stand-alone"]["wide"]
        except (UnknownLocaleError, ValueError):
            continue
        found |= {plain(name): number for number, name in names.items()}
    return found


def plain(text: str) -> str:
    """Small letters without their accents."""
    parted = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in parted if not unicodedata.combining(one))
