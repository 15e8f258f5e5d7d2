"""A menu's files in; what is known of them now, and the newest menu without an error, out.

Saving one drink has the rules look at what differs from the newest sound menu first, so that its
card shows at once; then at the whole menu, whose word is the last.
"""

from __future__ import annotations

import gc
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from threading import Condition, Event

from buildsheets.findings.finding import LINE_BREAK, Finding, Source
from buildsheets.menu.files import own_layouts, watched
from buildsheets.pipeline import Checked, judged, linked, misplaced_layouts
from buildsheets.rules.run import own_fault

PAGE_S = 1.0
"""How long the rest of a menu waits for a page that shows what was saved, where one is open."""


@dataclass(frozen=True, slots=True)
class Dated:
    """A checked menu and when its files were read."""

    checked: Checked
    at: datetime


@dataclass(frozen=True, slots=True)
class Known:
    """The menu as its files are now, and the newest one without an error, whose cards are shown.

    ``whole`` is false while only what was saved has been checked. ``number`` goes up with each
    change of what is known.
    """

    number: int
    now: Dated
    sound: Dated | None
    whole: bool = True

    @property
    def older(self) -> bool:
        """Whether the cards are those of before an error."""
        return self.sound is not None and self.now.checked.stopped


class Watch:
    """Looks after a menu, in a thread of its own: see :meth:`run`."""

    def __init__(self, menu: Path) -> None:
        self.menu = menu
        self._known: Known | None = None
        self._settled: Dated | None = None  # the newest that is sound as a whole
        self._changed = Condition()
        self._ended = Event()
        self._seen = 0  # the newest number a page has shown

    @property
    def known(self) -> Known:
        """What is known; waits for the first look at the files."""
        with self._changed:
            self._changed.wait_for(lambda: self._known is not None)
            assert self._known is not None
            return self._known

    def seen(self, number: int) -> None:
        """A page shows what has this number."""
        with self._changed:
            self._seen = max(self._seen, number)
            self._changed.notify_all()

    def end(self) -> None:
        """Look at the files no more."""
        self._ended.set()

    def run(self) -> None:
        """Take in the files whenever they change, until it is ended."""
        for sources, findings in watched(self.menu, self._ended.wait):
            self.take(sources, findings)
            # Sweep now, while nobody waits, and leave what is kept of a menu out of later sweeps:
            # going through that of eighty drinks takes as long as showing a card.
            gc.unfreeze()
            gc.collect()
            gc.freeze()

    def take(self, sources: dict[str, Source], findings: Sequence[Finding]) -> None:
        """Take in the files of a menu as they are now."""
        at = datetime.now()
        try:
            before = [*findings, *misplaced_layouts(self.menu)]
            menu = linked(sources, before, own_layouts(self.menu))
            saved = drinks_saved(self._settled.checked, menu) if self._settled else None
            if saved is not None and self._seen:
                self._tell(Dated(judged(menu, saved), at), whole=False)
                self._wait_for_page()
            self._tell(Dated(judged(menu), at), whole=True)
        except Exception as error:  # ours: the preview goes on, and says so
            broken = Checked(sources, None, (), (own_fault("checking the menu", error),))
            self._tell(Dated(broken, at), whole=True)

    def _tell(self, now: Dated, *, whole: bool) -> None:
        sound = self._settled if now.checked.stopped else now
        with self._changed:
            number = self._known.number + 1 if self._known else 1
            self._known = Known(number, now, sound, whole)
            if whole:
                self._settled = sound
            self._changed.notify_all()

    def _wait_for_page(self) -> None:
        with self._changed:
            assert self._known is not None
            number = self._known.number
            self._changed.wait_for(lambda: self._seen >= number, timeout=PAGE_S)


def drinks_saved(before: Checked, now: Checked) -> set[str] | None:
    """The drinks that are written otherwise than before, where nothing else is; else nothing."""
    old, new = _written(before), _written(now)
    if old is None or new is None or old[1] != new[1] or old[0].keys() != new[0].keys():
        return None
    return {id for id, text in new[0].items() if text != old[0][id]}


def _written(checked: Checked) -> tuple[dict[str, str], dict[str, str]] | None:
    """The lines each drink is written in, and what else is in each file."""
    if checked.menu is None:
        return None
    lines = {name: LINE_BREAK.split(one.text) for name, one in checked.sources.items()}
    drinks = {}
    for drink in sorted(checked.menu.drinks.values(), key=lambda one: one.span, reverse=True):
        own = slice(drink.span.line - 1, drink.span.end_line)
        drinks[drink.id] = "\n".join(lines[drink.span.file][own])
        lines[drink.span.file][own] = [""]
    return drinks, {name: "\n".join(rest) for name, rest in lines.items()}
