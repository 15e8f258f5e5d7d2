"""Times of day as written in a menu go in; minutes of a day, and back to a clock, come out."""

from __future__ import annotations

import math
from typing import Annotated

from buildsheets.menu.schema import Form

DAY_MIN = 24 * 60
LATEST_NIGHT_MIN = 6 * 60
"""Closing up to this is on the next day; later than that and before opening is a slip (common
practice, no source)."""


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


TimeOfDay = Annotated[
    int, Form("DAY02", _minutes, "'{}' is no time of day", "write it as 09:00 or 20:30")
]
