"""Findings about a day's plan and the kitchen of its batches: at their place, with what works."""

from __future__ import annotations

from datetime import date

import menu_samples as m
import pytest

from buildsheets.findings.finding import Finding, Severity
from buildsheets.menu.model import Menu
from buildsheets.prep.dayplan import Change, plan_day
from buildsheets.prep.helps import what_helps
from buildsheets.rules.day_findings import change_words, day_findings

IMPOSSIBLE = (m.DEMO.parent / "tests/menus/impossible-saturday.yaml").read_text("utf-8")
STEPS = IMPOSSIBLE[IMPOSSIBLE.index("    steps:\n") : IMPOSSIBLE.index("    keeps_for: 4 h\n")]


def found(text: str, on: date | None = None) -> tuple[Menu, tuple[Finding, ...]]:
    checked = m.check_texts(text)
    menu = checked.menu
    assert menu is not None, m.said(checked.findings)
    servings = {(x.drink.id, x.cup.id): x for x in reversed(checked.servings)}
    day = menu.days["saturday"]
    plan = plan_day(menu, day, servings, on=on)
    return menu, day_findings(menu, plan, what_helps(menu, day, servings, plan))


def test_the_impossible_saturday_stands_at_its_day_with_each_change_that_is_enough() -> None:
    _, (one,) = found(IMPOSSIBLE)
    assert (one.code, one.severity, one.subject) == ("PLAN01", Severity.ERROR, ("saturday",))
    assert m.starts(one.span) == m.place_of(IMPOSSIBLE, "name: Saturday")
    assert one.message == (
        "'saturday' cannot be done: a load is not ready in time: "
        "pearls (load 3 of 3) for 10:20 is 55 min late (waits for hands or burner)"
    )
    assert [fix.text for fix in one.fixes] == [
        "one more person at all times there is somebody",
        "2 of burner instead of 1",
        "the first to come 10 min earlier",
    ]


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("burner: {name: burner, power", "burner: {name: burner, count: 2, power"),
        ('people: [{from: "09:00", to', 'people: [{from: "08:45", to'),
        ('to: "12:00"}', 'to: "12:00", count: 2}'),
    ],
)
def test_each_change_written_into_the_menu_mends_it(wrong: str, right: str) -> None:
    _, findings = found(m.swapped(IMPOSSIBLE, wrong, right))
    assert findings == ()


@pytest.mark.parametrize(
    ("on", "where", "key", "hint"),
    [
        (date(2026, 2, 28), "before", "valid_from", "buildsheets plan saturday --menu COPY"),
        (date(2026, 10, 1), "after", "valid_to", "a later valid_to"),
    ],
)
def test_a_day_outside_the_season_is_planned_with_a_warning(
    on: date, where: str, key: str, hint: str
) -> None:
    dates = "valid_from: 2026-03-01, valid_to: 2026-09-30"
    assert dates in IMPOSSIBLE
    one, late = found(IMPOSSIBLE, on)[1]
    assert late.code == "PLAN01"
    assert (one.code, one.severity, one.subject) == ("PLAN03", Severity.WARNING, ("saturday",))
    assert f"'saturday' is planned for {on}, {where} this menu is sold: " in one.message
    assert "runs from 2026-03-01 to 2026-09-30" in one.message
    assert hint in one.hint
    assert m.starts(one.span) == m.place_of(IMPOSSIBLE, f"{key}:")


@pytest.mark.parametrize("on", [date(2026, 3, 1), date(2026, 9, 30)])
def test_the_first_and_last_day_are_of_the_season(on: date) -> None:
    assert [one.code for one in found(IMPOSSIBLE, on)[1]] == ["PLAN01"]


def test_where_nothing_helps_it_says_what_was_tried() -> None:
    # A boil of 6 h for 10:00 that keeps 4: nobody comes so early, and the evening is too early.
    long = m.swapped(IMPOSSIBLE, "time: 30 min", "time: 6 h")
    _, (one,) = found(m.swapped(long, "count: 60}]", "count: 20}]"))
    assert one.message.endswith(": pearls for 10:00 finds no place (waits for hands)")
    _, (several,) = found(long)
    assert "cannot be done: 3 of 3 loads are not ready in time: pearls (load 1" in several.message
    assert one.fixes == ()
    assert "nothing of this helps, alone or two together" in one.hint


def test_changes_in_words() -> None:
    checked = m.check_texts(IMPOSSIBLE)
    menu = checked.menu
    assert menu is not None
    servings = {(x.drink.id, x.cup.id): x for x in reversed(checked.servings)}
    plan = plan_day(menu, menu.days["saturday"], servings)
    both = Change(things=("pot",), evening_min=30)
    assert change_words(menu, plan, both) == (
        "3 of pot instead of 2; and somebody on the evening before, under people: "
        '{from: "10:30", to: "11:00", the_day_before: yes}'
    )


LONG = (
    ("    keeps_for: 4 h\n", "    keeps_for: 3 days\n    keeps_at: 5 °C\n"),
    ('closes: "11:00"', 'closes: "23:00"'),
    ('from: "09:00", to: "12:00"', 'from: "01:00", to: "23:00"'),
)
"""Pearls that are kept cold, on a day long enough to cool them slowly."""


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        ("      - {do: Mix, time: 1 min, from: 20 °C}\n", ""),
        ("      - {do: Warm, temperature: 45 °C, time: 20 min}\n", "from 45 "),
    ],
)
def test_what_was_never_hot_cools_within_four_hours(steps: str, told: str) -> None:
    # Food Code 3-501.14(B)
    chill = "      - {do: Chill, temperature: 5 °C, time: 5 h, hands_on: 1 min}\n"
    text = m.swapped(IMPOSSIBLE, STEPS, f"    steps:\n{steps}{chill}")
    for old, new in LONG:
        text = m.swapped(text, old, new)
    (one,) = [one for one in found(text)[1] if one.code == "PLAN02"]
    minutes = 300 if told else 301  # counted from the start of the work where it never was warm
    assert f"takes {minutes} min {told}to 5 °C; 240 min are allowed" in one.message
    assert one.message.endswith(f"{minutes - 240} min too long")


def test_a_large_load_that_cools_too_slowly_is_told() -> None:
    # Three loads of 500 g of pearls from 100 to 21 °C in a bath of 10 W: 500 g x (4.19 - 2.30 x
    # 0.87 - 0.628 x 0.87 cubed) = 888 J/K, x 79 K / 10 W = 7012 s or 117 min: inside two hours;
    # 5 W are 234 min, 114 min too long.
    steps = STEPS + "      - {do: Cool, on: bath, temperature: 21 °C, hands_on: 1 min}\n"
    text = m.swapped(IMPOSSIBLE, STEPS, steps)
    for old, new in LONG:
        text = m.swapped(text, old, new)
    for watts, told in (("10 W", False), ("5 W", True)):
        bath = f"kitchen:\n  bath: {{name: bath, count: 9, ice: yes, power: {watts}}}\n"
        menu, findings = found(m.swapped(text, "kitchen:\n", bath))
        slow = [one for one in findings if one.code == "PLAN02"]
        assert bool(slow) is told, m.said(findings)
        if told:
            assert "takes 234 min from 57 to 21 °C; 120 min are allowed" in slow[0].message
            assert slow[0].span == menu.batches["pearls"].span


def test_of_loads_that_cool_too_slowly_the_slowest_is_told() -> None:
    # As above: 888 J/K x 79 K / 2 W = 35,076 s or 585 min; half a batch takes half of that.
    steps = STEPS + "      - {do: Cool, on: bath, temperature: 21 °C, hands_on: 1 min}\n"
    text = m.swapped(IMPOSSIBLE, STEPS, steps)
    for old, new in (
        *LONG,
        ("kitchen:\n", "kitchen:\n  bath: {name: bath, count: 9, ice: yes, power: 2 W}\n"),
        ("scales: {full: 1}", "scales: {full: 1, half: 0.5}"),
        ("count: 60}]", "count: 50}]"),
    ):
        text = m.swapped(text, old, new)
    (one,) = found(text)[1]
    assert one.message.startswith(
        "'pearls' × 1 takes 585 min from 57 to 21 °C; 120 min are allowed"
    )


def test_a_thing_too_small_for_the_largest_scale() -> None:
    # 500 g of 1.2 g/ml and 4 l: 4417 ml (from 417 ml and the water), at double 8833 ml.
    text = m.swapped(IMPOSSIBLE, "scales: {full: 1}", "scales: {full: 1, double: 2}")
    (one,) = [f for f in m.check_texts(text).findings if f.code == "BAT06"]
    assert "takes 8833 ml at its largest scale and 'pot' has room for 4800 ml" in one.message
    assert [fix.text for fix in one.fixes] == ["make at most 1.08 of a full batch at once"]
    mended = m.swapped(text, "double: 2", "double: 1.08")
    assert [f for f in m.check_texts(mended).findings if f.code == "BAT06"] == []
    small = m.swapped(
        m.swapped(IMPOSSIBLE, "    scales: {full: 1}\n", ""), "holds: 6 l", "holds: 5 l"
    )
    (full,) = [f for f in m.check_texts(small).findings if f.code == "BAT06"]
    assert "takes 4417 ml at its largest scale and 'pot' has room for 4000 ml" in full.message


def test_steps_without_time_are_one_finding_a_batch_and_none_without_days() -> None:
    untimed = (
        STEPS.replace(", time: 30 min", "").replace(", power", "").replace(", time: 5 min", "")
    )
    text = m.swapped(IMPOSSIBLE, STEPS, untimed)
    (one,) = [f for f in m.check_texts(text).findings if f.code == "BAT13"]
    assert "“Drain”" in one.message
    assert "“Boil”" not in one.message  # its time follows from the burner's power
    no_days = text[: text.index("days:\n")]
    assert [f for f in m.check_texts(no_days).findings if f.code == "BAT13"] == []
