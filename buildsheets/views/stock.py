"""What was counted goes in; when, what of it is left out and why, in a reader's words, out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from buildsheets.menu.ingredients import Pack
from buildsheets.menu.schema import Record
from buildsheets.prep.stock import End, OnHand, Stock
from buildsheets.views import rounding
from buildsheets.views.words import Words

ONE_COUNT = timedelta(hours=1)
"""Counts within it are told as one, by the first (common practice, no source)."""


def stock_notes(on_hand: Stock, words: Words) -> Iterator[str]:
    """When stock was counted, or that it was not, and what of it is not counted on."""
    if not on_hand:
        yield words("prep_stock_uncounted")
        return
    times = sorted(have.counted_at for have in on_hand.values())
    first, last = (f"{rounding.day(words, at.date())}, {at:%H:%M}" for at in (times[0], times[-1]))
    if times[-1] - times[0] <= ONE_COUNT:
        yield words("prep_stock_counted", at=first)
    else:
        yield words("prep_stock_counted_between", first=first, last=last)
    out = [left_out(have, words) for have in on_hand.values() if have.left_out]
    if out:
        yield words("prep_left_out", names="; ".join(out))


def left_out(have: OnHand, words: Words) -> str:
    """What of a count is not counted on, and why: "Whipping cream 1 l (opened Thu, Nov 26, good to
    the end of Fri, Nov 27)"."""
    told = (f"{how_much(have, end, words)} ({why(end, words)})" for end in have.left_out)
    return f"{words.name(have.item)} {', '.join(told)}"


def how_much(have: OnHand, end: End, words: Words) -> str:
    """What of a count is left out; all of it as it was counted."""
    if have.usable == 0.0 and len(have.left_out) == 1:
        return have.written
    return in_unit(have.unit, end.amount, words)


def why(end: End, words: Words) -> str:
    """Why so much of a count is not counted on."""
    until = "" if end.until is None else _until(end.until, words)
    return words(f"prep_left_out_{end.why}", at="" if end.at is None else _at(end.at, words),
                 until=until)  # fmt: skip


def _at(at: datetime, words: Words) -> str:
    return f"{rounding.day_unbroken(words, at.date())}, {at:%H:%M}"


def _until(until: datetime, words: Words) -> str:
    """A day up to its midnight as that day."""
    if until.hour or until.minute:
        return words("prep_good_to_time", at=_at(until, words))
    day = until.date() - timedelta(days=1)
    return words("prep_good_to_day", day=rounding.day_unbroken(words, day))


def in_unit(unit: str, value: float, words: Words, *, up: bool = False) -> str:
    """An amount in g, ml or pieces, down where it is there and up where it is needed."""
    if unit == "piece":
        return words("prep_pieces", count=round(value))
    amount = rounding.prep_volume if unit == "ml" else rounding.whole_grams
    return amount(words, value, up=up)


def in_pack(unit: str, value: float, words: Words, pack: Record | None) -> str:
    """What a pack holds, to the nearest; pounds and ounces, and any volume in a shop of fluid
    ounces, as they are written of the pack: 5 lb, 1 gal."""
    if isinstance(pack, Pack) and pack.holds is not None:
        as_written = words.volumes.in_fractions if unit == "ml" else pack.holds.unit in ("lb", "oz")
        if as_written:
            return pack.written("quantity").text
    if unit == "ml" and value < 1000:
        return words("mls", n=rounding.amount(words, value))
    return in_unit(unit, round(value, -1 if unit == "ml" else 0), words)
