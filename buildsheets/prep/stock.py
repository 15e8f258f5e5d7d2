"""A log's counts go in; what is on hand, when it was counted and how long it keeps, comes out.

The latest count of a thing is what is on hand. A batch can be used until the oldest of it in use
has to be gone; one that the log does not know as made has no date, and is not counted on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Protocol, TypeVar

from buildsheets.menu.model import Batch, Ingredient, Menu
from buildsheets.menu.quantity import QuantityError, parse_quantity
from buildsheets.menu.units import PACKS, Measures
from buildsheets.prep.batches import Item, figure_batch, heap_g_ml
from buildsheets.prep.keeping import local_time
from buildsheets.prep.log import Entry, in_use

_NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class OnHand:
    """What was counted of a thing, in the unit its packs are in, else in grams.

    ``written`` is the count as it was written, ``usable_share`` what of it can be used after
    trimming. ``until`` is when it has to be gone, where it must; ``undated`` is a batch that the
    log does not know as made.
    """

    item: Item
    counted_at: datetime
    written: str
    amount: float
    unit: str
    usable_share: float = 1.0
    until: datetime | None = None
    undated: bool = False

    @property
    def usable(self) -> float:
        return self.amount * self.usable_share

    def keeps_to(self, moment: datetime) -> bool:
        """Whether it can still be used then."""
        return not self.undated and (self.until is None or moment <= self.until)


Stock = Mapping[str, OnHand]
"""What was counted of each ingredient and batch, by id."""


def stock(menu: Menu, entries: Iterable[Entry]) -> dict[str, OnHand]:
    """What is on hand by the latest count of each thing the menu still has."""
    entries = list(entries)
    found: dict[str, OnHand] = {}
    using: dict[str, datetime] = {}
    for one in in_use(menu, entries):
        if one.frozen_on is not None:
            continue  # frozen is not at hand
        using[one.item.id] = min(one.until, using.get(one.item.id, one.until))
    for entry in sorted(entries, key=lambda one: one.at.astimezone(UTC)):
        if entry.event != "counted":
            continue
        try:
            have = counted(menu, entry)
        except ValueError:
            found.pop(entry.id, None)
            continue
        if isinstance(have.item, Batch):
            until = using.get(entry.id)
            have = replace(have, until=until, undated=until is None)
        found[entry.id] = have
    return found


def counted(menu: Menu, entry: Entry) -> OnHand:
    """A count in the unit of the item. Raises ``ValueError`` with the units that work."""
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
            raise ValueError(
                f"'{entry.amount}' of {item.id}: its density is not known; "
                f"count it in {_units(menu, item)}"
            )
        amount *= density if unit == "g" else 1.0 / density
    at, share = local_time(menu.shop, entry.at), 1.0 if pack is None else pack.usable_share
    return OnHand(item, at, entry.amount, amount, unit, share, _use_by(menu, item))


def _use_by(menu: Menu, item: Item) -> datetime | None:
    """The end of the maker's day."""
    if not isinstance(item, Ingredient) or item.use_by is None:
        return None
    return local_time(menu.shop, datetime.combine(item.use_by + timedelta(days=1), time()))


def _g_per_ml(menu: Menu, item: Item) -> float | None:
    """Grams in a ml as it stands in its container: a heap with its gaps, a foam with its air."""
    heap = heap_g_ml(menu.components.values(), item)
    if heap is not None:
        return heap
    return item.density_g_ml if isinstance(item, Ingredient) else (
        figure_batch(item).foam_density_g_ml
    )  # fmt: skip


def _units(menu: Menu, item: Item) -> str:
    pack = item.pack if isinstance(item, Ingredient) else None
    litres = _g_per_ml(menu, item) is not None or (pack is not None and pack.unit == "ml")
    grams = _g_per_ml(menu, item) is not None or pack is None or pack.unit == "g"
    known = ["g or kg"] * grams + ["ml or l"] * litres + ["packs"] * (pack is not None)
    return ", ".join(known)


def batches_g(on_hand: Stock, closing: datetime) -> dict[str, float]:
    """Grams of each batch that can be used up to a day's closing."""
    return {
        id_: have.amount
        for id_, have in on_hand.items()
        if isinstance(have.item, Batch) and have.keeps_to(closing)
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
