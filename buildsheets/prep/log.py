"""Lines of what was made, opened and finished when go in; what is in use and until when, out.

The log is a plain file beside the menu, one line an event, only ever added to: the moment with its
offset, what happened, the id of the batch or ingredient, and of a count how much there is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal, TypeAlias, get_args

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Ingredient, Menu, Shop
from buildsheets.prep.batches import Item
from buildsheets.prep.keeping import Keeping, keeping, local_time, opened

Event: TypeAlias = Literal["made", "opened", "gone", "counted"]
_EVENTS: dict[str, Event] = {event: event for event in get_args(Event)}
HEAD = "# What was made, opened, counted and finished or thrown out, a line each, newest last.\n"


@dataclass(frozen=True, slots=True)
class Entry:
    """A batch was made, a pack opened, the oldest of either in use is gone, or there was so much
    of it: ``amount`` as counted, else empty."""

    at: datetime
    event: Event
    id: str
    amount: str = ""

    def line(self) -> str:
        """As it stands in the file, with its end."""
        words = (self.at.isoformat(timespec="minutes"), self.event, self.id, self.amount)
        return " ".join(filter(None, words)) + "\n"


class LogBroken(ValueError):
    """A line of the log cannot be read; the message has its number and what it should be."""


def read_log(text: str) -> list[Entry]:
    """The entries of a log, in the order of their lines. Raises ``LogBroken``.

    Empty lines and those that begin with # are passed over. What follows the last line end was
    cut off while it was written, and was never reported as written.
    """
    found = []
    for number, line in enumerate(text.split("\n")[:-1], 1):
        if not line.strip() or line.startswith("#"):
            continue
        try:
            at, event, id_, *amount = line.split()
            entry = Entry(datetime.fromisoformat(at), _EVENTS[event], id_, amount=" ".join(amount))
            if entry.at.utcoffset() is None or bool(amount) != (event == "counted"):
                raise ValueError
        except (ValueError, KeyError):
            events = "made, opened, gone or counted"
            why = f"line {number} of the log is no moment, {events}, and id: {line!r}"
            wanted = "'2027-03-01T09:30+01:00 made black-tea', a count with '12 l' behind it"
            raise LogBroken(f"{why}; write it like {wanted}, or put # before it") from None
        found.append(entry)
    return found


@dataclass(frozen=True, slots=True)
class InUse:
    """Something made or opened that nobody has finished.

    ``assumed`` are the parts of a batch for which the log had nothing in date: they were taken to
    be made or opened when the batch was made. ``keeping`` is ``None`` where it cannot be worked out
    any more, as from an entry that no longer says how long it keeps; ``why`` says so.
    """

    entry: Entry
    item: Item
    keeping: Keeping | None
    assumed: tuple[Item, ...] = ()
    why: str = ""

    @property
    def until(self) -> datetime:
        """When it has to be gone; at once where that cannot be worked out."""
        return self.keeping.discard_at if self.keeping else self.entry.at


def in_use(menu: Menu, entries: Iterable[Entry]) -> list[InUse]:
    """What is in use after all entries, what has to be gone first first.

    Entries count by their moments. A batch is taken to be made of the oldest of each part that
    was in use and in date then, which is the careful guess; it inherits their ages (Food Code
    3-501.17). What the menu no longer has is passed over.
    """
    now: list[InUse] = []
    for entry in sorted(entries, key=lambda one: one.at.astimezone(UTC)):
        if entry.event == "counted":
            continue
        if entry.event == "gone":
            oldest = next((one for one in now if one.item.id == entry.id), None)
            if oldest is not None:
                now.remove(oldest)
            continue
        try:
            item = thing(menu, entry)
        except ValueError:
            continue
        try:
            now.append(_begun(menu.shop, item, entry, now))
        except ValueError as wrong:
            now.append(InUse(entry, item, None, why=str(wrong)))
    return sorted(now, key=lambda one: (one.until.astimezone(UTC), one.item.id))


def thing(menu: Menu, entry: Entry) -> Item:
    """The batch or ingredient an entry is about. Raises ``ValueError``: unknown, or not that kind
    of thing."""
    kinds: dict[str, dict[str, Item]] = {
        "made": dict(menu.batches), "opened": dict(menu.ingredients),
    }  # fmt: skip
    among = kinds.get(entry.event) or kinds["made"] | kinds["opened"]
    if entry.id in among:
        return among[entry.id]
    other = {"made": "opened", "opened": "made"}.get(entry.event, "")
    if other and entry.id in kinds[other]:
        raise ValueError(f"'{entry.id}' is not {entry.event} but {other}")
    raise ValueError(f"nothing in the menu is called '{entry.id}'")


def begin(menu: Menu, entries: Sequence[Entry], new: Entry) -> InUse | None:
    """What a new entry puts in use, ``None`` for one that is gone or counted. Raises
    ``ValueError`` for one that cannot be so: nothing of it in use, a part that was made later."""
    if new.event == "counted" and new.id in menu.packaging:
        return None
    item, now = thing(menu, new), in_use(menu, (one for one in entries if one.at <= new.at))
    if new.event == "counted":
        return None
    if new.event != "gone":
        return _begun(menu.shop, item, new, now)
    if not any(one.item.id == new.id for one in now):
        raise ValueError(f"the log has no '{new.id}' in use")
    return None


def ages(now: Iterable[InUse], at: datetime) -> tuple[dict[str, datetime], dict[str, Keeping]]:
    """Since when packs are open, and how batches keep, of the oldest of each in date at a moment:
    what :func:`keeping` wants of a batch made then."""
    since: dict[str, datetime] = {}
    made: dict[str, Keeping] = {}
    for one in sorted(now, key=lambda one: one.entry.at.astimezone(UTC)):
        if one.keeping is not None and one.entry.at <= at < one.until:
            if isinstance(one.item, Batch):
                made.setdefault(one.item.id, one.keeping)
            else:
                since.setdefault(one.item.id, one.entry.at)
    return since, made


def _begun(shop: Shop, item: Item, entry: Entry, now: Sequence[InUse]) -> InUse:
    at = local_time(shop, entry.at)
    try:
        if isinstance(item, Ingredient):
            return InUse(entry, item, opened(shop, item, at))
        since, made = ages(now, at)
        kept = keeping(shop, item, at, since=since, made=made)
    except FigureError as wrong:
        said = f"{wrong.input_name} {wrong.reason} ({wrong.value})"
        raise ValueError(f"{entry.event} {entry.id}: {said}") from None
    known = since.keys() | made.keys()
    assumed = {part.id: part for part in _parts(item, made) if part.id not in known}
    return InUse(replace(entry, at=at), item, kept, tuple(assumed.values()))


def _parts(batch: Batch, made: dict[str, Keeping]) -> Iterator[Item]:
    """Its parts that age, and those of batches inside whose own age is not known."""
    for part in batch.parts:
        item = part.item
        if isinstance(item, Batch):
            yield item
            if item.id not in made:
                yield from _parts(item, made)
        elif item.keeps_for is not None:
            yield item
