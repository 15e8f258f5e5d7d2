"""Dates, times and temperatures go in; discard dates, deadlines and cooling verdicts come out.

Fill model section 6; the rules are those of the FDA Food Code, sections 3-501.14, .17 and .19.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from numbers import Integral

from buildsheets.cup.errors import FigureError, finite, non_negative, positive

HOT_C, WARM_C, COLD_C = 57.0, 21.0, 5.0
"""135, 70 and 41 F, as the Food Code rounds them (3-501.14)."""
WARM_WITHIN_H, COLD_WITHIN_H = 2.0, 6.0


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
    elapsed = timedelta(hours=positive("hours", hours))
    return (started.astimezone(UTC) + elapsed).astimezone(started.tzinfo)


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
    start = previous = finite("readings[0].hours", readings[0][0])
    started = False
    warm: float | None = None
    cold: float | None = None
    for number, (hours, temperature) in enumerate(readings):
        if finite(f"readings[{number}].hours", hours) < previous:
            raise FigureError(f"readings[{number}].hours", hours, "must be in order of time")
        previous = hours
        started = started or finite(f"readings[{number}]", temperature) < HOT_C
        if not started:
            start = hours
        if warm is None and temperature <= WARM_C:
            warm = hours - start
        if cold is None and temperature <= COLD_C:
            cold = hours - start
    return Cooling(warm, cold)
