"""A log's counts go in; what is on hand up to a moment, and what is left out and why, comes out.

The latest count of a thing is what is on hand, until the log says of a batch that it was made,
frozen, thawed or is gone after it: then it has to be counted again. Of a batch all is out when the
oldest in use has to be gone; one that the log does not know as made has no date, and is not counted
on. Of an ingredient each opened pack is out when that has to be gone, and each that went since the
count: a whole pack at most, since nobody wrote how full it was.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, Protocol, TypeVar

from buildsheets.menu.model import Batch, Ingredient, Menu, Packaging
from buildsheets.menu.quantity import QuantityError, parse_quantity
from buildsheets.menu.units import PACKS, Measures
from buildsheets.prep.batches import Item, figure_batch, heap_g_ml
from buildsheets.prep.keeping import local_time
from buildsheets.prep.log import NOT_ON_MENU, Entry, InUse, in_use

_NOISE = 1e-9


Why = Literal[
    "made", "opened", "use-by",
    "undated", "frozen", "pack-gone",
    "recount-made", "recount-frozen", "recount-thawed", "recount-gone",
]  # fmt: skip
"""Why a count ends: with the oldest of the batch made, the pack opened, the maker's date; it has no
date, is in the freezer, a pack of it went; it was made and so on after it was counted."""


@dataclass(frozen=True, slots=True)
class End:
    """So much of a count, at most, cannot be used after ``until``; without that at no time.

    ``at`` is when the batch was made, the pack opened or gone.
    """

    amount: float
    why: Why
    at: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class OnHand:
    """What was counted of a thing: in the unit its packs are in, else in grams, or in pieces.

    ``written`` is the count as it was written, ``usable_share`` what of it can be used after
    trimming. ``ends`` are what of it ends when, ``left_out`` what is not in the amount any more.
    """

    item: Item | Packaging
    counted_at: datetime
    written: str
    amount: float
    unit: str
    usable_share: float = 1.0
    ends: tuple[End, ...] = ()
    left_out: tuple[End, ...] = ()

    @property
    def usable(self) -> float:
        return self.amount * self.usable_share

    def up_to(self, moment: datetime) -> OnHand:
        """What of it can be used up to a moment; the rest is left out."""
        left, out = self.amount, []
        for end in self.ends:
            over = end.until is None or end.until < moment
            if over and (left > 0.0 or end.why.startswith("recount")):
                out.append(replace(end, amount=min(left, end.amount)))
                left -= out[-1].amount
        return replace(self, amount=left, left_out=tuple(out))


Stock = Mapping[str, OnHand]
"""What was counted of each ingredient and batch, by id."""


def stock(menu: Menu, entries: Iterable[Entry]) -> dict[str, OnHand]:
    """What is on hand by the latest count of each thing the menu still has."""
    in_order, latest = _latest(entries)
    using = in_use(menu, in_order)
    found: dict[str, OnHand] = {}
    for id_, place in latest.items():
        try:
            have = counted(menu, in_order[place])
        except ValueError:
            continue
        since = [one for one in in_order[place + 1 :] if one.id == id_]
        of_it = [one for one in using if one.id == id_ and one.item is not None]
        if isinstance(have.item, Batch):
            have = replace(have, ends=(_end_of_batch(menu, of_it, since),))
        elif isinstance(have.item, Ingredient):
            have = replace(have, ends=tuple(_ends_of_packs(menu, have.item, of_it, since)))
        found[id_] = have
    return found


def _latest(entries: Iterable[Entry]) -> tuple[list[Entry], dict[str, int]]:
    """Entries by their moments, and where among them the latest count of each thing is."""
    in_order = sorted(entries, key=lambda one: one.at.astimezone(UTC))
    return in_order, {one.id: at for at, one in enumerate(in_order) if one.event == "counted"}


def not_on_hand(menu: Menu, entries: Iterable[Entry]) -> Iterator[tuple[Entry, str]]:
    """The latest counts that are no amount of anything on the menu, and why, until there is nothing
    of it or it is gone."""
    in_order, latest = _latest(entries)
    using = {one.id for one in in_use(menu, in_order)}
    for id_, place in latest.items():
        gone = any(one.id == id_ and one.event == "gone" for one in in_order[place:])
        if (gone and id_ not in using) or re.fullmatch(r"[0.,]+\D*", in_order[place].amount):
            continue
        try:
            counted(menu, in_order[place])
        except ValueError as wrong:
            known = id_ in menu.batches.keys() | menu.ingredients.keys() | menu.packaging.keys()
            yield in_order[place], str(wrong) if known else NOT_ON_MENU


_ALL = math.inf


def _end_of_batch(menu: Menu, using: Sequence[InUse], since: Sequence[Entry]) -> End:
    """All of it at once: nobody wrote of which making the count is."""
    if since:
        return End(_ALL, _RECOUNT[since[-1].event], local_time(menu.shop, since[-1].at))
    there = [one for one in using if one.frozen_on is None]
    if not there:
        return End(_ALL, "frozen" if using else "undated")
    first = min(there, key=lambda one: one.until)
    return End(_ALL, "made", first.entry.at, first.until)


_RECOUNT: Mapping[str, Why] = {
    "made": "recount-made",
    "frozen": "recount-frozen",
    "thawed": "recount-thawed",
    "gone": "recount-gone",
}


def _ends_of_packs(
    menu: Menu, item: Ingredient, using: Iterable[InUse], since: Iterable[Entry]
) -> Iterator[End]:
    """The maker's date for all of it; a pack each that is opened or went. Of what says no pack
    nobody knows how much that was."""
    if item.use_by is not None:
        end = datetime.combine(item.use_by + timedelta(days=1), time())
        yield End(_ALL, "use-by", until=local_time(menu.shop, end))
    each = _ALL if item.pack is None else item.pack.quantity
    for one in using:
        yield End(each, "opened", one.entry.at, one.until)
    for entry in since:
        if entry.event == "gone":
            yield End(each, "pack-gone", local_time(menu.shop, entry.at))


def counted(menu: Menu, entry: Entry) -> OnHand:
    """A count in the unit of the item. Raises ``ValueError`` with the units that work: litres of
    what is bought by weight and not poured as a liquid are not known by its density."""
    if entry.id in menu.packaging:
        return _pieces(menu, entry, menu.packaging[entry.id])
    items: dict[str, Item] = {**menu.batches, **menu.ingredients}
    item = items.get(entry.id)
    if item is None:
        raise ValueError(f"nothing in the menu is called '{entry.id}'")
    if isinstance(item, Batch) and figure_batch(item).yield_g is None:
        why = "how much it weighs is not known; give it a density, or its yield in g"
        raise ValueError(f"{item.id} cannot be counted: {why}")
    try:
        given = parse_quantity(
            entry.amount, Measures(menu.shop.measures), ("volume", "mass", *PACKS)
        )
    except QuantityError as wrong:
        choices = " or ".join(one.write for one in wrong.choices)
        works = f"write {choices}" if choices else f"count it in {_units(menu, item)}"
        raise ValueError(f"{item.id}: {wrong.message}; {works}") from None
    pack = item.pack if isinstance(item, Ingredient) else None
    unit = "g" if pack is None else pack.unit
    amount, is_in = given.value, "g" if given.kind == "mass" else "ml"
    if given.kind == "tool":
        if pack is None:
            raise ValueError(
                f"{item.id} says no pack, so '{entry.amount}' is no amount; "
                f"count it in {_units(menu, item)}"
            )
        amount, is_in = given.value * pack.quantity, pack.unit
    if is_in != unit:
        density = _g_per_ml(menu, item)
        if density is None:
            why = "its density is not known"
            if item.density_g_ml is not None:
                why = (
                    "what a litre of it weighs as it stands, with the gaps of a heap, is not known"
                )
            raise ValueError(
                f"'{entry.amount}' of {item.id}: {why}; count it in {_units(menu, item)}"
            )
        amount *= density if unit == "g" else 1.0 / density
    at, share = local_time(menu.shop, entry.at), 1.0 if pack is None else pack.usable_share
    return OnHand(item, at, entry.amount, amount, unit, share)


def _pieces(menu: Menu, entry: Entry, item: Packaging) -> OnHand:
    kinds = ("count", *PACKS) if item.pack is not None else ("count",)
    try:
        given = parse_quantity(entry.amount, kinds=kinds)
    except QuantityError as wrong:
        works = "pieces or packs" if item.pack is not None else "pieces"
        raise ValueError(f"{item.id}: {wrong.message}; count it in {works}") from None
    each = item.pack.pieces if item.pack is not None and given.kind == "tool" else 1.0
    amount = given.value * each
    return OnHand(item, local_time(menu.shop, entry.at), entry.amount, amount, "piece")


def _g_per_ml(menu: Menu, item: Item) -> float | None:
    """Grams in a ml as it stands in its container: what is bought by the litre as it says itself, a
    heap with its gaps, a foam with its air.

    ``None`` of a solid whose heap nobody weighed: its density is of a piece, sugar's of a crystal.
    """
    poured = menu.components.values()
    by_volume = isinstance(item, Ingredient) and item.pack is not None and item.pack.unit == "ml"
    if by_volume and item.density_g_ml is not None:
        return item.density_g_ml
    heap = heap_g_ml(poured, item)
    if heap is not None:
        return heap
    if isinstance(item, Batch):
        return figure_batch(item).foam_density_g_ml
    flows = any(
        one.behaves == "liquid" and one.source.id == item.id for one in poured if one.source
    )
    return item.density_g_ml if flows else None


def _units(menu: Menu, item: Item) -> str:
    pack = item.pack if isinstance(item, Ingredient) else None
    litres = _g_per_ml(menu, item) is not None or (pack is not None and pack.unit == "ml")
    grams = _g_per_ml(menu, item) is not None or pack is None or pack.unit == "g"
    volumes = "fl oz" if menu.shop.volumes.in_fractions else "ml or l"
    known = ["g or kg"] * grams + [volumes] * litres + ["packs"] * (pack is not None)
    return ", ".join(known)


def up_to(on_hand: Stock, moment: datetime) -> dict[str, OnHand]:
    """What can be used up to a moment."""
    return {id_: have.up_to(moment) for id_, have in on_hand.items()}


def batches_g(on_hand: Stock, closing: datetime) -> dict[str, float]:
    """Grams of each batch that can be used up to a day's closing."""
    there = up_to(on_hand, closing)
    return {
        id_: have.amount
        for id_, have in there.items()
        if isinstance(have.item, Batch) and have.amount > 0.0
    }


def moment_of(menu: Menu, day: date, minutes: float) -> datetime:
    """The shop's clock at so many minutes of a day; past midnight on the next."""
    days, minute = divmod(int(minutes), 24 * 60)
    clock = time(minute // 60, minute % 60)
    return local_time(menu.shop, datetime.combine(day + timedelta(days=days), clock))


class Need(Protocol):
    """A need of a batch, even between two minutes of a day or all at one."""

    @property
    def from_min(self) -> float: ...
    @property
    def to_min(self) -> float: ...
    @property
    def share(self) -> float: ...


N = TypeVar("N", bound=Need)


def used_first(needs: Iterable[N], share: float) -> tuple[list[N], float]:
    """What is left of a day's needs when so much of a batch is there at its start, and how much of
    it is used. Needs are met in the order of the clock."""
    needs = list(needs)
    total = sum(need.share for need in needs)
    if share >= total * (1.0 - _NOISE):
        return [], total
    low, high = min(n.from_min for n in needs), max(n.to_min for n in needs)
    for _ in range(60):  # down to less than any clock shows
        middle = (low + high) / 2.0
        if sum(_before(need, middle) for need in needs) <= share:
            low = middle
        else:
            high = middle
    at_once = share - sum(_before(need, low) for need in needs)
    left = []
    for need in needs:
        met = _before(need, low)
        if need.to_min <= need.from_min and low <= need.from_min <= high:
            met = min(at_once, need.share)
            at_once -= met
        if need.share - met > _NOISE * total:
            begins = max(need.from_min, low) if need.to_min > need.from_min else need.from_min
            left.append(replace(need, from_min=begins, share=need.share - met))  # type: ignore[type-var]
    return left, share


def _before(need: Need, minute: float) -> float:
    """What of a need falls before a minute."""
    if need.to_min <= need.from_min:
        return need.share if need.from_min < minute else 0.0
    passed = (minute - need.from_min) / (need.to_min - need.from_min)
    return need.share * min(1.0, max(0.0, passed))
