"""What was made, opened, counted or finished goes in; the log beside the menu, and what is in use
or on hand, out."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

from buildsheets.cli.commands import CLEAN, FOUND, refusing, sound_menu
from buildsheets.cli.prep_commands import named_item
from buildsheets.cli.prep_text import text_table
from buildsheets.ledger.lock import Busy, sole_writer
from buildsheets.menu.model import Menu
from buildsheets.place import Place
from buildsheets.prep.keeping import local_time
from buildsheets.prep.log import HEAD, Entry, InUse, begin, in_use, read_log
from buildsheets.prep.stock import Stock, counted, stock

FILE = "kitchen-log.txt"


def log(options: argparse.Namespace) -> int:
    """Write down what was made, opened, counted or is gone; without an event, say what is in use
    and on hand."""
    _, menu = sound_menu(options)
    path, now = Place.of(options.menu).folder / FILE, clock(menu)
    with refusing():
        if not options.event:
            known = entries(path)
            using = in_use(menu, known)
            print("\n\n".join(filter(None, (_listed(using, now), _counts(stock(menu, known))))))
            return FOUND if any(one.until <= now for one in using) else CLEAN
        if not options.ids:
            raise ValueError(f"say what was {options.event}: the id of a batch or ingredient")
        at = local_time(menu.shop, options.at) if options.at else now
        if options.event == "counted":
            new = [
                Entry(at, "counted", id_, amount=amount)
                for id_, amount in _amounts(menu, options.ids)
            ]
        else:
            new = [Entry(at, options.event, id_) for id_ in options.ids]
        for entry, one in zip(new, write_down(menu, path, new, now), strict=True):
            print(_said(entry, one))
        if options.event == "counted":
            print(_undated(stock(menu, entries(path)), new), end="")
    return CLEAN


def clock(menu: Menu) -> datetime:
    """The time at the shop, to the minute."""
    return datetime.now(ZoneInfo(menu.shop.time_zone)).replace(second=0, microsecond=0)


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
    for at, end in pairwise([*places, len(words)]):
        id_, amount = words[at], " ".join(words[at + 1 : end])
        _named(menu, "counted", id_)
        if not amount:
            example = "12 pieces" if id_ in menu.packaging else "12 l"
            raise ValueError(f"say how much there is: {id_} {example}, or {id_} 3 packs")
        yield id_, amount


def _named(menu: Menu, event: str, id_: str) -> None:
    """Raises ``ValueError`` where the menu has nothing of the name; packaging is only counted."""
    if event != "counted" or id_ not in menu.packaging:
        named_item(menu, id_)


def _counts(on_hand: Stock) -> str:
    """What is on hand, by the latest count of each."""
    rows = (
        ("counted", id_, have.written, f"{have.counted_at:%a %d %b %H:%M}")
        for id_, have in on_hand.items()
    )
    return text_table(rows, "llrl") if on_hand else ""


def _undated(on_hand: Stock, new: Sequence[Entry]) -> str:
    """Batches counted that the log does not know as made, which no plan counts on."""
    ids = [one.id for one in new if on_hand[one.id].undated]
    how = "buildsheets log made ID --at 2027-03-01T09:30"
    words = f"not in the log as made, so no plan counts on it: {', '.join(ids)} ({how})\n"
    return words if ids else ""


def _said(entry: Entry, one: InUse | None) -> str:
    if entry.event == "counted":
        return f"{entry.id}: {entry.amount} on hand at {entry.at:%a %d %b %H:%M}"
    if one is None or one.keeping is None:
        return f"{entry.id}: gone at {entry.at:%H:%M}"
    words = f"{entry.id}: {entry.event} at {entry.at:%a %d %b %H:%M}; gone by {_until(one)}"
    words += f" ({_why(one)})"
    if one.assumed:
        names = ", ".join(part.id for part in one.assumed)
        words += f"\n  not in the log, taken as begun now: {names}"
    return words


def _until(one: InUse) -> str:
    assert one.keeping is not None
    last = one.keeping.decisive.last_day
    return f"the end of {last:%a %d %b}" if last else f"{one.until:%a %d %b %H:%M}"


_BECAUSE: dict[str, Callable[[str], str]] = {
    "own": lambda name: f"as {name} keeps",
    "rule": lambda name: f"longest for {name}",
    "time-control": lambda name: f"{name}: hours without cooling",
    "use-by": lambda name: f"use-by of {name}",
    "opened": lambda name: f"{name} once opened",
}


def _why(one: InUse) -> str:
    assert one.keeping is not None
    first = one.keeping.decisive
    return _BECAUSE[first.because](first.path[-1].id)


def _listed(using: Sequence[InUse], now: datetime) -> str:
    """What is in use, what has to be gone first first."""
    if not using:
        return "nothing in use is in the log"
    rows = []
    for one in using:
        begun = f"{one.entry.event} {one.entry.at:%a %d %b %H:%M}"
        if one.keeping is None:
            rows.append(("OUT OF DATE: throw away", one.item.id, begun, one.why))
        else:
            word = "OUT OF DATE: throw away" if one.until <= now else f"until {_until(one)}"
            rows.append((word, one.item.id, begun, _why(one)))
    return text_table(rows, "llll")
