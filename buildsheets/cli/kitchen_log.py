"""What was made, opened, counted or finished goes in; the log beside the menu, and what is in use
or on hand, out."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

from buildsheets.cli.commands import CLEAN, FOUND, refusing, report, say, sound_menu
from buildsheets.cli.prep_commands import named_item
from buildsheets.cli.prep_text import text_table
from buildsheets.ledger.lock import Busy, sole_writer
from buildsheets.menu.model import Menu, Shop
from buildsheets.menu.units import PACKS
from buildsheets.place import Place
from buildsheets.prep.keeping import Limit, local_time
from buildsheets.prep.log import HEAD, NOT_ON_MENU, Entry, InUse, begin, in_use, read_log
from buildsheets.prep.stock import Stock, counted, not_on_hand, stock
from buildsheets.print.layouts import Layouts
from buildsheets.views.stock import how_much, why

FILE = "kitchen-log.txt"


def log(options: argparse.Namespace) -> int:
    """Write down what was made, opened, counted or is gone; without an event, say what is in use
    and on hand."""
    _, menu = sound_menu(options)
    path, now = Place.of(options.menu).folder / FILE, clock(menu)
    report((), {}, options)
    with refusing():
        if not options.event:
            known = entries(path)
            using = in_use(menu, known)
            parts = listed(menu.shop, using, now), _counts(menu, known, now), _off_menu(menu, known)
            say("\n\n".join(filter(None, parts)), options)
            _tell((), known, menu, now, options)
            return FOUND if any(one.until <= now for one in using) else CLEAN
        if not options.ids:
            raise ValueError(f"say what was {options.event}: the id of a batch or ingredient")
        if options.use_by and options.event != "opened":
            raise ValueError("--use-by is the date on a pack that is opened")
        at = moment(menu, options.at, now)
        if options.event == "counted":
            new = [
                Entry(at, "counted", id_, amount=amount)
                for id_, amount in _amounts(menu, options.ids)
            ]
        else:
            new = [Entry(at, options.event, id_, options.use_by) for id_ in options.ids]
        for entry, one in zip(new, write_down(menu, path, new, now), strict=True):
            say(_said(menu.shop, entry, one), options)
        if options.event == "counted":
            for line in _not_counted_on(stock(menu, entries(path)), new, now):
                say(line, options)
        _tell(new, entries(path), menu, now, options)
    return CLEAN


def _tell(
    new: Sequence[Entry],
    known: Sequence[Entry],
    menu: Menu,
    now: datetime,
    options: argparse.Namespace,
) -> None:
    """The log for a program, where that was asked for."""
    if options.outcome is not None:
        from buildsheets.cli.prep_results import Logged

        on_hand = [have.up_to(now) for have in stock(menu, known).values()]
        no_amounts = [entry for entry, _ in not_on_hand(menu, known)]
        options.outcome.result = Logged(new, in_use(menu, known), on_hand, no_amounts)


def begun(menu: Menu, id_: str, at: datetime, use_by: date | None) -> Entry:
    """The entry for a batch made or a pack opened."""
    made = id_ in menu.batches
    return Entry(at, "made" if made else "opened", id_, None if made else use_by)


def clock(menu: Menu) -> datetime:
    """The time at the shop, to the minute."""
    return datetime.now(ZoneInfo(menu.shop.time_zone)).replace(second=0, microsecond=0)


def moment(menu: Menu, given: datetime | time | None, now: datetime) -> datetime:
    """A moment as it was given: a time is of today, nothing is now."""
    if given is None:
        return now
    if isinstance(given, time):
        given = datetime.combine(now.date(), given)
    return local_time(menu.shop, given)


def entries(path: Path) -> list[Entry]:
    """The log's entries; none where there is no log yet. Raises ``ValueError``."""
    try:
        return read_log(path.read_text("utf-8"))
    except FileNotFoundError:
        return []
    except UnicodeDecodeError as wrong:
        raise ValueError(f"{path} is not text in UTF-8: {wrong.reason}") from None


def write_down(menu: Menu, path: Path, new: Sequence[Entry], now: datetime) -> list[InUse | None]:
    """Add entries to the log, all or, where one cannot be so, none; what each puts in use.

    Raises ``ValueError`` for one that cannot be so, and for a moment that has not come yet.
    """
    found: list[InUse | None] = []
    try:
        with sole_writer(path.parent):
            known = entries(path)
            for entry in new:
                if entry.id in menu.packaging or all(entry.id != one.id for one in known):
                    _named(menu, entry.event, entry.id)
                if entry.at > now:
                    raise ValueError(f"{entry.at:%Y-%m-%d %H:%M} has not come yet")
                if entry.event == "counted":
                    counted(menu, entry)
                found.append(begin(menu, known, entry))
                known.append(entry)
            _append(path, "".join(entry.line() for entry in new))
    except Busy as busy:
        raise ValueError(f"{busy}; try again") from None
    return found


def _append(path: Path, lines: str) -> None:
    """Add whole lines and wait until the disk has them. A line cut off by a crash goes first: it
    was never reported as written."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
    with open(descriptor, "r+b", buffering=0) as file:
        held = file.read()
        whole = held.rfind(b"\n") + 1
        if whole < len(held):
            file.truncate(whole)
        data = ((HEAD if not whole else "") + lines).encode()
        while data:
            data = data[file.write(data) :]
        os.fsync(descriptor)


def _amounts(menu: Menu, words: Sequence[str]) -> Iterator[tuple[str, str]]:
    """(id, amount) of "whole-milk 12 l oat-drink 3 packs": an id begins the next."""
    known = menu.ingredients.keys() | menu.batches.keys() | menu.packaging.keys()
    places = [at for at, word in enumerate(words) if at == 0 or word in known]
    ids = [words[at] for at in places]
    for at, end in pairwise([*places, len(words)]):
        id_, amount = words[at], " ".join(words[at + 1 : end])
        _named(menu, "counted", id_)
        if ids.count(id_) > 1:
            raise ValueError(f"{id_} is counted twice: write all there is of it as one amount")
        if not amount:
            example = "12 pieces" if id_ in menu.packaging else "12 l"
            raise ValueError(f"say how much there is: {id_} {example}, or {id_} 3 packs")
        yield id_, _plural(amount)


def _plural(amount: str) -> str:
    """ "3 pack" as "3 packs"."""
    number, _, unit = amount.rpartition(" ")
    return f"{amount}s" if unit in PACKS and number not in ("1", "1/2", "½") else amount


def _named(menu: Menu, event: str, id_: str) -> None:
    """Raises ``ValueError`` where the menu has nothing of the name; packaging is only counted."""
    if event != "counted" or id_ not in menu.packaging:
        named_item(menu, id_)


def _counts(menu: Menu, known: Sequence[Entry], now: datetime) -> str:
    """What is on hand, by the latest count of each, and what of it is not counted on now."""
    words = Layouts(None).words("en")
    rows = [
        (
            "counted",
            id_,
            have.written,
            f"{have.counted_at:%a %d %b %H:%M}",
            "; ".join(why(end, words) for end in have.up_to(now).left_out).replace("\u00a0", " "),
        )
        for id_, have in stock(menu, known).items()
    ]
    for entry, because in not_on_hand(menu, known):
        at = local_time(menu.shop, entry.at)
        rows.append(("counted", entry.id, entry.amount, f"{at:%a %d %b %H:%M}", because))
    return text_table(rows, "llrll") if rows else ""


def _off_menu(menu: Menu, known: Sequence[Entry]) -> str:
    """How to write off what the menu no longer has."""
    ids = [one.id for one in in_use(menu, known) if one.item is None]
    ids += [entry.id for entry, why in not_on_hand(menu, known) if why == NOT_ON_MENU]
    return "\n".join(
        f"{id_} is {NOT_ON_MENU}; once it is gone: buildsheets log gone {id_}"
        for id_ in dict.fromkeys(ids)
    )


def _not_counted_on(on_hand: Stock, new: Sequence[Entry], now: datetime) -> Iterator[str]:
    """What of new counts no plan counts on: a batch that the log does not know as made, what is out
    of date, and all where a newer count stands."""
    words = Layouts(None).words("en")
    for entry in new:
        have = on_hand[entry.id]
        if have.counted_at > entry.at:
            newer = f"{have.written} at {have.counted_at:%a %d %b %H:%M}"
            yield f"{entry.id}: a newer count is in the log and stands: {newer}"
            continue
        have = have.up_to(now)
        for end in have.left_out:
            because = why(end, words).replace("\u00a0", " ")
            how = f" (buildsheets log made {entry.id} --at 09:30)" if end.why == "undated" else ""
            amount = how_much(have, end, words)
            yield f"{entry.id}: no plan counts on {amount} of it: {because}{how}"


def _said(shop: Shop, entry: Entry, one: InUse | None) -> str:
    if entry.event == "counted":
        return f"{entry.id}: {entry.amount} on hand at {entry.at:%a %d %b %H:%M}"
    if one is None or one.keeping is None:
        return f"{entry.id}: gone at {entry.at:%H:%M}"
    words = f"{entry.id}: {entry.event} at {entry.at:%a %d %b %H:%M}; "
    words += f"{'' if _first(one) is None else 'gone by '}{_end(one)} ({_why(shop, one)})"
    if one.assumed and entry.event == "made":
        words += f"\n  {ASSUMED}: {', '.join(part.id for part in one.assumed)}"
    return words


ASSUMED = "not in the log, taken to be opened or made at that moment"


def as_logged(using: Sequence[InUse], one: InUse) -> str:
    """That a label says what the log does, and how to label another."""
    of_it = sum(other.id == one.id for other in using)
    which = f", the newest of {of_it} in use" if of_it > 1 else ""
    entry = one.entry
    return (
        f"{entry.id}: as logged, {entry.event} {entry.at:%a %d %b %H:%M}{which}; "
        "for another one add --log, which writes it down too"
    )


def another_than(one: InUse) -> str:
    """That a label is of another pack than the log has in use."""
    return (
        f"{one.entry.id}: labelled as another pack than that opened {one.entry.at:%a %d %b %H:%M}, "
        "which the log has in use"
    )


def _end(one: InUse) -> str:
    """Until when it may be used."""
    first = _first(one)
    if first is None:
        return "in the freezer"
    last = first.last_day
    end = f"the end of {last:%a %d %b}" if last else f"{one.until:%a %d %b %H:%M}"
    return f"{end}, in the freezer" if one.frozen_on else end


def _first(one: InUse) -> Limit | None:
    """What ends it; nothing while it is in the freezer and no use-by or opened pack is in it."""
    assert one.keeping is not None
    return next((limit for limit in one.keeping.limits if limit.at == one.until), None)


_BECAUSE = {
    "own": "as {name} keeps",
    "rule": "longest the food rules allow for {name}",
    "shop": "the shop's own limit for {name}",
    "time-control": "hours of {name} out of the cold or the heat",
    "use-by": "use-by of {name}",
    "opened": "{name} once opened",
}


def _why(shop: Shop, one: InUse) -> str:
    """The reason, and where it is a part's, since when it counts. Whose number of days it is: a
    rule set may name none."""
    first = _first(one)
    if first is None:
        return "the count of days stands still"
    own = first.because == "rule" and not shop.has_statutory_days
    why = _BECAUSE["shop" if own else first.because].format(name=first.path[-1].id)
    inside = len(first.path) > 1 and first.because != "use-by"
    return f"{why}, from {first.begun:%a %d %b %H:%M}" if inside else why


def listed(shop: Shop, using: Sequence[InUse], now: datetime) -> str:
    """What is in use, what has to be gone first first."""
    if not using:
        return "nothing in use is in the log"
    rows = []
    for one in using:
        begun = f"{one.entry.event} {local_time(shop, one.entry.at):%a %d %b %H:%M}"
        why = _why(shop, one) if one.keeping else one.why
        if one.item is None and not _past_use_by(one, now):
            until = "LOOK AT ITS LABEL, or throw away"
            why += f", use-by {one.entry.use_by:%a %d %b}" if one.entry.use_by else ""
            why += f", in the freezer since {one.frozen_on:%a %d %b}" if one.frozen_on else ""
        elif one.until <= now:
            until = "OUT OF DATE: throw away"
        else:
            end = _end(one)
            until = end if one.frozen_on else f"until {end}"
        rows.append((until, one.id, begun, why))
    return text_table(rows, "llll")


def _past_use_by(one: InUse, now: datetime) -> bool:
    return one.entry.use_by is not None and one.entry.use_by < now.date()


def without_dates(shop: Shop, using: Sequence[InUse], now: datetime) -> str:
    """What the log has in use and no calendar can date."""
    return listed(shop, [one for one in using if one.keeping is None], now)
