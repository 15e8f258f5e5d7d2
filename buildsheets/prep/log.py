"""Lines of what was made, opened, frozen and finished when go in; what is in use until when, out.

The log is a plain file beside the menu, one line an event, only ever added to: the moment with its
offset, what happened, the id of the batch or ingredient, the use-by of an opened pack that has one,
and of a count how much there is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Literal, TypeAlias, get_args

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Ingredient, Menu, Shop
from buildsheets.prep.batches import Item
from buildsheets.prep.keeping import FREEZING_MOVES, Keeping, keeping, local_time, opened, thawed
from buildsheets.prep.keeping_dates import Frozen

Event: TypeAlias = Literal["made", "opened", "counted", "frozen", "thawed", "gone"]
EVENTS: tuple[Event, ...] = get_args(Event)
HEAD = "# What was made, opened, counted, frozen, thawed and finished or thrown out, newest last.\n"
NOT_ON_MENU = "no longer on the menu"
NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Entry:
    """A batch was made, a pack opened, so much of either was counted, or the oldest of either was
    frozen, thawed or is gone.

    ``use_by`` is the maker's date on a pack that was opened, ``amount`` the count as it was said.
    """

    at: datetime
    event: Event
    id: str
    use_by: date | None = None
    amount: str = ""

    def line(self) -> str:
        """As it stands in the file, with its end."""
        dated = f"use-by {self.use_by}" if self.use_by else ""
        words = (self.at.isoformat(timespec="minutes"), self.event, self.id, dated, self.amount)
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
            found.append(_entry(line))
        except ValueError:
            why = f"line {number} of the log is no moment, event ({', '.join(EVENTS)}) and id"
            wanted = "'2027-03-01T09:30+01:00 made black-tea', a count with '12 l' behind it"
            raise LogBroken(
                f"{why}: {line[:60]!r}; write it like {wanted}, or # before it"
            ) from None
    return found


def _entry(line: str) -> Entry:
    moment, said, id_, *more = line.split()
    event = next((one for one in EVENTS if one == said), None)
    at, use_by, amount = datetime.fromisoformat(moment), None, ""
    if event == "counted":
        amount, more = " ".join(more), [] if more else ["an amount is wanted"]
    elif more and event == "opened":
        word, day = more
        use_by, more = date.fromisoformat(day), [] if word == "use-by" else more
    if event is None or more or at.utcoffset() is None:
        raise ValueError
    return Entry(at, event, id_, use_by, amount)


@dataclass(frozen=True, slots=True)
class InUse:
    """Something made or opened that nobody has finished.

    ``item`` is ``None`` where the menu no longer has it as something that is made, or opened.
    ``assumed`` are the parts of a batch for which the log had nothing in use: they were taken to
    be made or opened when the batch was made. ``frozen_on`` is the day it went into the freezer,
    while it is there. ``keeping`` is ``None`` where it cannot be worked out any more, as from an
    entry that no longer says how long it keeps; ``why`` says so.
    """

    entry: Entry
    item: Item | None
    keeping: Keeping | None
    assumed: tuple[Item, ...] = ()
    frozen_on: date | None = None
    why: str = ""

    @property
    def id(self) -> str:
        return self.entry.id

    @property
    def until(self) -> datetime:
        """When it has to be gone; at once where that cannot be worked out, and in the freezer by
        what freezing does not stop."""
        if self.keeping is None:
            return self.entry.at
        if self.frozen_on is None:
            return self.keeping.discard_at
        unmoved = (one.at for one in self.keeping.limits if one.because not in FREEZING_MOVES)
        return next(unmoved, NEVER)


def in_use(menu: Menu, entries: Iterable[Entry]) -> list[InUse]:
    """What is in use after all entries, what has to be gone first first.

    Entries count by their moments. A batch is taken to be made of the oldest of each part that
    was in use and in date then, which is the careful guess; it inherits their ages (Food Code
    3-501.17). How long something keeps that the menu no longer has is not known.
    """
    now: list[InUse] = []
    for entry in sorted(entries, key=lambda one: one.at.astimezone(UTC)):
        if entry.event == "counted":
            continue
        try:
            now, _ = _then(menu, now, entry)
        except ValueError as wrong:
            if entry.event in ("made", "opened"):
                item = _named(menu, entry)
                known = item is not None and entry.event == _begins(item)
                why = str(wrong) if known else NOT_ON_MENU
                now.append(InUse(entry, item if known else None, None, why=why))
    return sorted(now, key=lambda one: (one.until.astimezone(UTC), one.id))


def newest(using: Iterable[InUse], id_: str) -> InUse | None:
    """What of a thing was made or opened last and is not frozen; of the same minute, what has to
    be gone first."""
    among = [one for one in using if one.id == id_ and one.frozen_on is None]
    return max(among, key=lambda one: (one.entry.at, -one.until.timestamp()), default=None)


def begin(menu: Menu, entries: Sequence[Entry], new: Entry) -> InUse | None:
    """What a new entry puts in use or changes, ``None`` for one that is gone or counted. Raises
    ``ValueError`` for one that cannot be so: nothing of it in use, a part out of date or made
    later. Of what the menu no longer has a count may be gone too."""
    if new.event == "counted":
        return None
    before = sorted((one for one in entries if one.at <= new.at), key=lambda one: one.at)
    of_it = [one for one in before if one.id == new.id]
    if _named(menu, new) is None and new.id not in menu.packaging and of_it:
        if new.event != "gone":
            raise ValueError(f"'{new.id}' is {NOT_ON_MENU}: write it off with log gone {new.id}")
        if of_it[-1].event == "counted":
            return None
    return _then(menu, in_use(menu, before), new)[1]


def _then(menu: Menu, now: Sequence[InUse], entry: Entry) -> tuple[list[InUse], InUse | None]:
    """What is in use after an entry, and what it put there or changed. Raises ``ValueError``."""
    if entry.event in ("made", "opened"):
        one = _begun(menu.shop, _thing(menu, entry), entry, now)
        return [*now, one], one
    frozen = entry.event == "thawed"
    among = [one for one in now if one.id == entry.id]
    if entry.event != "gone":
        among = [one for one in among if (one.frozen_on is not None) == frozen]
    if not among:
        where = "in the freezer" if frozen else "in use"
        raise ValueError(f"the log has no '{entry.id}' {where}")
    old = min(among, key=lambda one: (one.frozen_on is not None, one.entry.at.astimezone(UTC)))
    rest = [one for one in now if one is not old]
    if entry.event == "gone":
        return rest, None
    new = _moved(menu.shop, old, entry)
    return [*rest, new], new


def _moved(shop: Shop, old: InUse, entry: Entry) -> InUse:
    """Put into the freezer, or taken out."""
    day = local_time(shop, entry.at).date()
    if old.item is None:
        return replace(old, frozen_on=day if entry.event == "frozen" else None)
    if not isinstance(old.item, Batch):
        raise ValueError(f"'{entry.id}' is bought: whether it can be frozen, its maker says")
    if old.keeping is None or old.until <= entry.at:
        raise ValueError(f"'{entry.id}' was out of date by then: throw it away")
    try:
        if entry.event == "frozen":
            thawed(old.keeping, Frozen(day, day))  # refuses what counts hours
            return replace(old, frozen_on=day)
        assert old.frozen_on is not None
        return replace(old, keeping=thawed(old.keeping, Frozen(old.frozen_on, day)), frozen_on=None)
    except FigureError as wrong:
        raise ValueError(f"{entry.event} {entry.id}: {wrong.input_name} {wrong.reason}") from None


def _begins(item: Item) -> Event:
    return "made" if isinstance(item, Batch) else "opened"


def _named(menu: Menu, entry: Entry) -> Item | None:
    batch, pack = menu.batches.get(entry.id), menu.ingredients.get(entry.id)
    return pack or batch if entry.event == "opened" else batch or pack


def _thing(menu: Menu, entry: Entry) -> Item:
    """The batch or ingredient an entry is about. Raises ``ValueError``: unknown, or not that kind
    of thing."""
    item = _named(menu, entry)
    if item is None:
        raise ValueError(f"nothing in the menu is called '{entry.id}'")
    if entry.event in ("made", "opened") and entry.event != _begins(item):
        raise ValueError(f"'{entry.id}' is not {entry.event} but {_begins(item)}")
    return item


def ages(now: Iterable[InUse], at: datetime) -> dict[str, Keeping]:
    """How the oldest of each pack and batch keeps that is in date at a moment and not frozen: what
    :func:`keeping` wants of a batch made then."""
    made: dict[str, Keeping] = {}
    for one in sorted(now, key=lambda one: one.entry.at.astimezone(UTC)):
        if one.keeping and one.frozen_on is None and one.entry.at <= at < one.until:
            made.setdefault(one.id, one.keeping)
    return made


def kept(
    shop: Shop, item: Item, at: datetime, now: Iterable[InUse], use_by: date | None = None
) -> tuple[Keeping, tuple[Item, ...]]:
    """How something made or opened at a moment keeps, and the parts whose age the log has not.

    Raises ``ValueError`` where it cannot be, as when all the log has of a part is out of date.
    """
    try:
        if isinstance(item, Ingredient):
            return opened(shop, item, at, use_by), ()
        using = [one for one in now if one.frozen_on is None and one.entry.at <= at]
        made = ages(using, at)
        unknown = {part.id: part for part in _parts(item, made) if part.id not in made}
        for one in using:
            if one.id in unknown:
                raise ValueError(_over(item, one))
        return keeping(shop, item, at, made=made), tuple(unknown.values())
    except FigureError as wrong:
        ended = "" if wrong.value is None else f", since {wrong.value} is over"
        raise ValueError(f"{wrong.input_name} {wrong.reason}{ended}") from None


def _over(item: Item, one: InUse) -> str:
    id_, begun = one.id, one.entry.event
    return (
        f"{item.id}: all {id_} in the log is out of date, as that {begun} on "
        f"{one.entry.at:%a %d %b %H:%M}. If that went in, throw {item.id} away. If not, write down "
        f"first: log gone {id_}, and log {begun} {id_} for what went in"
    )


def _begun(shop: Shop, item: Item, entry: Entry, now: Sequence[InUse]) -> InUse:
    at = local_time(shop, entry.at)
    how, assumed = kept(shop, item, at, now, entry.use_by)
    return InUse(replace(entry, at=at), item, how, assumed)


def _parts(batch: Batch, made: Mapping[str, Keeping]) -> Iterator[Item]:
    """Its parts that age, and those of batches inside whose own age is not known."""
    for part in batch.parts:
        item = part.item
        if isinstance(item, Batch):
            yield item
            if item.id not in made:
                yield from _parts(item, made)
        elif item.keeps_for is not None or item.id in made:
            yield item
