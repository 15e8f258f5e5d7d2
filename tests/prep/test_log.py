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


def test_hours_are_hours_and_days_are_days_when_the_clocks_change() -> None:
    # Madrid springs forward on 30 March 2025 at 02:00 and back on 26 October at 03:00.
    milk = s.ingredient("milk", keeps_for=s.keeps(days=2))
    foam = s.batch("foam", [s.part(milk, 100)], keeps_for=s.keeps(hours=4))
    day = s.batch("day", [s.part(milk, 100)], keeps_for=s.keeps(hours=24))
    menu = s.menu(shop=s.shop(), batches=[foam, day])
    lines = (
        "2025-03-29T23:00+01:00 opened milk\n2025-03-30T00:30+01:00 made foam\n"
        "2025-03-30T01:00+01:00 made day\n2025-10-25T23:00+02:00 opened milk\n"
        "2025-10-26T00:30+02:00 made foam\n2025-10-26T02:30+02:00 made foam\n"
        "2025-10-26T02:30+01:00 made foam\n"
    )
    found = [(one.item.id, one.until.isoformat()) for one in in_use(menu, read_log(lines))]
    assert found == [
        ("foam", "2025-03-30T05:30:00+02:00"),  # four hours, one of them skipped by the clock
        ("day", "2025-03-31T00:00:00+02:00"),  # the milk's end comes before 24 hours, 02:00
        ("milk", "2025-03-31T00:00:00+02:00"),  # the second day ends at midnight
        ("foam", "2025-10-26T03:30:00+01:00"),
        ("foam", "2025-10-26T05:30:00+01:00"),  # 02:30 the first time
        ("foam", "2025-10-26T06:30:00+01:00"),  # 02:30 the second time
        ("milk", "2025-10-27T00:00:00+01:00"),
    ]


def test_a_line_is_read_as_it_is_written() -> None:
    text = "# a note\n\n2025-06-01T09:30+02:00 made  syrup\n2025-06-01T10:00+02:00 opened mi"
    assert read_log(text) == [Entry(at(1, 9, 30), "made", "syrup")]  # the last was cut off


@pytest.mark.parametrize(
    "line", ["made syrup", "2025-06-01T09:30 made syrup", "2025-06-01T09:30+02:00 eaten syrup"]
)
def test_a_line_that_is_none_is_named(line: str) -> None:
    with pytest.raises(LogBroken, match="line 2 of the log"):
        read_log(f"# head\n{line}\n")


def test_a_use_by_stands_with_the_pack_it_is_on() -> None:
    text = "2025-06-01T09:30+02:00 opened milk use-by 2025-06-02\n"
    (entry,) = read_log(text)
    assert (entry.use_by, entry.line()) == (date(2025, 6, 2), text)
    menu = kitchen()
    second = Entry(at(2), "opened", "milk")
    found = in_use(menu, [entry, second])
    assert [one.keeping.last_day for one in found if one.keeping] == [
        date(2025, 6, 2), date(2025, 6, 4),
    ]  # fmt: skip
    # The cap is made of the first carton while that is good, and of the second after it.
    assert until(menu, entry, second, Entry(at(2, 12), "made", "cap"))["cap"] == date(2025, 6, 2)
    assert until(menu, entry, second, Entry(at(3), "made", "cap"))["cap"] == date(2025, 6, 4)


def test_a_frozen_part_goes_into_nothing_until_it_is_thawed() -> None:
    menu = kitchen()
    frozen = [Entry(at(1), "made", "syrup"), Entry(at(2), "frozen", "syrup")]
    one = begin(menu, frozen, Entry(at(5), "made", "cap"))
    assert one is not None
    assert [item.id for item in one.assumed] == ["milk", "syrup"]
    thawed = [*frozen, Entry(at(20), "thawed", "syrup")]
    # Seven days, the first before the freezer: the 20th is the second, the 25th the last.
    assert until(menu, *thawed)["syrup"] == date(2025, 6, 25)
    late = Entry(at(25, 12), "made", "cap")
    assert until(menu, *thawed, late)["cap"] == date(2025, 6, 25)


def test_a_batch_in_the_freezer_still_ends_with_its_opened_milk() -> None:
    menu = kitchen()
    entries = [Entry(at(1), "made", "cap"), Entry(at(1, 12), "frozen", "cap")]
    (cap,) = in_use(menu, entries)
    assert cap.until.date() == date(2025, 6, 4)  # the end of the 3rd, the milk's third day
    with pytest.raises(ValueError, match="out of date by then"):
        begin(menu, entries, Entry(at(9), "thawed", "cap"))


moments = st.integers(0, 30 * 24 * 60 - 1).map(lambda m: at(1 + m // 1440, m // 60 % 24, m % 60))


@given(
    st.lists(
        st.builds(
            Entry, moments, st.sampled_from(["made", "opened", "frozen", "thawed", "gone"]),
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
        if one.keeping is not None and one.frozen_on is None:
            assert one.until <= min(limit.at for limit in one.keeping.limits)
            assert all(limit.at > one.entry.at for limit in one.keeping.limits)


def test_what_the_menu_no_longer_has_is_there_until_it_is_gone() -> None:
    """Frozen, thawed and gone count for it as for anything: the oldest that is not frozen goes."""
    menu = s.menu(shop=s.shop(), ingredients=[s.ingredient("milk", keeps_for=s.keeps(days=3))])
    entries = [
        Entry(at(1), "made", "purée"), Entry(at(2), "frozen", "purée"),
        Entry(at(3), "made", "purée"), Entry(at(4), "opened", "juice", date(2025, 6, 20)),
    ]  # fmt: skip
    left = in_use(menu, entries)
    assert [(one.id, one.item, one.keeping, one.why) for one in left] == [
        (id_, None, None, "no longer on the menu") for id_ in ("purée", "purée", "juice")
    ]
    assert [one.frozen_on for one in left] == [date(2025, 6, 2), None, None]
    assert all(one.until == one.entry.at for one in left)  # nobody knows: look at it now
    gone = Entry(at(5), "gone", "purée")
    assert begin(menu, entries, gone) is None
    assert [one.entry.at for one in in_use(menu, [*entries, gone])] == [at(1), at(4)]
    for event in ("opened", "frozen", "made"):
        with pytest.raises(ValueError, match="no longer on the menu: write it off with log gone"):
            begin(menu, entries, Entry(at(5), event, "purée"))
    with pytest.raises(ValueError, match="the log has no 'purée' in use"):
        begin(menu, [*entries, gone, gone], gone)


def test_what_was_bought_and_is_now_made_is_there_until_it_is_gone() -> None:
    syrup = s.batch("syrup", [s.part(s.ingredient("sugar"), 100)], keeps_for=s.keeps(days=30))
    menu = s.menu(shop=s.shop(), batches=[syrup])
    bought, made = Entry(at(1), "opened", "syrup"), Entry(at(4), "made", "syrup")
    assert [(one.entry.event, one.item) for one in in_use(menu, [bought, made])] == [
        ("opened", None), ("made", menu.batches["syrup"])
    ]  # fmt: skip
    (left,) = in_use(menu, [bought, made, Entry(at(5), "gone", "syrup")])
    assert left.item is menu.batches["syrup"]
