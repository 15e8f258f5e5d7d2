"""Opening hours past midnight and how busy each hour is."""

from __future__ import annotations

import menu_samples as m
import pytest

DAY = '    opens: "10:00"\n    closes: "20:00"\n'


def day(lines: str) -> m.Checked:
    return m.check_texts(m.swapped(m.SMALL, DAY, lines))


def test_a_night_ends_on_the_next_day() -> None:
    menu = day('    opens: "18:00"\n    closes: "02:00"\n').menu
    assert menu is not None
    assert menu.days["busy"].closes_at_minutes == 26 * 60
    assert menu.days["busy"].spread == ((1080.0, 1560.0, 1.0),)


def test_guests_of_each_hour_are_shares_of_the_day() -> None:
    hours = '    guests: [{at: "19:30", count: 30}, {at: "01:00", count: 10}]\n'
    menu = day(f'    opens: "18:00"\n    closes: "02:00"\n{hours}').menu
    assert menu is not None
    assert menu.days["busy"].spread == ((1170.0, 1230.0, 0.75), (1500.0, 1560.0, 0.25))


@pytest.mark.parametrize(
    ("hour", "code"),
    [('"09:00", count: 5', "DAY03"), ('"21:00", count: 5', "DAY03"), ("noon, count: 5", "DAY02"),
     ('"12:00", count: -1', "RNG01")],
)  # fmt: skip
def test_hours_that_are_none_or_closed_are_named(hour: str, code: str) -> None:
    found = day(f"{DAY}    guests: [{{at: {hour}}}]\n").findings
    assert [one.code for one in found] == [code], m.said(found)
