"""Days, hours and readings in plain numbers go in; discard dates, times and coolings come out.

FDA Food Code 2022, 3-501.14, .17 and .19; fill model section 6. Nothing of a menu is needed here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from numbers import Integral

from buildsheets.cup.errors import FigureError, each, finite, non_negative, positive

HOT_C, WARM_C, COLD_C = 57.0, 21.0, 5.0
"""135, 70 and 41 F, as the Food Code rounds them (3-501.14)."""
WARM_WITHIN_H, COLD_WITHIN_H = 2.0, 6.0

REHEAT_C, REHEAT_WITHIN_H = 74.0, 2.0
"""Food Code 3-403.11(A) and (D): cooked and cooled, then held hot: 165 F for 15 s, within 2 h."""

TIME_CONTROL_H = 4.0
"""Food Code 3-501.19(B): without temperature control, 4 h from leaving it, then discard. England
allows one period under 4 h above 8 degC for service (SI 2013/2996, Schedule 4, paragraph 5(1))."""

ENGLAND_HOT_H = 2.0
"""England: one period under 2 h below 63 degC for hot service (SI 2013/2996, Schedule 4, 7(2); as
in SI 2005/2059)."""

AMBIENT_COOLING_H = 4.0
"""Food Code 3-501.14(B): made from ingredients at room temperature, 5 degC within 4 h; taken for
what was warm but not hot too, being the stricter."""


@dataclass(frozen=True, slots=True)
class Frozen:
    """A stay in the freezer: in on one date, out to thaw on another. Those days do not count."""

    on: date
    thawed_on: date

    def __post_init__(self) -> None:
        if self.thawed_on < self.on:
            raise FigureError("thawed_on", self.thawed_on, "is before it was frozen")


def discard_date(
    prepared: date,
    rule_days: int,
    use_by: date | Iterable[date] = (),
    *,
    frozen: Sequence[Frozen] = (),
) -> date:
    """The last day of use: preparation day is Day 1 of ``rule_days``.

    Every date of ``use_by`` (one or several: of an ingredient, or the discard date of a component
    that went in) comes first if it is earlier. Days from freezing up to the day before thawing do
    not count (3-501.17); they move no use-by date. Refused: fewer than 1 day, a use-by before the
    preparation, stays in the freezer out of order or begun after the last day.
    """
    if isinstance(rule_days, bool) or not isinstance(rule_days, Integral) or rule_days < 1:
        raise FigureError("rule_days", rule_days, "must be a whole number of at least 1 day")
    prepared = _day("prepared", prepared)
    try:
        last = prepared + timedelta(days=int(rule_days) - 1)
    except OverflowError:
        raise FigureError("rule_days", rule_days, "goes past the end of the calendar") from None
    earliest = prepared
    for stay in frozen:
        if stay.on < earliest:
            raise FigureError("frozen", stay.on, "must follow the preparation and earlier stays")
        if stay.on > last:
            raise FigureError("frozen", stay.on, f"is after the last day of use, {last}")
        last += stay.thawed_on - stay.on
        earliest = stay.thawed_on
    for given in (use_by,) if isinstance(use_by, date) else use_by:
        day = _day("use_by", given)
        if day < prepared:
            raise FigureError("use_by", day, f"is before the preparation on {prepared}")
        last = min(last, day)
    return last


def _day(name: str, value: date) -> date:
    """The day alone: a time of day plays no part, and does not compare with a date."""
    if not isinstance(value, date):
        raise FigureError(name, value, "must be a date")
    return value.date() if isinstance(value, datetime) else value


def discard_time(started: datetime, hours: float) -> datetime:
    """``hours`` of elapsed time after ``started``.

    Food Code 3-501.19: 4 h, or 6 h for cold food that never rises above 21 C.

    ``started`` must carry a time zone; the result is in the same zone, and right across a change of
    the clocks.
    """
    if started.utcoffset() is None:
        raise FigureError("started", started, "must carry a time zone")
    try:
        elapsed = timedelta(hours=positive("hours", hours))
        return (started.astimezone(UTC) + elapsed).astimezone(started.tzinfo)
    except OverflowError:
        raise FigureError("hours", hours, "goes past the end of the calendar") from None


@dataclass(frozen=True, slots=True)
class Cooling:
    """A cooling from 57 C: hours to 21 C and to 5 C, both from the start; None if not reached."""

    hours_to_warm: float | None
    hours_to_cold: float | None

    @property
    def first_stage_ok(self) -> bool:
        """57 to 21 C within 2 h."""
        return self.hours_to_warm is not None and self.hours_to_warm <= WARM_WITHIN_H

    @property
    def second_stage_ok(self) -> bool:
        """57 to 5 C within 6 h in all."""
        return self.hours_to_cold is not None and self.hours_to_cold <= COLD_WITHIN_H

    @property
    def ok(self) -> bool:
        return self.first_stage_ok and self.second_stage_ok

    @property
    def hours_left_for_cold(self) -> float | None:
        """Hours left to reach 5 C once 21 C is reached in time; None if it was not."""
        if self.hours_to_warm is None or not self.first_stage_ok:
            return None
        return COLD_WITHIN_H - self.hours_to_warm


def cooling(hours_to_warm: float, hours_to_cold: float) -> Cooling:
    """A planned cooling step: hours to reach 21 C, and hours to reach 5 C from the same start."""
    non_negative("hours_to_warm", hours_to_warm)
    if non_negative("hours_to_cold", hours_to_cold) < hours_to_warm:
        raise FigureError("hours_to_cold", hours_to_cold, "is before 21 C was reached")
    return Cooling(hours_to_warm, hours_to_cold)


def cooling_from_readings(readings: Sequence[tuple[float, float]]) -> Cooling:
    """A measured cooling: (hours, C) in order of time.

    The clock starts at the last reading of 57 C or more before the first below it; a temperature
    counts as reached when it was read, never in between. The first reading must be 57 C or more,
    else the start is not known.
    """
    if not readings:
        raise FigureError("readings", readings, "needs at least one reading")
    if finite("readings[0]", readings[0][1]) < HOT_C:
        raise FigureError("readings[0]", readings[0][1], f"must be at least {HOT_C:g} C")
    for number, (hours, temperature) in enumerate(readings):
        each(finite, **{f"readings[{number}].hours": hours, f"readings[{number}]": temperature})
        if number and hours < readings[number - 1][0]:
            raise FigureError(f"readings[{number}].hours", hours, "must be in order of time")
    start = next((a[0] for a, b in pairwise(readings) if b[1] < HOT_C), 0.0)

    def hours_to(limit_c: float) -> float | None:
        return next((hours - start for hours, at_c in readings if at_c <= limit_c), None)

    return Cooling(hours_to(WARM_C), hours_to(COLD_C))
