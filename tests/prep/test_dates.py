"""The date of a planned day: by its weekday in any language, else today."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import prep_samples as s
import pytest

from buildsheets.menu.model import DaySales, Menu
from buildsheets.prep.dates import dates_of, weekday_of

THURSDAY = datetime(2026, 11, 26, 11, 26)
SHOP = s.menu()


def day(id: str) -> DaySales:
    return replace(s.day([]), id=id, name=s.text(id))


# ISO 8601 weekdays less one; the names are of CLDR.
@pytest.mark.parametrize(
    ("id", "weekday"),
    [
        ("saturday", 5), ("Sábado", 5), ("sabado", 5), ("samedi", 5), ("Samstag", 5),
        ("busy-saturday", 5), ("mardi-gras", 1), ("MITTWOCH", 2), ("domingo", 6),
        ("holiday", None), ("saturday-sunday", None), ("sun", None), ("day", None),
    ],
)  # fmt: skip
def test_a_weekday_is_read_in_any_language(id: str, weekday: int | None) -> None:
    assert weekday_of(SHOP, day(id)) == weekday


def on(now: datetime, *ids: str, given: date | None = None, menu: Menu = SHOP) -> list[str]:
    return [f"{one:%d}" for one in dates_of(menu, [day(id) for id in ids], now, given)]


def test_the_next_of_its_weekday_else_today() -> None:
    assert on(THURSDAY, "saturday") == ["28"]
    assert on(THURSDAY, "wednesday") == ["02"]
    assert on(THURSDAY, "holiday") == ["26"]
    assert on(THURSDAY, "thursday") == ["26"]
    evening = THURSDAY.replace(hour=23)
    assert on(evening, "thursday") == ["03"]  # closed: the next one
    closes_at, _ = divmod(day("thursday").closes_at_minutes, 60)
    assert on(THURSDAY.replace(hour=closes_at - 1, minute=59), "thursday") == ["26"]
    assert on(THURSDAY.replace(hour=closes_at, minute=0), "thursday") == ["03"]


def test_days_come_one_after_the_other() -> None:
    assert on(THURSDAY, "friday", "saturday") == ["27", "28"]
    assert on(THURSDAY, "saturday", "saturday") == ["28", "05"]
    assert on(THURSDAY, "holiday", "holiday") == ["26", "27"]
    assert on(THURSDAY, "saturday", "holiday", given=date(2026, 12, 11)) == ["11", "12"]
