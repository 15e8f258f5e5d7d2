"""Discard dates against published worked dates, freezing, month ends and the change of clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cli import prep_results  # noqa: F401 - the keys that it is told by
from buildsheets.cli.plain_data import told
from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Ingredient
from buildsheets.prep import keeping as k
from buildsheets.prep.keeping_dates import Frozen


def at(year: int, month: int, day: int, hour: int = 9, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute)


def long_keeper(*parts: Any, **given: Any) -> Batch:
    values: dict[str, Any] = {"keeps_for": s.keeps(days=30), **given}
    return s.batch(
        "mix", [s.part(p, 100) for p in parts] or [s.part(s.ingredient("x"), 1)], **values
    )


def made(item: Ingredient | Batch, when: datetime) -> dict[str, k.Keeping]:
    """A part that was made or opened at a moment."""
    how = k.keeping if isinstance(item, Batch) else k.opened
    return {item.id: how(s.shop(), item, when)}


# Published worked dates of FDA Food Code 3-501.17 (7 days, preparation day is Day 1).


def test_opened_april_1_discard_after_april_7() -> None:
    # Southern Nevada Health District, FAQ "How long can I keep TCS food".
    kept = k.keeping(s.shop(), long_keeper(), at(2025, 4, 1))
    assert kept.last_day == date(2025, 4, 7)
    assert kept.decisive.because == "rule"
    assert kept.discard_at.isoformat() == "2025-04-08T00:00:00+02:00"


def test_cooked_june_1_used_june_3_use_by_june_7() -> None:
    # Same FAQ: cooked Jun 1, used in a new batch on Jun 3: use by Jun 7.
    cooked = long_keeper()
    new = s.batch("new", [s.part(cooked, 100)], keeps_for=s.keeps(days=30))
    kept = k.keeping(s.shop(), new, at(2025, 6, 3), made=made(cooked, at(2025, 6, 1)))
    assert kept.last_day == date(2025, 6, 7)
    assert [entry.id for entry in kept.decisive.path] == ["new", "mix"]


def test_made_october_15_use_by_october_21() -> None:
    # A stored copy of a food-handler course; the arithmetic agrees.
    assert k.keeping(s.shop(), long_keeper(), at(2025, 10, 15)).last_day == date(2025, 10, 21)


def test_freezing_stops_the_count_and_does_not_reset_it() -> None:
    # North Carolina training paper: Oct 1 day 1, frozen Oct 3, thawed Oct 10 day 3, Oct 14 day 7.
    stay = Frozen(date(2025, 10, 3), date(2025, 10, 10))
    kept = k.thawed(k.keeping(s.shop(), long_keeper(), at(2025, 10, 1)), stay)
    assert kept.last_day == date(2025, 10, 14)
    assert kept.discard_at.isoformat().startswith("2025-10-15T00:00:00")


def test_freezing_moves_no_use_by() -> None:
    milk = s.ingredient("milk", use_by=date(2025, 10, 12))
    stay = Frozen(date(2025, 10, 3), date(2025, 10, 10))
    kept = k.thawed(k.keeping(s.shop(), long_keeper(milk), at(2025, 10, 1)), stay)
    assert kept.last_day == date(2025, 10, 12)
    assert kept.decisive.because == "use-by"


def test_what_counts_hours_cannot_be_frozen() -> None:
    pearls = long_keeper(keeps_for=s.keeps(hours=4))
    kept = k.keeping(s.shop(), pearls, at(2025, 1, 1))
    with pytest.raises(FigureError, match="frozen"):
        k.thawed(kept, Frozen(date(2025, 1, 2), date(2025, 1, 3)))


@pytest.mark.parametrize(
    ("made", "last"),
    [((2025, 2, 25), (2025, 3, 3)), ((2024, 2, 25), (2024, 3, 2)), ((2025, 12, 29), (2026, 1, 4)),
     ((2025, 4, 30), (2025, 5, 6))],
)  # fmt: skip
def test_month_year_and_leap_ends(made: tuple[int, int, int], last: tuple[int, int, int]) -> None:
    assert k.keeping(s.shop(), long_keeper(), at(*made)).last_day == date(*last)


# Earliest wins


def test_earliest_of_every_limit_wins_with_its_path() -> None:
    cream = s.ingredient("cream", use_by=date(2025, 5, 4))
    sauce = s.batch("sauce", [s.part(cream, 1)], keeps_for=s.keeps(days=10))
    cap = s.batch("cap", [s.part(sauce, 1)], keeps_for=s.keeps(days=5))
    kept = k.keeping(s.shop(), cap, at(2025, 5, 1))
    assert kept.last_day == date(2025, 5, 4)
    assert [entry.id for entry in kept.decisive.path] == ["cap", "sauce", "cream"]
    assert [limit.because for limit in kept.limits] == ["use-by", "own", "rule", "rule", "own"]


def test_an_opened_pack_counts_from_its_opening() -> None:
    # Food Code 3-501.17(B): opening day is Day 1.
    milk = s.ingredient("milk", keeps_for=s.keeps(days=3))
    fresh = k.keeping(s.shop(), long_keeper(milk), at(2025, 5, 5))
    assert (fresh.last_day, fresh.decisive.because) == (date(2025, 5, 7), "opened")
    yesterday = made(milk, at(2025, 5, 4))
    older = k.keeping(s.shop(), long_keeper(milk), at(2025, 5, 5), made=yesterday)
    assert older.last_day == date(2025, 5, 6)


def test_stricter_batch_wins_over_the_rule() -> None:
    kept = k.keeping(s.shop(), long_keeper(keeps_for=s.keeps(days=3)), at(2025, 5, 1))
    assert (kept.last_day, kept.decisive.because) == (date(2025, 5, 3), "own")


def test_expired_stock_is_refused() -> None:
    milk = s.ingredient("milk", use_by=date(2025, 4, 30))
    with pytest.raises(FigureError, match="milk"):
        k.keeping(s.shop(), long_keeper(milk), at(2025, 5, 1))
    stale = s.ingredient("milk", keeps_for=s.keeps(days=2))
    with pytest.raises(FigureError, match="milk"):
        k.keeping(s.shop(), long_keeper(stale), at(2025, 5, 5), made=made(stale, at(2025, 5, 3)))


def test_use_by_ends_at_midnight_itself() -> None:
    milk = s.ingredient("milk", use_by=date(2025, 4, 30))
    assert k.keeping(s.shop(), long_keeper(milk), at(2025, 4, 30, 23, 59)).limits
    with pytest.raises(FigureError, match="may no longer be used"):
        k.keeping(s.shop(), long_keeper(milk), at(2025, 5, 1, 0))


def test_a_time_before_the_calendar_is_refused() -> None:
    before = datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=10)))
    with pytest.raises(FigureError, match="outside the calendar"):
        k.local_time(s.shop(), before)


def test_use_by_today_is_still_good_today() -> None:
    milk = s.ingredient("milk", use_by=date(2025, 5, 1))
    assert k.keeping(s.shop(), long_keeper(milk), at(2025, 5, 1, 23)).last_day == date(2025, 5, 1)


def test_a_part_made_after_the_whole_is_refused() -> None:
    mix = long_keeper()
    outer = s.batch("outer", [s.part(mix, 1)])
    with pytest.raises(FigureError, match="after"):
        k.keeping(s.shop(), outer, at(2025, 5, 1), made=made(mix, at(2025, 5, 2)))


# Rule sets


def test_four_hours_without_temperature_control() -> None:
    # Food Code 3-501.19(B); tapioca pearls are inspected under it.
    pearls = long_keeper(keeps_for=s.keeps(hours=8, at_c=21.0))
    kept = k.keeping(s.shop(), pearls, at(2025, 5, 1, 10))
    assert kept.discard_at.isoformat() == "2025-05-01T14:00:00+02:00"
    assert kept.decisive.because == "time-control"
    assert kept.last_day == date(2025, 5, 1)


def test_under_control_hours_are_the_shops_own() -> None:
    tea = long_keeper(keeps_for=s.keeps(hours=8, at_c=4.0))
    assert k.time_control_h(s.shop(), tea) is None
    assert k.keeping(s.shop(), tea, at(2025, 5, 1, 10)).decisive.because == "own"
    hot = long_keeper(keeps_for=s.keeps(hours=8, at_c=60.0))
    assert k.time_control_h(s.shop(), hot) is None


def test_england_holds_at_8_and_63_with_4_h_and_2_h() -> None:
    # Food Safety and Hygiene (England) Regulations 2013, Schedule 4.
    england = s.shop(shelf_rules="england", cold_limit_c=8.0, hot_limit_c=63.0)
    kept = {at_c: long_keeper(keeps_for=s.keeps(hours=8, at_c=at_c)) for at_c in (8, 8.1, 62.9, 63)}
    bands = [k.band_of(england, at_c) for at_c in kept]
    assert bands == ["cold", "between", "between", "hot"]
    assert k.band_of(s.shop(), 8) == "between"
    warm = long_keeper(keeps_for=s.keeps(hours=12, at_c=20.0))
    assert k.time_control_h(england, warm) == 4.0
    cocoa = long_keeper(keeps_for=s.keeps(hours=12, at_c=55.0), serves_at_c=65.0)
    assert k.time_control_h(england, cocoa) == 2.0


def test_custom_rules_count_the_shops_days() -> None:
    own = s.shop(shelf_rules="custom", rule_days=4)
    # Older codes: 41-45 degF for 4 days (410 IAC 7-24-191).
    assert k.keeping(own, long_keeper(), at(2025, 4, 1)).last_day == date(2025, 4, 4)


def test_label_temperature_is_stated_or_the_cold_limit() -> None:
    assert k.keeping(s.shop(), long_keeper(), at(2025, 4, 1)).at_c == 5.0
    stated = long_keeper(keeps_for=s.keeps(days=2, at_c=3.0))
    assert k.keeping(s.shop(), stated, at(2025, 4, 1)).at_c == 3.0
    assert k.keeping(s.shop(), long_keeper(keeps_for=None), at(2025, 4, 1)).at_c == 5.0
    assert k.kept_at_c(s.shop(), long_keeper(keeps_for=s.keeps(hours=8))) == 5.0
    # Pearls that stand for 4 h are not told to go into the fridge.
    assert k.kept_at_c(s.shop(), long_keeper(keeps_for=s.keeps(hours=4))) is None


# Change of the clocks: Europe/Madrid springs forward 2025-03-30 02:00 and back 2025-10-26 03:00.


def test_four_hours_are_four_hours_when_the_clocks_change() -> None:
    pearls = long_keeper(keeps_for=s.keeps(hours=4))
    spring = k.keeping(s.shop(), pearls, at(2025, 3, 30, 0, 30))
    assert spring.discard_at.isoformat() == "2025-03-30T05:30:00+02:00"
    autumn = k.keeping(s.shop(), pearls, at(2025, 10, 26, 0, 30))
    assert autumn.discard_at.isoformat() == "2025-10-26T03:30:00+01:00"


def test_days_end_at_local_midnight_across_the_change() -> None:
    kept = k.keeping(s.shop(), long_keeper(), at(2025, 10, 24))
    assert kept.discard_at.isoformat() == "2025-10-31T00:00:00+01:00"


def test_earliest_is_judged_in_elapsed_time_in_the_repeated_hour() -> None:
    # 02:30 happens twice on 2025-10-26; the first is earlier though both read alike.
    first = datetime(2025, 10, 26, 0, 30, tzinfo=UTC)
    second = datetime(2025, 10, 26, 1, 30, tzinfo=UTC)
    pearls = long_keeper(keeps_for=s.keeps(hours=4))
    a, b = (k.keeping(s.shop(), pearls, when) for when in (first, second))
    assert (b.discard_at.astimezone(UTC) - a.discard_at.astimezone(UTC)) == timedelta(hours=1)


# Calendar, cooling, outliving


def test_what_is_due_first_comes_first() -> None:
    pearls = s.batch("pearls", [s.part(s.ingredient("x"), 1)], keeps_for=s.keeps(hours=4))
    tea = s.batch("tea", [s.part(s.ingredient("y"), 1)], keeps_for=s.keeps(days=1))
    cap = s.batch("cap", [s.part(s.ingredient("z"), 1)], keeps_for=s.keeps(days=3))
    shop = s.shop()
    due = k.discard_order(k.keeping(shop, one, at(2025, 1, 30, 9)) for one in (cap, tea, pearls))
    assert [(one.last_day, one.item.id) for one in due] == [
        (date(2025, 1, 30), "pearls"),
        (date(2025, 1, 30), "tea"),
        (date(2025, 2, 1), "cap"),
    ]


def test_cooling_stages() -> None:
    # Food Code 3-501.14: 57 to 21 degC in 2 h, to 5 degC in 6 h in all; ambient: 5 degC in 4 h.
    hot = long_keeper(steps=(s.batch_step("boil", 60, temperature_c=100.0),))
    assert k.cooling_steps(s.shop(), hot) == (
        k.CoolingStep(57.0, 21.0, 2.0),
        k.CoolingStep(57.0, 5.0, 6.0),
    )
    assert k.cooling_steps(s.shop(), long_keeper()) == (k.CoolingStep(None, 5.0, 4.0),)
    lukewarm = long_keeper(steps=(s.batch_step("melt", 60, temperature_c=50.0),))
    assert k.cooling_steps(s.shop(), lukewarm) == (k.CoolingStep(50.0, 5.0, 4.0),)
    england = s.shop(shelf_rules="england", cold_limit_c=8.0, hot_limit_c=63.0)
    assert k.cooling_steps(england, hot) == (k.CoolingStep(63.0, 8.0, None),)
    # Regulation (EC) 852/2004, Annex II, IX.6: after the final preparation where nothing is heated.
    assert k.cooling_steps(england, long_keeper()) == (k.CoolingStep(None, 8.0, None),)
    assert k.cooling_steps(s.shop(), long_keeper(keeps_for=s.keeps(hours=4))) == ()
    warm = long_keeper(keeps_for=s.keeps(days=1, at_c=20.0))
    assert k.cooling_steps(s.shop(), warm) == ()
    chilled_tea = long_keeper(keeps_for=s.keeps(hours=8, at_c=5.0))
    assert k.cooling_steps(s.shop(), chilled_tea) == (k.CoolingStep(None, 5.0, 4.0),)


def test_outlived_names_the_short_dated_part_at_any_depth() -> None:
    cream = s.ingredient("cream", keeps_for=s.keeps(days=2))
    sauce = s.batch("sauce", [s.part(cream, 1)], keeps_for=s.keeps(days=9))
    cap = s.batch("cap", [s.part(sauce, 1)], keeps_for=s.keeps(days=5))
    assert [[e.id for e in path] for path in k.outlived(cap)] == [["cap", "sauce", "cream"]]
    assert k.outlived(s.batch("cap", [s.part(cream, 1)], keeps_for=s.keeps(days=2))) == ()
    assert k.outlived(s.batch("cap", [s.part(cream, 1)], keeps_for=None)) == ()


def test_json_has_offsets_and_paths() -> None:
    data = told(k.keeping(s.shop(), long_keeper(), at(2025, 4, 1)))
    assert data["discard_at"] == "2025-04-08T00:00:00+02:00"
    assert data["last_day"] == "2025-04-07"
    assert data["limits"][0]["path"] == ["mix"]


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)),
    st.integers(1, 30),
    st.integers(1, 14),
    st.integers(0, 20),
)
def test_discard_is_never_later_than_any_limit(
    made: datetime, own: int, rule: int, use_by: int
) -> None:
    milk = s.ingredient("milk", use_by=made.date() + timedelta(days=use_by))
    batch = long_keeper(milk, keeps_for=s.keeps(days=own))
    kept = k.keeping(s.shop(rule_days=rule), batch, made)
    expected = made.date() + timedelta(days=min(own - 1, rule - 1, use_by))
    assert kept.last_day == expected
    assert all(kept.discard_at.astimezone(UTC) <= x.at.astimezone(UTC) for x in kept.limits)


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),
    st.sampled_from(["Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"]),
)
def test_hours_elapse_in_every_zone(made: datetime, zone: str) -> None:
    kept = k.keeping(s.shop(time_zone=zone), long_keeper(keeps_for=s.keeps(hours=4)), made)
    own = next(limit for limit in kept.limits if limit.because == "own")
    assert own.at.astimezone(UTC) - made == timedelta(hours=4)
