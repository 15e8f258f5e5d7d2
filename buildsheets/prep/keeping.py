"""A batch and when it was made go in; until when it may be used, and why, comes out.

Every limit that applies is worked out with the path that brought it, and the earliest one wins:
the batch's own keeping, the shop's rule set, the maker's use-by of any ingredient, how long an
opened ingredient keeps, and the same for every batch inside. Preparation day is Day 1 (FDA Food
Code 3-501.17); a limit in days ends at midnight of its last day, one in hours counts elapsed
hours, right across a change of the clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Ingredient, KeepsFor, Shop
from buildsheets.prep.shelf import (
    COLD_C,
    COLD_WITHIN_H,
    HOT_C,
    WARM_C,
    WARM_WITHIN_H,
    Frozen,
    discard_date,
    discard_time,
)

TIME_CONTROL_H = 4.0
"""Food Code 3-501.19(B): without temperature control, 4 h from leaving it, then discard. England
allows one period under 4 h above 8 degC for service (SI 2013/2996, Schedule 4)."""

ENGLAND_HOT_H = 2.0
"""England: one period under 2 h below 63 degC for hot service (2005 and 2013 Regulations, Sch. 4).
"""

AMBIENT_COOLING_H = 4.0
"""Food Code 3-501.14(B): made from ingredients at room temperature, 5 degC within 4 h."""

Item = Ingredient | Batch


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
    """A batch made at a moment, with every limit, earliest first."""

    batch: Batch
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
        return self.limits[0].at

    @property
    def last_day(self) -> date:
        """The last calendar day on which it may be used at all."""
        first = self.limits[0]
        return first.last_day or first.at.date()


def local_time(shop: Shop, when: datetime) -> datetime:
    """A wall-clock time at the shop: its time zone put on, or converted to if there is one."""
    zone = ZoneInfo(shop.time_zone)
    return when.replace(tzinfo=zone) if when.tzinfo is None else when.astimezone(zone)


def temperature_band(shop: Shop, at_c: float | None) -> str:
    """ "cold", "hot" or "between" the shop's holding limits; without a temperature, cold."""
    if at_c is None or at_c <= shop.cold_limit_c:
        return "cold"
    return "hot" if at_c >= shop.hot_limit_c else "between"


def time_control_h(shop: Shop, batch: Batch) -> float | None:
    """Hours a batch may be used when it is kept at neither limit; ``None`` under control."""
    at_c = batch.keeps_for.at_c if batch.keeps_for is not None else None
    if temperature_band(shop, at_c) != "between":
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
    opened: Mapping[str, datetime] | None = None,
    made: Mapping[str, datetime] | None = None,
    frozen: Sequence[Frozen] = (),
) -> Keeping:
    """Until when a batch made at ``prepared_at`` may be used.

    ``opened`` says when a pack of an ingredient was opened and ``made`` when a batch inside was
    made, by id; both are taken to be ``prepared_at`` where nothing is said. ``frozen`` stays stop
    the count of days without resetting it; they move no use-by and no opened pack. Raises
    :class:`FigureError` for a use-by or limit that has passed before preparation, and for
    freezing something that counts hours.
    """
    start = local_time(shop, prepared_at)
    limits = list(_limits(shop, batch, (batch,), start, start, opened or {}, made or {}, frozen))
    for limit in limits:
        if limit.at <= start:
            raise FigureError(
                limit.path[-1].id, str(limit.last_day or limit.at), "may no longer be used"
            )
    limits.sort(key=lambda limit: (limit.at.astimezone(UTC), len(limit.path)))
    return Keeping(batch, start, tuple(limits), kept_at_c(shop, batch))


def kept_at_c(shop: Shop, batch: Batch) -> float | None:
    """At what temperature a batch is kept: as stated, else the shop's cold limit.

    ``None`` for one that states none and keeps no longer than time alone allows: it may stand.
    """
    keeps = batch.keeps_for
    if keeps is None:
        return shop.cold_limit_c
    if keeps.at_c is not None:
        return keeps.at_c
    short = keeps.days is None and keeps.hours is not None and keeps.hours <= TIME_CONTROL_H
    return None if short else shop.cold_limit_c


def _limits(
    shop: Shop,
    batch: Batch,
    path: tuple[Item, ...],
    start: datetime,
    outer_start: datetime,
    opened: Mapping[str, datetime],
    made: Mapping[str, datetime],
    frozen: Sequence[Frozen],
) -> Iterable[Limit]:
    """Limits of a batch and all inside it; ``outer_start`` is when the outermost was made."""
    yield _by_days(shop.rule_days, start, "rule", path, frozen)
    own = batch.keeps_for
    if own is not None and own.days is not None:
        yield _by_days(own.days, start, "own", path, frozen)
    control = time_control_h(shop, batch)
    for hours, why in ((own.hours if own else None, "own"), (control, "time-control")):
        if hours is not None:
            if frozen:
                raise FigureError(batch.id, hours, "counts hours and cannot be frozen")
            yield Limit(discard_time(start, hours), None, why, path)
    for part in batch.parts:
        item, here = part.item, (*path, part.item)
        if isinstance(item, Batch):
            inner = local_time(shop, made[item.id]) if item.id in made else start
            if inner > outer_start:
                raise FigureError(item.id, inner, "was made after the batch it went into")
            yield from _limits(shop, item, here, inner, outer_start, opened, made, frozen)
            continue
        if item.use_by is not None:
            yield Limit(_midnight_after(item.use_by, start), item.use_by, "use-by", here)
        if item.keeps_for is not None:
            since = local_time(shop, opened[item.id]) if item.id in opened else start
            yield from _opened(item.keeps_for, since, here)


def _opened(keeps: KeepsFor, since: datetime, path: tuple[Item, ...]) -> Iterable[Limit]:
    if keeps.days is not None:
        yield _by_days(keeps.days, since, "opened", path, ())
    if keeps.hours is not None:
        yield Limit(discard_time(since, keeps.hours), None, "opened", path)


def _by_days(
    days: int,
    start: datetime,
    because: str,
    path: tuple[Item, ...],
    frozen: Sequence[Frozen],
) -> Limit:
    last = discard_date(start.date(), days, frozen=frozen)
    return Limit(_midnight_after(last, start), last, because, path)


def _midnight_after(last_day: date, at: datetime) -> datetime:
    return datetime.combine(last_day + timedelta(days=1), time(), at.tzinfo)


@dataclass(frozen=True, slots=True)
class DiscardDay:
    """What has to be gone at the end, or in the course, of one day, earliest first."""

    day: date
    due: tuple[Keeping, ...]


def discard_calendar(keepings: Iterable[Keeping]) -> tuple[DiscardDay, ...]:
    """Batches by the last day they may be used, each day's by the moment they are due."""
    by_day: dict[date, list[Keeping]] = {}
    for one in keepings:
        by_day.setdefault(one.last_day, []).append(one)
    return tuple(
        DiscardDay(
            day, tuple(sorted(due, key=lambda k: (k.discard_at.astimezone(UTC), k.batch.id)))
        )
        for day, due in sorted(by_day.items())
    )


@dataclass(frozen=True, slots=True)
class CoolingStep:
    """Cool from one temperature to another; ``within_h`` counts from the start of cooling."""

    from_c: float
    to_c: float
    within_h: float | None  # None: as quickly as possible, the rule set names no time


def cooling_steps(shop: Shop, batch: Batch) -> tuple[CoolingStep, ...]:
    """How a batch must be cooled: nothing if it is not kept cold.

    Food Code 3-501.14: cooked above 57 degC, to 21 degC within 2 h and to the cold limit within
    6 h in all; from room temperature to the cold limit within 4 h. England names no times.
    """
    keeps = batch.keeps_for
    if keeps is None or (keeps.days is None and keeps.at_c is None):
        return ()
    if temperature_band(shop, keeps.at_c) != "cold":
        return ()
    hottest = max((s.temperature_c for s in batch.steps if s.temperature_c is not None), default=0)
    cold = min(COLD_C, shop.cold_limit_c) if shop.shelf_rules != "england" else shop.cold_limit_c
    if shop.shelf_rules == "england":
        return (CoolingStep(shop.hot_limit_c, cold, None),) if hottest >= HOT_C else ()
    if hottest >= HOT_C:
        return (
            CoolingStep(HOT_C, WARM_C, WARM_WITHIN_H),
            CoolingStep(HOT_C, cold, COLD_WITHIN_H),
        )
    return (CoolingStep(WARM_C, cold, AMBIENT_COOLING_H),)


def outlived(batch: Batch) -> tuple[tuple[Item, ...], ...]:
    """Paths to what ends before the batch's own keeping says, if all is opened or made that day."""
    own = _hours(batch.keeps_for)
    return tuple(_shorter(batch, (batch,), own)) if own is not None else ()


def _shorter(batch: Batch, path: tuple[Item, ...], own: float) -> Iterable[tuple[Item, ...]]:
    for part in batch.parts:
        here = (*path, part.item)
        inner = _hours(part.item.keeps_for)
        if inner is not None and inner < own:
            yield here
        elif isinstance(part.item, Batch):
            yield from _shorter(part.item, here, own)


def _hours(keeps: KeepsFor | None) -> float | None:
    if keeps is None:
        return None
    return keeps.hours if keeps.days is None else 24.0 * keeps.days


def keeping_json(one: Keeping, language: str) -> dict[str, object]:
    """A keeping as plain data, moments in ISO 8601 with their offset."""
    return {
        "batch": one.batch.id,
        "prepared_at": one.prepared_at.isoformat(),
        "discard_at": one.discard_at.isoformat(),
        "last_day": one.last_day.isoformat(),
        "kept_at_c": one.at_c,
        "limits": [
            {
                "at": limit.at.isoformat(),
                "last_day": None if limit.last_day is None else limit.last_day.isoformat(),
                "because": limit.because,
                "path": [entry.name.in_language(language) for entry in limit.path],
            }
            for limit in one.limits
        ],
    }
