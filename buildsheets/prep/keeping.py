"""Batches and packs and when they were made or opened go in; until when they may be used, and why,
comes out.

Every limit that applies is worked out with the path that brought it, and the earliest one wins:
the batch's own keeping, the shop's rule set, the maker's use-by of any ingredient, how long an
opened ingredient keeps, and the same for every batch inside. Preparation day is Day 1 (FDA Food
Code 3-501.17); a limit in days ends at midnight of its last day, one in hours counts elapsed
hours, right across a change of the clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Ingredient, KeepsFor, Shop
from buildsheets.prep.batches import Item
from buildsheets.prep.keeping_dates import (
    AMBIENT_COOLING_H,
    COLD_C,
    COLD_WITHIN_H,
    ENGLAND_HOT_H,
    HOT_C,
    REHEAT_C,
    REHEAT_WITHIN_H,
    TIME_CONTROL_H,
    WARM_C,
    WARM_WITHIN_H,
    Frozen,
    discard_date,
    discard_time,
)


@dataclass(frozen=True, slots=True)
class Limit:
    """One thing that ends the use: the moment, the last whole day if it counts days, and why.

    ``begun`` is the moment it counts from: when the batch was made or the pack opened.
    ``because`` is "own" (what the batch says), "rule" (the rule set's days), "time-control" (hours
    out of temperature control), "use-by" (the maker's date) or "opened" (an opened ingredient).
    ``path`` runs from the batch asked about to the entry whose limit it is.
    """

    at: datetime
    last_day: date | None
    because: str
    path: tuple[Item, ...]
    begun: datetime


@dataclass(frozen=True, slots=True)
class Keeping:
    """A batch made, or a pack opened, at a moment, with every limit, earliest first."""

    item: Item
    prepared_at: datetime
    limits: tuple[Limit, ...]
    at_c: float | None  # kept at: as stated, else the cold limit, else (up to 4 h) anywhere
    band: str  # "cold", "hot" or "between"

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


def band_of(shop: Shop, at_c: float | None) -> str:
    """ "cold", "hot" or "between" the shop's holding limits; without a temperature, "between"."""
    if at_c is not None and at_c <= shop.cold_limit_c:
        return "cold"
    return "hot" if at_c is not None and at_c >= shop.hot_limit_c else "between"


def time_control_h(shop: Shop, batch: Batch) -> float | None:
    """Hours a batch may be used when it is kept at neither limit; ``None`` under control."""
    if band_of(shop, kept_at_c(shop, batch)) != "between":
        return None
    served_hot = batch.serves_at_c is not None and batch.serves_at_c >= shop.hot_limit_c
    return ENGLAND_HOT_H if shop.shelf_rules == "england" and served_hot else TIME_CONTROL_H


def keeping(
    shop: Shop, batch: Batch, prepared_at: datetime, *, made: Mapping[str, Keeping] | None = None
) -> Keeping:
    """Until when a batch made at ``prepared_at`` may be used.

    ``made`` has by id how packs and batches that went in keep; the others are taken to be opened
    or made at the preparation. Raises :class:`FigureError` for a use-by or limit that has passed
    before preparation, and for a part made later.
    """
    start = local_time(shop, prepared_at)
    limits = _limits(shop, batch, (batch,), start, made or {})
    at_c = kept_at_c(shop, batch)
    return Keeping(batch, start, _in_order(limits, start), at_c, band_of(shop, at_c))


def opened(shop: Shop, ingredient: Ingredient, at: datetime, use_by: date | None = None) -> Keeping:
    """Until when a pack opened at a moment may be used; ``use_by`` is the date on that pack.

    What is kept cold has the rule set's days too: the day a pack is opened is Day 1 (Food Code
    3-501.17(B)). Raises :class:`FigureError` for one whose entry says nothing of it, or that was
    past its use-by.
    """
    start, keeps = local_time(shop, at), ingredient.keeps_for
    if use_by is not None:
        ingredient = replace(ingredient, use_by=use_by)
    limits = list(_of_pack(ingredient, start, (ingredient,)))
    if keeps is not None and keeps.at_c is not None and keeps.at_c <= shop.cold_limit_c:
        limits.append(_by_days(shop.rule_days, start, "rule", (ingredient,)))
    if not limits:
        why = "does not say how long it keeps once opened: give it keeps_for: 3 days, or a use-by"
        raise FigureError(ingredient.id, None, why)
    kept_at = None if keeps is None else keeps.at_c
    return Keeping(ingredient, start, _in_order(limits, start), kept_at, band_of(shop, kept_at))


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
    brief = keeps is not None and keeps.in_hours <= TIME_CONTROL_H
    return None if brief else shop.cold_limit_c


def _limits(
    shop: Shop, batch: Batch, path: tuple[Item, ...], start: datetime, made: Mapping[str, Keeping]
) -> Iterable[Limit]:
    """Limits of a batch made at ``start`` and of all inside it."""
    own, control_h = batch.keeps_for, time_control_h(shop, batch)
    yield _by_days(shop.rule_days, start, "rule", path)
    if own is not None:
        yield from _as_it_keeps(own, start, "own", path)
    if control_h is not None:
        yield Limit(discard_time(start, control_h), None, "time-control", path, start)
    for part in batch.parts:
        item, here = part.item, (*path, part.item)
        if item.id in made:
            if made[item.id].prepared_at > start:
                raise FigureError(item.id, None, "was made or opened after the batch it went into")
            for limit in made[item.id].limits:
                yield replace(limit, path=(*path, *limit.path))
        elif isinstance(item, Ingredient):
            yield from _of_pack(item, start, here)
        else:
            yield from _limits(shop, item, here, start, made)


def _of_pack(
    ingredient: Ingredient, opened_at: datetime, path: tuple[Item, ...]
) -> Iterable[Limit]:
    """The maker's date of a pack, and how long it keeps once opened."""
    day = ingredient.use_by
    if day is not None:
        yield Limit(_midnight_after(day, opened_at), day, "use-by", path, opened_at)
    if ingredient.keeps_for is not None:
        yield from _as_it_keeps(ingredient.keeps_for, opened_at, "opened", path)


def _as_it_keeps(
    keeps: KeepsFor, start: datetime, because: str, path: tuple[Item, ...]
) -> Iterable[Limit]:
    if keeps.days is not None:
        yield _by_days(keeps.days, start, because, path)
    if keeps.hours is not None:
        yield Limit(discard_time(start, keeps.hours), None, because, path, start)


def _by_days(days: int, start: datetime, because: str, path: tuple[Item, ...]) -> Limit:
    last = discard_date(start.date(), days)
    return Limit(_midnight_after(last, start), last, because, path, start)


def _midnight_after(last_day: date, at: datetime) -> datetime:
    try:
        return datetime.combine(last_day + timedelta(days=1), time(), at.tzinfo)
    except OverflowError:
        raise FigureError("day", last_day, "is past the end of the calendar") from None


def discard_order(keepings: Iterable[Keeping]) -> list[Keeping]:
    """Batches by the last day they may be used, each day's by the moment they are due."""
    return sorted(keepings, key=lambda k: (k.last_day, k.discard_at.astimezone(UTC), k.item.id))


def thawed(kept: Keeping, stay: Frozen) -> Keeping:
    """The same after a stay in the freezer: it stopped the count of days (3-501.17) and moved no
    use-by and no opened pack. Raises :class:`FigureError` for what counts hours."""
    limits = []
    for limit in kept.limits:
        if limit.because in FREEZING_MOVES:
            if limit.last_day is None:
                raise FigureError(kept.item.id, limit.at, "counts hours and cannot be frozen")
            last = limit.last_day + (stay.thawed_on - stay.on)
            limit = replace(limit, at=_midnight_after(last, limit.at), last_day=last)
        limits.append(limit)
    ordered = sorted(limits, key=lambda limit: limit.at.astimezone(UTC))
    return replace(kept, limits=tuple(ordered))


FREEZING_MOVES = ("own", "rule", "time-control")
"""Limits that a stay in the freezer moves, where they count days."""


@dataclass(frozen=True, slots=True)
class CoolingStep:
    """Cool from one temperature to another; ``within_h`` counts from the start of cooling."""

    from_c: float | None  # None: it was never warm
    to_c: float
    within_h: float | None  # None: as quickly as possible, the rule set names no time


def cooling_steps(shop: Shop, batch: Batch) -> tuple[CoolingStep, ...]:
    """How a batch must be cooled: nothing if it is not kept cold, or made only of what is.

    Food Code 3-501.14: what was hot, from 57 to 21 degC within 2 h and to the cold limit within
    6 h in all; what was warm or at room temperature, to the cold limit within 4 h. England: as
    quickly as possible after heating or making (Regulation (EC) 852/2004, Annex II, IX.6).
    """
    if band_of(shop, kept_at_c(shop, batch)) != "cold":
        return ()
    hottest_c = _hottest_c(shop, batch)
    warm = hottest_c > WARM_C
    if not warm and all(_is_cold(part.item, shop) for part in batch.parts):
        return ()
    if shop.shelf_rules == "england":
        start_c = min(hottest_c, shop.hot_limit_c) if warm else None
        return (CoolingStep(start_c, shop.cold_limit_c, None),)
    cold = min(COLD_C, shop.cold_limit_c)
    if hottest_c < HOT_C:
        return (CoolingStep(hottest_c if warm else None, cold, AMBIENT_COOLING_H),)
    return CoolingStep(HOT_C, WARM_C, WARM_WITHIN_H), CoolingStep(HOT_C, cold, COLD_WITHIN_H)


@dataclass(frozen=True, slots=True)
class HotHolding:
    """How a batch is held hot: never below ``at_c``, or once for less than ``once_below_h``; what
    was cold is first heated to ``reheat_c`` within ``reheat_within_h``."""

    at_c: float
    once_below_h: float | None
    reheat_c: float | None
    reheat_within_h: float


def hot_holding(shop: Shop, batch: Batch) -> HotHolding | None:
    """``None`` for a batch that is not kept hot.

    Food Code 3-501.16(A)(1): never below; 3-403.11(A) and (D): what was cooked and cooled is
    reheated to 74 degC within 2 h. England: once, for less than 2 h (Schedule 4, paragraph 7(2));
    its regulations name no reheating temperature.
    """
    if band_of(shop, kept_at_c(shop, batch)) != "hot":
        return None
    us, england = shop.shelf_rules == "us-food-code", shop.shelf_rules == "england"
    cooled = (part.item for part in batch.parts if isinstance(part.item, Batch))
    reheated = any(
        _hottest_c(shop, one) >= HOT_C and band_of(shop, kept_at_c(shop, one)) == "cold"
        for one in cooled
    )
    return HotHolding(
        shop.hot_limit_c,
        ENGLAND_HOT_H if england else None,
        REHEAT_C if us and reheated else None,
        REHEAT_WITHIN_H,
    )


def _hottest_c(shop: Shop, batch: Batch) -> float:
    """The hottest a batch is while it is made: of its steps, and of parts that are kept hot."""
    held = (kept_at_c(shop, p.item) for p in batch.parts if isinstance(p.item, Batch))
    steps = (step.temperature_c for step in batch.steps)
    return max((at_c for at_c in (*held, *steps) if at_c is not None), default=0.0)


def _is_cold(item: Item, shop: Shop) -> bool:
    """Whether something is kept in the fridge."""
    at_c = None if item.keeps_for is None else item.keeps_for.at_c
    return at_c is not None and at_c <= shop.cold_limit_c


def outlived(batch: Batch) -> tuple[tuple[Item, ...], ...]:
    """Paths to what ends before the batch's own keeping says, if all is opened or made that day."""
    own = batch.keeps_for

    def shorter(inside: Batch, path: tuple[Item, ...]) -> Iterable[tuple[Item, ...]]:
        for part in inside.parts:
            here, keeps = (*path, part.item), part.item.keeps_for
            if keeps is not None and own is not None and keeps.in_hours < own.in_hours:
                yield here
            elif isinstance(part.item, Batch):
                yield from shorter(part.item, here)

    return tuple(shorter(batch, (batch,)))
