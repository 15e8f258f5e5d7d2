"""The run sheet: who does what when, with what, and what to weigh, as the kitchen reads it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import prep_samples as s
from menu_samples import check_once

from buildsheets.menu.kitchen import People
from buildsheets.menu.model import Batch, DaySales, Thing
from buildsheets.prep.dayplan import DayPlan, plan_day
from buildsheets.print.layouts import Layouts
from buildsheets.views.run_sheet import ice_rows, run_notes, runs, weigh_rows
from buildsheets.views.sheets import prep_sheet

EN, ES, FR, DE = (Layouts(None).words(language) for language in ("en", "es", "fr", "de"))
POT = Thing(id="pot", name=s.text("pot"), span=s.SPAN)
BATH = Thing(id="bath", name=s.text("ice bath"), ice=True, power_w=1000.0, span=s.SPAN)


def tea(**given: Any) -> Batch:
    steps = (
        s.batch_step("Pour", 60, temperature_c=95.0, on=(POT,)),
        s.batch_step("Steep", 300, on=(POT,), hands_on_s=0.0),
        s.batch_step("Strain", 120, on=(POT,)),
        s.batch_step("Cool", on=(BATH,), temperature_c=21.0, hands_on_s=60.0),
    )
    values: dict[str, Any] = {"steps": steps, "name": "Tea", "bowl_ml": 1000.0, "scales": {}}
    leaf, water = s.ingredient("leaf"), s.ingredient("water")
    return s.batch("tea", [s.part(water, 900), s.part(leaf, 99.3)], **{**values, **given})


def planned(batch: Batch, people: tuple[tuple[int, int], ...] = (), **hours: int) -> DayPlan:
    used = s.component("tea", batch)
    drink = s.drink("cup", [s.add_step(used, {"regular": s.amount(100)})])
    day: DaySales = replace(
        s.day([s.sold(drink, 12)], **hours),
        people=tuple(
            People(span=s.SPAN, start_minutes=0, end_minutes=0, from_min=a, to_min=b)
            for a, b in people
        ),
    )
    one: Any = type("U", (), {"component": used, "mass_g": 100.0, "volume_ml": 100.0})()
    serving: Any = type("S", (), {"used": (one,)})()
    return plan_day(s.menu(drinks=[drink]), day, {("cup", "regular"): serving})


def test_each_change_of_what_is_in_use_has_a_row_and_shared_rows_say_until_when() -> None:
    # Two loads of 600 g (of 999.3 g: 0.6). Cool: 600 g x 4.19 x 74 K = 186 kJ by 1000 W, 4 min;
    # 186 036 / 333.4 = 558 g of ice. 12 min each, hands at 0 to 1 and at 6 to 9: the second load
    # from 09:48, the first from 09:45, so that its 09:51 to 09:54 ends as the second's begins.
    ((title, rows),) = runs(planned(tea()), EN)
    assert title == "Minute by minute: Saturday"
    assert rows == [
        ("09:45", "Tea 1/2 × 0.6", "Pour (95 °C) to 09:46; Steep", "pot", "1 min", "09:51"),
        ("09:48", "Tea 2/2 × 0.6", "Pour (95 °C) to 09:49; Steep", "pot", "1 min", "09:54"),
        ("09:51", "Tea 1/2 × 0.6", "Strain", "pot", "2 min", "09:53"),
        ("09:53", "Tea 1/2 × 0.6", "Cool (21 °C)", "ice bath, 0.6 kg of ice", "1 min",
         "09:57, ready"),
        ("09:54", "Tea 2/2 × 0.6", "Strain", "pot", "2 min", "09:56"),
        ("09:56", "Tea 2/2 × 0.6", "Cool (21 °C)", "ice bath, 0.6 kg of ice", "1 min",
         "10:00, ready"),
    ]  # fmt: skip


def test_weights_a_load_are_whole_grams_that_do_not_fall_short() -> None:
    # 1200 g of 999.3 g in two loads: 0.6004 of 900 g and 99.3 g: 540.4 and 59.6 g.
    assert list(weigh_rows(planned(tea()), EN)) == [
        ("Tea × 0.6", "1, 2", "water 541 g · leaf 60 g")
    ]


def test_the_day_before_and_the_night_read_right() -> None:
    over_night = tea(steps=(s.batch_step("Steep", 12 * 3600, hands_on_s=60.0),), bowl_ml=None)
    ((title, rows),) = runs(planned(over_night), EN)
    assert title == "Minute by minute: the day before"
    assert (rows[0][0], rows[0][-1]) == ("22:00", "10:00, next day, ready")
    night = tea(keeps_for=s.keeps(hours=4), bowl_ml=None)
    titles = [title for title, _ in runs(planned(night, opens=22 * 60, closes=30 * 60), EN)]
    assert titles == ["Minute by minute: Saturday", "Minute by minute: after midnight"]


def test_one_pair_of_hands_is_said_where_nobody_is_written() -> None:
    assert EN("prep_one_pair") in list(run_notes(planned(tea()), EN))
    notes = list(run_notes(planned(tea(), ((480, 1320),)), EN))
    assert "Most hands busy at once: 1 of 1, first at 09:45." in notes
    assert list(ice_rows(planned(tea()), EN)) == [("Ice for cooling, Saturday", "1.2 kg")]


def test_what_is_late_comes_first_in_every_language() -> None:
    plan = planned(tea(), ((610, 1320),))
    for words, said in (
        (EN, "CANNOT BE DONE IN TIME: Tea 1/2 × 0.6 (for 10:00: 22 min late)"),
        (ES, "NO DA TIEMPO: Tea 1/2 × 0,6 (para las 10:00: 22 min tarde)"),
        (FR, "IMPOSSIBLE À TEMPS : Tea 1/2 × 0,6 (pour 10:00: 22 min de retard)"),
        (DE, "NICHT RECHTZEITIG ZU SCHAFFEN: Tea 1/2 × 0,6 (für 10:00: 22 min zu spät)"),
    ):
        first = next(run_notes(plan, words))
        assert first.startswith(said), first
    nowhere = planned(tea(), ((100, 101),))
    assert "no place at all" in next(run_notes(nowhere, EN))


def test_steps_of_unknown_time_are_named() -> None:
    plan = planned(tea(steps=(s.batch_step("Stir"),)))
    assert "No time known for all steps, taken as 0 min: Tea." in list(run_notes(plan, EN))


def test_the_demos_sheet_has_a_part_for_each_day_and_ticks_for_each_row() -> None:
    checked = check_once(Path(__file__).parents[2] / "menu")
    menu = checked.menu
    assert menu is not None
    servings = {(x.drink.id, x.cup.id): x for x in reversed(checked.servings)}
    view = prep_sheet(menu, plan_day(menu, menu.days["saturday"], servings), EN)
    titles = [table.title for table in view.tables]
    assert titles[:4] == ["To make", "Weigh out for each load", "Minute by minute: the day before",
                          "Minute by minute: Saturday"]  # fmt: skip
    assert [table.tick for table in view.tables[:4]] == [True, False, True, True]
    rows = view.tables[3].rows
    weighed = {row[0] for row in view.tables[1].rows}
    assert {re.sub(r" \d+/\d+", "", row[1]) for row in rows} <= weighed
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    assert any("kg of ice" in row[3] for row in rows)
