"""The kitchen log: what is in use, until when, and what batches inherit of their parts' ages."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.menu.model import Menu
from buildsheets.prep.keeping import opened
from buildsheets.prep.log import Entry, LogBroken, ages, begin, in_use, read_log

MADRID = ZoneInfo("Europe/Madrid")


def at(day: int, hour: int = 9, minute: int = 0) -> datetime:
    return datetime(2025, 6, day, hour, minute, tzinfo=MADRID)


def kitchen() -> Menu:
    """Milk that keeps three days once open, a syrup of thirty, a cap of both."""
    milk = s.ingredient("milk", keeps_for=s.keeps(days=3))
    syrup = s.batch("syrup", [s.part(s.ingredient("sugar"), 100)], keeps_for=s.keeps(days=30))
    cap = s.batch("cap", [s.part(milk, 100), s.part(syrup, 20)], keeps_for=s.keeps(days=2))
    return s.menu(shop=s.shop(), batches=[syrup, cap])


def until(menu: Menu, *entries: Entry) -> dict[str, date]:
    return {one.item.id: one.keeping.last_day for one in in_use(menu, entries) if one.keeping}


def test_a_syrup_made_of_older_syrup_keeps_the_older_date() -> None:
    # Southern Nevada Health District, FAQ "How long can I keep TCS food": cooked June 1, used in a
    # new batch on June 3, use by June 7, seven days from the older (Food Code 3-501.17).
    old = s.batch("old", [s.part(s.ingredient("sugar"), 100)], keeps_for=s.keeps(days=30))
    new = s.batch("new", [s.part(old, 100)], keeps_for=s.keeps(days=30))
    menu = s.menu(shop=s.shop(), batches=[old, new])
    found = until(menu, Entry(at(1), "made", "old"), Entry(at(3), "made", "new"))
    assert found == {"old": date(2025, 6, 7), "new": date(2025, 6, 7)}


def test_a_batch_of_a_batch_inherits_the_age_of_milk_opened_before() -> None:
    milk = s.ingredient("milk", keeps_for=s.keeps(days=3))
    sauce = s.batch("sauce", [s.part(milk, 100)], keeps_for=s.keeps(days=6))
    cap = s.batch("cap", [s.part(sauce, 100)], keeps_for=s.keeps(days=6))
    menu = s.menu(shop=s.shop(), batches=[sauce, cap])
    # Milk opened on the 2nd ends with the 4th, whatever is made of it; the second carton, opened on
    # the 3rd, did not go into the sauce.
    entries = [
        Entry(at(2), "opened", "milk"), Entry(at(2, 10), "made", "sauce"),
        Entry(at(3), "opened", "milk"), Entry(at(3, 1), "gone", "milk"),
        Entry(at(3, 12), "made", "cap"),
    ]  # fmt: skip
    found = in_use(menu, entries)
    cap_used = next(one for one in found if one.item.id == "cap")
    assert cap_used.keeping is not None
    assert cap_used.keeping.last_day == date(2025, 6, 4)
    path = cap_used.keeping.decisive.path
    assert [item.id for item in path] == ["cap", "sauce", "milk"]


def test_the_oldest_in_date_is_taken_and_what_is_gone_is_not() -> None:
    menu = kitchen()
    first, second = Entry(at(1), "opened", "milk"), Entry(at(2), "opened", "milk")
    made = Entry(at(2, 12), "made", "cap")
    assert until(menu, first, second, made)["cap"] == date(2025, 6, 3)  # its own two days
    later = Entry(at(3, 12), "made", "cap")
    assert until(menu, first, second, later)["cap"] == date(2025, 6, 3)  # milk of the 1st
    gone = Entry(at(3, 11), "gone", "milk")
    assert until(menu, first, second, gone, later)["cap"] == date(2025, 6, 4)  # milk of the 2nd
    over = Entry(at(4, 1), "made", "cap")  # the first carton ended with the 3rd
    assert until(menu, first, second, over)["cap"] == date(2025, 6, 4)


def test_parts_not_in_the_log_are_assumed_and_said() -> None:
    menu = kitchen()
    one = begin(menu, [Entry(at(1), "made", "syrup")], Entry(at(2), "made", "cap"))
    assert one is not None
    assert [item.id for item in one.assumed] == ["milk"]
    both = begin(menu, [], Entry(at(2), "made", "cap"))
    assert both is not None
    assert [item.id for item in both.assumed] == ["milk", "syrup"]


def test_an_opened_pack_kept_cold_has_the_rule_sets_days_too() -> None:
    # Food Code 3-501.17(B): the day it is opened is Day 1 of seven.
    milk = s.ingredient("milk", keeps_for=s.keeps(days=20, at_c=5.0))
    assert opened(s.shop(), milk, at(1)).last_day == date(2025, 6, 7)
    tin = s.ingredient("tin", keeps_for=s.keeps(days=20))
    assert opened(s.shop(), tin, at(1)).last_day == date(2025, 6, 20)
    dated = s.ingredient("dated", keeps_for=s.keeps(days=20), use_by=date(2025, 6, 4))
    assert opened(s.shop(), dated, at(1)).decisive.because == "use-by"


def test_what_cannot_be_is_refused_with_what_helps() -> None:
    menu = kitchen()
    with pytest.raises(ValueError, match="nothing in the menu is called 'mlik'"):
        begin(menu, [], Entry(at(1), "opened", "mlik"))
    with pytest.raises(ValueError, match="'syrup' is not opened but made"):
        begin(menu, [], Entry(at(1), "opened", "syrup"))
    with pytest.raises(ValueError, match="no 'milk' in use"):
        begin(menu, [], Entry(at(1), "gone", "milk"))
    with pytest.raises(ValueError, match="give it keeps_for"):
        begin(menu, [], Entry(at(1), "opened", "sugar"))
    assert begin(menu, [Entry(at(1), "opened", "milk")], Entry(at(2), "gone", "milk")) is None


def test_what_no_longer_says_how_long_it_keeps_is_out_at_once() -> None:
    (one,) = in_use(kitchen(), [Entry(at(1), "opened", "sugar")])
    assert one.keeping is None
    assert one.until == at(1)
    assert "keeps_for" in one.why


def test_ages_are_of_what_is_in_date() -> None:
    menu = kitchen()
    now = in_use(menu, [Entry(at(1), "opened", "milk"), Entry(at(2), "made", "syrup")])
    made = ages(now, at(3))
    assert made["milk"].prepared_at == at(1)
    assert set(made) == {"milk", "syrup"}
    assert set(ages(now, at(4))) == {"syrup"}  # three days are over
    assert set(ages(now, at(1, 12))) == {"milk"}  # the syrup is not yet made


def test_a_line_is_read_as_it_is_written() -> None:
    text = "# a note\n\n2025-06-01T09:30+02:00 made  syrup\n2025-06-01T10:00+02:00 opened mi"
    assert read_log(text) == [Entry(at(1, 9, 30), "made", "syrup")]  # the last was cut off


@pytest.mark.parametrize(
    "line", ["made syrup", "2025-06-01T09:30 made syrup", "2025-06-01T09:30+02:00 eaten syrup"]
)
def test_a_line_that_is_none_is_named(line: str) -> None:
    with pytest.raises(LogBroken, match="line 2 of the log"):
        read_log(f"# head\n{line}\n")


moments = st.integers(0, 30 * 24 * 60 - 1).map(lambda m: at(1 + m // 1440, m // 60 % 24, m % 60))


@given(
    st.lists(
        st.builds(
            Entry, moments, st.sampled_from(["made", "opened", "gone"]),
            st.sampled_from(["milk", "syrup", "cap", "sugar", "unknown"]),
        ),
        max_size=12,
    )
)  # fmt: skip
def test_any_log_is_read_back_and_nothing_outlives_what_is_in_it(entries: list[Entry]) -> None:
    menu = kitchen()
    assert read_log("".join(entry.line() for entry in entries)) == entries
    found = in_use(menu, entries)
    assert [one.until for one in found] == sorted(one.until for one in found)
    for one in found:
        if one.keeping is not None:
            assert one.until <= min(limit.at for limit in one.keeping.limits)
            assert all(limit.at > one.entry.at for limit in one.keeping.limits)
