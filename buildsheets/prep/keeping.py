"""Batches and packs and when they were made or opened go in; until when they may be used, and why,
comes out.

Every limit that applies is worked out with the path that brought it, and the earliest one wins:
the batch's own keeping, the shop's rule set, the maker's use-by of any ingredient, how long an
opened ingredient keeps, and the same for every batch inside. Preparation day is Day 1 (FDA Food
Code 3-501.17); a limit in days ends at midnight of its last day, one in hours counts elapsed
hours, right across a change of the clocks. Dates, hours and cooling in plain numbers come first
(fill model section 6; Food Code 3-501.14, .17 and .19).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from numbers import Integral

from buildsheets.cup.errors import FigureError, each, finite, non_negative, positive
from buildsheets.menu.model import Batch, Ingredient, KeepsFor, Shop
from buildsheets.prep.batches import Item

HOT_C, WARM_C, COLD_C = 57.0, 21.0, 5.0
"""135, 70 and 41 F, as the Food Code rounds them (3-501.14)."""
WARM_WITHIN_H, COLD_WITHIN_H = 2.0, 6.0

TIME_CONTROL_H = 4.0
"""Food Code 3-501.19(B): without temperature control, 4 h from leaving it, then discard. England
allows one period under 4 h above 8 degC for service (SI 2013/2996, Schedule 4)."""

ENGLAND_HOT_H = 2.0
"""England: one period under 2 h below 63 degC for hot service (2005 and 2013 Regulations, Sch. 4).
"""

AMBIENT_COOLING_H = 4.0
"""Food Code 3-501.14(B): made from ingredients at room temperature, 5 degC within 4 h."""


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
    for number, (hours, temperature) in enumerate(readings):
        each(finite, **{f"readings[{number}].hours": hours, f"readings[{number}]": temperature})
        if number and hours < readings[number - 1][0]:
            raise FigureError(f"readings[{number}].hours", hours, "must be in order of time")
    start = next((a[0] for a, b in pairwise(readings) if b[1] < HOT_C), readings[-1][0])

    def hours_to(limit_c: float) -> float | None:
        return next((hours - start for hours, at_c in readings if at_c <= limit_c), None)

    return Cooling(hours_to(WARM_C), hours_to(COLD_C))


@dataclass(frozen=True, slots=True)
class Limit:
    """One thing that ends the use: the moment, the last whole day if it counts days, and why.

    ``because`` is "own" (what the batch says), "rule" (the rule set's days), "time-control" (hours
    out of temperature control), "use-by" (the maker's date) or "opened" (an opened ingredient).
    ``path`` runs from the batch asked about to the entry whose limit it is.
    """

    at: datetime
    last_day: date | None
    because: str
    path: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Keeping:
    """A batch made, or a pack opened, at a moment, with every limit, earliest first."""

    item: Item
    prepared_at: datetime
    limits: tuple[Limit, ...]
    at_c: float | None  # kept at: as stated, else the cold limit, else (up to 4 h) anywhere

    @property
    def decisive(self) -> Limit:
        """The limit that comes first."""
        return self.limits[0]

    @property
    def discard_at(self) -> datetime:
        """The moment after which it may not be used."""
        return self.decisive.at

    @property
    def last_day(self) -> date:
        """The last calendar day on which it may be used at all."""
        return self.decisive.last_day or self.decisive.at.date()


def local_time(shop: Shop, when: datetime) -> datetime:
    """A wall-clock time at the shop: its time zone put on, or converted to if there is one."""
    from zoneinfo import ZoneInfo  # not needed for the plain arithmetic above

    zone = ZoneInfo(shop.time_zone)
    try:
        return when.replace(tzinfo=zone) if when.tzinfo is None else when.astimezone(zone)
    except OverflowError:
        raise FigureError("time", when.isoformat(), "lies outside the calendar") from None


def temperature_band(shop: Shop, batch: Batch) -> str:
    """ "cold", "hot" or "between" the shop's holding limits; without a temperature, cold."""
    at_c = None if batch.keeps_for is None else batch.keeps_for.at_c
    if at_c is None or at_c <= shop.cold_limit_c:
        return "cold"
    return "hot" if at_c >= shop.hot_limit_c else "between"


def time_control_h(shop: Shop, batch: Batch) -> float | None:
    """Hours a batch may be used when it is kept at neither limit; ``None`` under control."""
    if temperature_band(shop, batch) != "between":
        return None
    served_hot = batch.serves_at_c is not None and batch.serves_at_c >= shop.hot_limit_c
    if shop.shelf_rules == "england" and served_hot:
        return ENGLAND_HOT_H
    return TIME_CONTROL_H


def keeping(
    shop: Shop,
    batch: Batch,
    prepared_at: datetime,
    *,
    since: Mapping[str, datetime] | None = None,
    made: Mapping[str, Keeping] | None = None,
    frozen: Sequence[Frozen] = (),
) -> Keeping:
    """Until when a batch made at ``prepared_at`` may be used.

    ``since`` says by id when a pack of an ingredient was opened and when a batch inside was made;
    both are taken to be at the preparation where nothing is given. ``made`` has batches inside
    whose keeping is known already, with the ages of their parts. ``frozen`` stays stop the count
    of days without resetting it; they move no use-by and no opened pack. Raises
    :class:`FigureError` for a use-by or limit that has passed before preparation, and for
    freezing something that counts hours.
    """
    start = local_time(shop, prepared_at)
    known = {id_: local_time(shop, when) for id_, when in (since or {}).items()}
    limits = _limits(shop, batch, (batch,), start, known, made or {}, frozen)
    return Keeping(batch, start, _in_order(limits, start), kept_at_c(shop, batch))


def opened(shop: Shop, ingredient: Ingredient, at: datetime) -> Keeping:
    """Until when a pack opened at a moment may be used.

    What is kept cold has the rule set's days too: the day a pack is opened is Day 1 (Food Code
    3-501.17(B)). Raises :class:`FigureError` for one whose entry says nothing of it, or that was
    past its use-by.
    """
    start, keeps = local_time(shop, at), ingredient.keeps_for
    limits = list(_of_pack(ingredient, start, start, (ingredient,)))
    if keeps is not None and keeps.at_c is not None and keeps.at_c <= shop.cold_limit_c:
        limits.append(_by_days(shop.rule_days, start, "rule", (ingredient,), ()))
    if not limits:
        raise FigureError(ingredient.id, "no time", "give it keeps_for: 3 days, or use_by")
    kept_at = None if keeps is None else keeps.at_c
    return Keeping(ingredient, start, _in_order(limits, start), kept_at)


def _in_order(limits: Iterable[Limit], start: datetime) -> tuple[Limit, ...]:
    """Earliest first. Raises :class:`FigureError` for one that ended before the start."""
    ordered = sorted(limits, key=lambda limit: (limit.at.astimezone(UTC), len(limit.path)))
    for limit in ordered:
        if limit.at <= start:
            ended = str(limit.last_day or limit.at)
            raise FigureError(limit.path[-1].id, ended, "may no longer be used")
    return tuple(ordered)


def kept_at_c(shop: Shop, batch: Batch) -> float | None:
    """At what temperature a batch is kept: as stated, else the shop's cold limit.

    ``None`` for one that states none and keeps no longer than time alone allows: it may stand.
    """
    keeps = batch.keeps_for
    if keeps is not None and keeps.at_c is not None:
        return keeps.at_c
    hours = hours_kept(keeps)
    return None if hours is not None and hours <= TIME_CONTROL_H else shop.cold_limit_c


def _limits(
    shop: Shop,
    batch: Batch,
    path: tuple[Item, ...],
    start: datetime,
    since: Mapping[str, datetime],
    made: Mapping[str, Keeping],
    frozen: Sequence[Frozen],
) -> Iterable[Limit]:
    """Limits of a batch made at ``start`` and of all inside it."""
    own, control_h = batch.keeps_for, time_control_h(shop, batch)
    if frozen and (hours := (own and own.hours) or control_h):
        raise FigureError(batch.id, hours, "counts hours and cannot be frozen")
    yield _by_days(shop.rule_days, start, "rule", path, frozen)
    if own is not None:
        yield from _as_it_keeps(own, start, "own", path, frozen)
    if control_h is not None:
        yield Limit(discard_time(start, control_h), None, "time-control", path)
    for part in batch.parts:
        item, here = part.item, (*path, part.item)
        begun = since.get(item.id, start)
        if isinstance(item, Ingredient):
            yield from _of_pack(item, begun, start, here)
        elif item.id in made:
            for limit in made[item.id].limits:
                yield replace(limit, path=(*path, *limit.path))
        elif begun > start:
            raise FigureError(item.id, begun, "was made after the batch it went into")
        else:
            yield from _limits(shop, item, here, begun, since, made, frozen)


def _of_pack(
    ingredient: Ingredient, opened_at: datetime, start: datetime, path: tuple[Item, ...]
) -> Iterable[Limit]:
    """The maker's date of a pack, and how long it keeps once opened."""
    if ingredient.use_by is not None:
        yield Limit(_midnight_after(ingredient.use_by, start), ingredient.use_by, "use-by", path)
    if ingredient.keeps_for is not None:
        yield from _as_it_keeps(ingredient.keeps_for, opened_at, "opened", path, ())


def _as_it_keeps(
    keeps: KeepsFor, start: datetime, because: str, path: tuple[Item, ...], frozen: Sequence[Frozen]
) -> Iterable[Limit]:
    if keeps.days is not None:
        yield _by_days(keeps.days, start, because, path, frozen)
    if keeps.hours is not None:
        yield Limit(discard_time(start, keeps.hours), None, because, path)


def _by_days(
    days: int, start: datetime, because: str, path: tuple[Item, ...], frozen: Sequence[Frozen]
) -> Limit:
    last = discard_date(start.date(), days, frozen=frozen)
    return Limit(_midnight_after(last, start), last, because, path)


def _midnight_after(last_day: date, at: datetime) -> datetime:
    return datetime.combine(last_day + timedelta(days=1), time(), at.tzinfo)


def discard_order(keepings: Iterable[Keeping]) -> list[Keeping]:
    """Batches by the last day they may be used, each day's by the moment they are due."""
    return sorted(keepings, key=lambda k: (k.last_day, k.discard_at.astimezone(UTC), k.item.id))


@dataclass(frozen=True, slots=True)
class CoolingStep:
    """Cool from one temperature to another; ``within_h`` counts from the start of cooling."""

    from_c: float
    to_c: float
    within_h: float | None  # None: as quickly as possible, the rule set names no time


def cooling_steps(shop: Shop, batch: Batch) -> tuple[CoolingStep, ...]:
    """How a batch must be cooled: nothing if it is not kept cold, or made only of what is.

    Food Code 3-501.14: cooked above 57 degC, to 21 degC within 2 h and to the cold limit within
    6 h in all; from room temperature to the cold limit within 4 h. England names no times.
    """
    keeps = batch.keeps_for
    if keeps is None or (keeps.days is None and keeps.at_c is None):
        return ()
    if temperature_band(shop, batch) != "cold":
        return ()
    cooked = any((step.temperature_c or 0.0) >= HOT_C for step in batch.steps)
    if shop.shelf_rules == "england":
        return (CoolingStep(shop.hot_limit_c, shop.cold_limit_c, None),) if cooked else ()
    cold = min(COLD_C, shop.cold_limit_c)
    if not cooked and all(_is_cold(part.item, shop) for part in batch.parts):
        return ()
    if not cooked:
        return (CoolingStep(WARM_C, cold, AMBIENT_COOLING_H),)
    return CoolingStep(HOT_C, WARM_C, WARM_WITHIN_H), CoolingStep(HOT_C, cold, COLD_WITHIN_H)


def _is_cold(item: Item, shop: Shop) -> bool:
    """Whether something is kept in the fridge."""
    at_c = None if item.keeps_for is None else item.keeps_for.at_c
    return at_c is not None and at_c <= shop.cold_limit_c


def outlived(batch: Batch) -> tuple[tuple[Item, ...], ...]:
    """Paths to what ends before the batch's own keeping says, if all is opened or made that day."""
    own_h = hours_kept(batch.keeps_for)

    def shorter(inside: Batch, path: tuple[Item, ...]) -> Iterable[tuple[Item, ...]]:
        for part in inside.parts:
            here, hours = (*path, part.item), hours_kept(part.item.keeps_for)
            if hours is not None and own_h is not None and hours < own_h:
                yield here
            elif isinstance(part.item, Batch):
                yield from shorter(part.item, here)

    return tuple(shorter(batch, (batch,)))


def hours_kept(keeps: KeepsFor | None) -> float | None:
    """How long something keeps in hours, whole days counted in full; ``None`` if not stated."""
    if keeps is None:
        return None
    return keeps.hours if keeps.days is None else 24.0 * keeps.days
