"""A checked menu goes in; its lesson in a language, with its cards' codes, comes out."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from menu_samples import DEMO, check_once

from buildsheets.cli.learning import lesson_of
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.pool import Pool, pool_of
from buildsheets.learn.questions import LEVELS
from buildsheets.pipeline import Checked

NOWHERE = Path("no-such-menu")  # has no ledger


def lesson(checked: Checked, language: str = "") -> Lesson:
    assert checked.menu is not None
    assert not checked.stopped
    return lesson_of(checked, checked.menu, NOWHERE, language)


@cache
def demo(language: str = "en") -> Lesson:
    return lesson(check_once(DEMO), language)


@cache
def demo_pool(station: str, level: int) -> Pool:
    return pool_of(demo(), station, level)


def pools(taught: Lesson) -> Iterator[Pool]:
    """Of all stations together and of each, at every level."""
    for station in ("", *taught.menu.stations):
        for level in LEVELS:
            yield pool_of(taught, station, level)
