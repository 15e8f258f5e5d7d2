"""When things are sold: hours of the day as people write them go in, minutes come out."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import Annotated

from buildsheets.menu.schema import Form

DAY_MIN = 24 * 60
LATEST_NIGHT_MIN = 6 * 60
"""Closing up to this is on the next day; later than that and before opening is a slip (common
practice, no source)."""

SOLD_OUT = (
    "yes while there is none: the day's plan and the phone pages leave out all that needs it; "
    "cards stay on the wall and none is printed anew (a drink that goes for the season has until)"
)
"""What the key says, of everything that can be sold out."""

Stretch = tuple[float, float, float]
"""From and to in minutes of a day, and the share of its sales between them."""


def _minutes(text: str) -> int | None:
    hours, _, minutes = text.partition(":")
    if not (hours.isdecimal() and minutes.isdecimal() and len(minutes) == 2):
        return None
    total = 60 * int(hours) + int(minutes)
    return total if int(minutes) < 60 and total <= DAY_MIN else None


def clock(minutes: float) -> tuple[str, int]:
    """A time from minutes of a day, rounded down, and the day it is on: 0 is that day itself."""
    days, minute = divmod(math.floor(minutes + 1e-6), DAY_MIN)
    return f"{minute // 60:02d}:{minute % 60:02d}", days


def _hours(text: str) -> tuple[int, int] | None:
    """From and to; a night ends on the next day."""
    found = re.fullmatch(r"\s*([\d:]+)\s*(?:to|-|–)\s*([\d:]+)\s*", text)
    begins, ends = (_minutes(one) for one in found.groups()) if found else (None, None)
    if begins is None or ends is None:
        return None
    if ends <= begins and ends <= LATEST_NIGHT_MIN:
        ends += DAY_MIN
    return (begins, ends) if begins < ends else None


TimeOfDay = Annotated[
    int, Form("DAY02", _minutes, "'{}' is no time of day", "write it as 09:00 or 20:30")
]
HoursOfDay = Annotated[
    tuple[int, int],
    Form(
        "DAY02",
        _hours,
        "'{}' is no time of the day from one hour to a later one",
        "write it as 07:00 to 11:00; a night may end on the next day, up to 06:00",
    ),
]


def within(spread: Sequence[Stretch], hours: Iterable[tuple[int, int]]) -> tuple[Stretch, ...]:
    """A day's sales when all of them fall in some hours: as busy against each other as the day is
    then. The early hours of a night belong to the day before it; nothing where none is open."""
    found = []
    for begins, ends, share in spread:
        for first, last in hours:
            for later in (0, DAY_MIN):
                start, stop = max(begins, first + later), min(ends, last + later)
                if start < stop:
                    found.append((start, stop, share * (stop - start) / (ends - begins)))
    total = sum(share for *_, share in found)
    if not total:
        return ()
    return tuple((start, stop, share / total) for start, stop, share in sorted(found))
