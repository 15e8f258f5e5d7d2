"""Dates and times against worked examples of the FDA Food Code as health authorities print them."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cup.errors import FigureError
from buildsheets.prep.keeping_dates import (
    Frozen,
    cooling,
    cooling_from_readings,
    discard_date,
    discard_time,
)


def test_prepared_on_the_first_is_discarded_after_the_seventh():
    # Southern Nevada Health District, FAQ: prepared or opened April 1, discard after April 7
    assert discard_date(date(2024, 4, 1), 7) == date(2024, 4, 7)
    # made October 15, use by October 21
    assert discard_date(date(2024, 10, 15), 7) == date(2024, 10, 21)


def test_a_component_keeps_its_own_date_in_a_new_batch():
    # Southern Nevada Health District, FAQ: cooked June 1, used in a new batch June 3: use by June 7
    cooked = discard_date(date(2024, 6, 1), 7)
    assert discard_date(date(2024, 6, 3), 7, [cooked]) == date(2024, 6, 7)


def test_freezing_stops_the_count_and_does_not_reset_it():
    # North Carolina guidance on 3-501.17: Oct 1 is day 1, Oct 2 day 2, frozen Oct 3, thawed Oct 10
    # is day 3, ... Oct 14 is day 7: discard by midnight of Oct 14
    stay = Frozen(date(2024, 10, 3), date(2024, 10, 10))
    assert discard_date(date(2024, 10, 1), 7, frozen=[stay]) == date(2024, 10, 14)
    # a maker's use-by date does not move
    assert discard_date(date(2024, 10, 1), 7, [date(2024, 10, 9)], frozen=[stay]) == date(
        2024, 10, 9
    )


def test_the_older_rule_of_four_days_and_a_single_day():
    # Indiana 410 IAC 7-24-191 (older code, 41 to 45 F): 4 days
    assert discard_date(date(2024, 2, 27), 4) == date(2024, 3, 1)  # across a leap day
    assert discard_date(date(2024, 2, 27), 1) == date(2024, 2, 27)


@given(
    st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    st.integers(1, 60),
    st.lists(st.integers(0, 100), max_size=4),
)
def test_the_earliest_date_wins(prepared, days, ahead):
    dates = [prepared + timedelta(days=number) for number in ahead]
    last = discard_date(prepared, days, dates)
    assert last == min([prepared + timedelta(days=days - 1), *dates])
    assert last == discard_date(prepared, days, reversed(dates))


def test_four_hours_are_elapsed_hours_across_a_change_of_the_clocks():
    # clocks go forward at 01:00 UTC on 31 March 2024 and back on 27 October 2024
    paris = ZoneInfo("Europe/Paris")
    spring = discard_time(datetime(2024, 3, 31, 0, 30, tzinfo=paris), 4)
    assert (spring.hour, spring.minute) == (5, 30)
    autumn = discard_time(datetime(2024, 10, 27, 0, 30, tzinfo=paris), 4)
    assert (autumn.hour, autumn.minute) == (3, 30)
    # the second 02:30 of the night the clocks go back
    second = discard_time(datetime(2024, 10, 27, 2, 30, fold=1, tzinfo=paris), 4)
    assert second.hour == 6
    first = discard_time(datetime(2024, 10, 27, 2, 30, fold=0, tzinfo=paris), 4)
    assert first.hour == 5
    assert spring.tzinfo is paris


def test_six_hours_over_midnight():
    start = datetime(2024, 5, 1, 20, 0, tzinfo=UTC)
    assert discard_time(start, 6) == datetime(2024, 5, 2, 2, 0, tzinfo=UTC)


def test_cooling_within_two_and_six_hours():
    # Food Code 3-501.14(A): 57 to 21 C in 2 h, to 5 C in 6 h in all
    assert cooling(2, 6).ok
    assert not cooling(2.01, 5).ok
    assert not cooling(1, 6.01).ok
    # 21 C reached within 1 h: 5 h remain
    assert cooling(1, 6).hours_left_for_cold == 5
    assert cooling(2.5, 6).hours_left_for_cold is None


def test_cooling_from_readings():
    measured = cooling_from_readings([(0, 90), (0.5, 60), (1.5, 30), (2.4, 20), (6, 5)])
    assert measured.hours_to_warm == pytest.approx(1.9)
    assert measured.hours_to_cold == pytest.approx(5.5)
    assert measured.ok
    late = cooling_from_readings([(0, 57), (2.1, 21), (5, 4)])
    assert not late.first_stage_ok
    assert late.second_stage_ok
    unfinished = cooling_from_readings([(0, 60), (1, 40)])
    assert unfinished.hours_to_warm is None
    assert not unfinished.ok
    with pytest.raises(FigureError, match=r"56\.9"):
        cooling_from_readings([(0, 56.9)])
    assert cooling_from_readings([(0, 60), (1, 57)]) == cooling_from_readings([(0, 57)])
    # reheated after cooling began: the clock does not start again
    again = cooling_from_readings([(0, 60), (1, 40), (1.5, 60), (3, 20), (5, 5)])
    assert again.hours_to_warm == 3


NOON = datetime(2024, 5, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: discard_date(date(2024, 4, 1), 0), "rule_days"),
        (lambda: discard_date(date(2024, 4, 1), 2.5), "rule_days"),
        (lambda: discard_date(date(2024, 4, 1), 7, [date(2024, 3, 31)]), "use_by"),
        (
            lambda: discard_date(
                date(2024, 4, 1), 7, frozen=[Frozen(date(2024, 4, 8), date(2024, 4, 9))]
            ),
            "frozen",
        ),
        (
            lambda: discard_date(
                date(2024, 4, 1), 7, frozen=[Frozen(date(2024, 3, 1), date(2024, 4, 9))]
            ),
            "frozen",
        ),
        (lambda: Frozen(date(2024, 4, 2), date(2024, 4, 1)), "thawed_on"),
        (lambda: discard_time(NOON.replace(tzinfo=None), 4), "started"),
        (lambda: discard_time(NOON, 0), "hours"),
        (lambda: cooling(-1, 4), "hours_to_warm"),
        (lambda: cooling(2, 1), "hours_to_cold"),
        (lambda: cooling_from_readings([]), "readings"),
        (lambda: cooling_from_readings([(0, 50)]), "readings[0]"),
        (lambda: cooling_from_readings([(1, 60), (0, 20)]), "readings[1].hours"),
    ],
)
def test_refusals_name_the_input(call, named):
    with pytest.raises(FigureError) as refused:
        call()
    assert refused.value.input_name == named
