"""What of a day's sales is sold on it: dates, hours, what is sold out, and packaging by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import prep_samples as s
import pytest
from menu_samples import SMALL, check_texts, demo, swapped

from buildsheets.menu.model import Menu, Packaging
from buildsheets.menu.when import within
from buildsheets.pipeline import Checked
from buildsheets.prep.buying import less_stock, orders, together
from buildsheets.prep.dayplan import DayPlan, plan_day
from buildsheets.prep.log import Entry
from buildsheets.prep.packaging import pieces
from buildsheets.prep.sales import not_sold_now
from buildsheets.prep.stock import counted, stock

CLOUD, SHAKEN = "    name: Cloud\n", "    name: Shaken\n"
PEARLS = "add-pearls: {topping: pearls, amount: 1 scoop, price: 0.60"
PACKAGING = """\
packaging:
  cup-medium: {name: medium cup, kind: cup, pack: {quantity: 3 pieces, price: 0.30}}
  straw: {name: straw, kind: straw, pack: {quantity: 100 pieces, price: 2.00}}
  wide-straw: {name: wide straw, kind: straw}
"""


def checked(*edits: tuple[str, str]) -> Checked:
    text = SMALL
    for old, new in edits:
        text = swapped(text, old, new)
    return check_texts(text)


def menu_of(found: Checked) -> Menu:
    assert found.menu is not None
    return found.menu


def plan(*edits: tuple[str, str], on: date | None = None) -> DayPlan:
    """The busy day: 5 medium and 3 tall 'cloud' (2 of them with pearls), 4 'shaken', 10 to 20."""
    found = checked(*edits)
    servings = {(one.drink.id, one.cup.id): one for one in found.servings}
    return plan_day(menu_of(found), menu_of(found).days["busy"], servings, on=on)


def sold(figured: DayPlan) -> dict[str, int]:
    counts: dict[str, int] = {}
    for line in figured.day.lines:
        counts[line.drink.id] = counts.get(line.drink.id, 0) + line.count
    return counts


def left_out(figured: DayPlan) -> list[tuple[str, str, list[str]]]:
    return [(one.what.id, one.why, [c.id for c in one.because]) for one in figured.not_sold]


def after(old: str, new: str) -> tuple[str, str]:
    return old, old + new


def test_a_plain_day_sells_all_and_leaves_nothing_out() -> None:
    figured = plan()
    assert sold(figured) == {"cloud": 8, "shaken": 4}
    assert (figured.not_sold, figured.any_date) == ((), ())


@pytest.mark.parametrize(
    ("day", "planned"),
    [("2026-05-31", False), ("2026-06-01", True), ("2026-06-14", True), ("2026-06-15", False)],
)
def test_dates_count_their_first_and_last_day(day: str, *, planned: bool) -> None:
    dates = after(CLOUD, "    from: 2026-06-01\n    until: 2026-06-14\n")
    figured = plan(dates, on=date.fromisoformat(day))
    assert ("cloud" in sold(figured)) is planned
    assert left_out(figured) == ([] if planned else [("cloud", "dates", [])])
    assert figured.any_date == ()


def test_without_a_date_a_drink_of_some_days_is_planned_and_named() -> None:
    figured = plan(after(CLOUD, "    until: 2026-06-14\n"))
    assert "cloud" in sold(figured)
    assert [one.id for one in figured.any_date] == ["cloud"]
    whole = plan(after(CLOUD, "    from: 2026-03-01\n    until: 2026-12-31\n"))
    assert whole.any_date == ()  # on every day of the edition


def test_a_drink_of_no_day_of_the_edition_is_left_out_without_a_date() -> None:
    assert left_out(plan(after(CLOUD, "    until: 2026-02-28\n"))) == [("cloud", "dates", [])]


def test_hours_gather_a_drinks_sales_and_no_others() -> None:
    # 'strong-brew' goes into 'shaken' alone, sold evenly from 10 to 20 or only from 10 to 12.
    usual, early = plan(), plan(after(SHAKEN, "    hours: 09:00 to 12:00\n"))
    keeps = ("    keeps_for: 1 days\n", "    keeps_for: 2 h\n")
    spread = plan(keeps)
    gathered = plan(keeps, after(SHAKEN, "    hours: 09:00 to 12:00\n"))
    assert sold(early) == sold(usual)
    times = lambda figured: [  # noqa: E731
        (m.start_min / 60, m.until_min / 60) for m in figured.makings if m.batch.id == "strong-brew"
    ]
    # Ten hours in stretches of two are five makings; two hours are one, from 10 to 12.
    assert times(spread) == [(10, 12), (12, 14), (14, 16), (16, 18), (18, 20)]
    assert times(gathered) == [(10, 12)]


def test_hours_while_closed_leave_a_drink_out() -> None:
    figured = plan(after(SHAKEN, "    hours: [06:00 to 10:00, 20:00 to 23:00]\n"))
    assert left_out(figured) == [("shaken", "hours", [])]


Stretches = tuple[tuple[float, float, float], ...]


@pytest.mark.parametrize(
    ("spread", "hours", "expected"),
    [
        # Half of an hour's 0.2 and all of the next's 0.3: 0.1 and 0.3 of 0.4.
        (
            ((600, 660, 0.2), (660, 720, 0.3), (720, 780, 0.5)), [(630, 720)],
            ((630, 660, 0.25), (660, 720, 0.75)),
        ),
        (((600, 720, 1.0),), [(0, 630), (690, 1440)], ((600, 630, 0.5), (690, 720, 0.5))),
        # A night that ends at 02:00: hours from midnight to 1 are its last but one.
        (((1200, 1560, 1.0),), [(0, 60)], ((1440, 1500, 1.0),)),
        (((1200, 1560, 1.0),), [(1380, 1500)], ((1380, 1500, 1.0),)),
        (((600, 720, 1.0),), [(720, 780)], ()),
    ],
)  # fmt: skip
def test_sales_within_hours(
    spread: Stretches, hours: Iterable[tuple[int, int]], expected: Stretches
) -> None:
    found = within(spread, hours)
    assert [part[:2] for part in found] == [part[:2] for part in expected]
    assert [part[2] for part in found] == pytest.approx([part[2] for part in expected])


@pytest.mark.parametrize(
    "written", ["7 to 11", "07:00", "11:00 to 07:00", "07:00 to 25:00", "from 7"]
)
def test_hours_that_nobody_could_mean_are_refused(written: str) -> None:
    found = checked(after(SHAKEN, f"    hours: {written}\n"))
    assert [one.code for one in found.findings] == ["DAY02"]


def test_dates_that_end_before_they_begin_are_an_error() -> None:
    found = checked(after(SHAKEN, "    from: 2026-06-14\n    until: 2026-06-01\n"))
    (one,) = [one for one in found.findings if one.code == "WHEN01"]
    assert "until 2026-06-01, before it begins on 2026-06-14" in one.message
    assert found.stopped


def not_sold(edit: tuple[str, str]) -> dict[str, list[str]]:
    """What is not sold of the menu with an edit, by id, each with what is sold out of it."""
    found = not_sold_now(menu_of(checked(edit)))
    return {one.what.id: [thing.id for thing in one.because] for one in found}


def test_a_sold_out_ingredient_takes_along_what_is_made_of_it() -> None:
    edit = after("  pearl-tin:\n    name: Pearls\n", "    sold_out: yes\n")
    assert not_sold(edit) == {"cloud": ["pearl-tin"], "add-pearls": ["pearl-tin"]}
    assert left_out(plan(edit)) == [("cloud", "sold-out", ["pearl-tin"])]
    assert [one.ingredient.id for one in plan(edit).purchases if "pearl" in one.ingredient.id] == []


def test_a_batch_in_a_batch_takes_along_both() -> None:
    brew = not_sold(after("  brew:\n    name: Brew\n", "    sold_out: yes\n"))
    assert sorted(brew) == ["cloud", "shaken"]
    milk = not_sold(after("  milk:\n    name: Milk\n", "    sold_out: yes\n"))
    assert sorted(milk) == ["cloud", "shaken"]  # through brew, and through strong-brew


def test_a_sold_out_add_on_leaves_its_drinks_be() -> None:
    edit = (PEARLS, PEARLS + ", sold_out: yes")
    assert left_out(plan(edit)) == [("add-pearls", "sold-out", ["add-pearls"])]
    assert sold(plan(edit)) == sold(plan())
    need = {one.component.id: one.mass_g for one in plan(edit).components}
    usual = {one.component.id: one.mass_g for one in plan().components}
    assert usual["pearls"] - need["pearls"] == pytest.approx(2 * 40)  # two scoops of 40 g


def packed(*edits: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    named = "    lid: flat\n    packaging: [cup-medium, straw]\n"
    return (("ingredients:\n", PACKAGING + "ingredients:\n"), ("    lid: flat\n", named), *edits)


def test_one_cup_is_counted_and_none_of_what_is_not_sold() -> None:
    size = s.cup(packaging=(Packaging(id="cup", name=s.text("cup"), kind="cup", span=s.SPAN),))
    drink = s.drink("tea", [], cups=(size,))
    assert [pieces([s.sold(drink, number)]) for number in (0, 1)] == [{}, {"cup": 1}]


def test_packaging_is_counted_and_bought_in_packs() -> None:
    figured = plan(*packed((PEARLS, PEARLS + ", packaging: wide-straw")))
    bought = {one.ingredient.id: one for one in figured.purchases if one.pieces is not None}
    # 5 medium 'cloud' and 4 'shaken' take 9 cups: 3 packs of 3 at 0.30. Of the 2 pearls among 5
    # medium and 3 tall, 2 x 5/8 = 1.25 are medium, which save straws: 7.75, so 8. The tall ones
    # name no straw of their own; their pearls bring one all the same: 2.
    assert {id: one.pieces for id, one in bought.items()} == {
        "cup-medium": 9,
        "straw": 8,
        "wide-straw": 2,
    }
    cups = bought["cup-medium"]
    assert cups.packs is not None
    assert (cups.packs.count, cups.packs.left_over, str(cups.cost)) == (3, 0, "0.90")
    assert (bought["wide-straw"].packs, bought["wide-straw"].cost) == (None, None)


def test_a_size_without_cups_is_not_sold_and_one_without_straws_is() -> None:
    cup = plan(*packed(("kind: cup,", "kind: cup, sold_out: yes,")))
    assert sold(cup) == {"cloud": 3}  # the tall ones
    assert left_out(cup) == [("medium", "sold-out", ["cup-medium"])]
    straws = plan(*packed(("name: straw,", "name: straw, sold_out: yes,")))
    assert sold(straws) == {"cloud": 8, "shaken": 4}


def test_what_is_not_sold_now_names_each_thing_once() -> None:
    edit = after("  pearl-tin:\n    name: Pearls\n", "    sold_out: yes\n")
    now = not_sold_now(menu_of(checked(edit)))
    assert [(one.what.id, one.why) for one in now] == [
        ("cloud", "sold-out"),
        ("add-pearls", "sold-out"),
    ]


NOON = datetime(2026, 6, 1, 12, tzinfo=ZoneInfo("Europe/Madrid"))


def test_packaging_is_counted_into_stock_and_ordered_by_supplier() -> None:
    supplied = ("name: straw,", "name: straw, supplier: Paper & Co,")
    edits = packed(supplied, (PEARLS, PEARLS + ", packaging: wide-straw"))
    menu, figured = menu_of(checked(*edits)), plan(*edits)
    counts = [
        Entry(NOON, "counted", "cup-medium", amount="2 packs"),
        Entry(NOON, "counted", "wide-straw", amount="1 piece"),
    ]
    needs = less_stock(figured.purchases, stock(menu, counts), NOON)
    by_id = {one.ingredient.id: one for one in needs}
    # 9 cups, of which two packs of 3 are there: one pack more. One of two wide straws, which have
    # no pack. No straw was counted: a pack of 100 for 8.
    cups = by_id["cup-medium"].packs
    assert cups is not None
    assert (cups.count, cups.left_over, str(by_id["cup-medium"].cost)) == (1, 0, "0.30")
    assert by_id["wide-straw"].short == 1
    ordered = {one.supplier: [line.ingredient.id for line in one.lines] for one in orders(needs)}
    assert ordered["Paper & Co"] == ["straw"]
    assert {"cup-medium", "wide-straw"} <= {*ordered[""]}
    twice = {one.ingredient.id: one for one in together([figured.purchases, figured.purchases])}
    assert twice["cup-medium"].packs is not None
    assert (twice["cup-medium"].packs.count, twice["wide-straw"].pieces) == (6, 4)


@pytest.mark.parametrize(("id", "amount"), [("straw", "200 g"), ("wide-straw", "1 pack")])
def test_packaging_is_counted_in_pieces_or_packs(id: str, amount: str) -> None:
    menu = menu_of(checked(*packed()))
    with pytest.raises(ValueError, match=f"{id}: .*; count it in pieces"):
        counted(menu, Entry(NOON, "counted", id, amount))


def test_a_sold_out_swap_is_left_out_and_its_guests_take_the_drink_as_written() -> None:
    files = demo()
    usual = check_texts(files)
    without = check_texts(
        {name: text.replace("  oat-drink:\n", "  oat-drink:\n    sold_out: yes\n", 1)
         for name, text in files.items()}
    )  # fmt: skip
    figured = []
    for one in (usual, without):
        menu = menu_of(one)
        day = menu.days["saturday"]
        teas = tuple(line for line in day.lines if line.drink.id == "marsh-milk-tea")
        servings = {(each.drink.id, each.cup.id): each for each in one.servings}
        figured.append(plan_day(menu, replace(day, lines=teas), servings))
    assert figured[0].not_sold == ()
    assert left_out(figured[1]) == [("oat-for-milk", "sold-out", ["oat-drink"])]
    milk = [{one.component.id: one.servings for one in each.components}["milk"] for each in figured]
    asked = sum(count for line in figured[0].day.lines for _, count in line.swaps)
    assert asked > 0
    assert milk[1] - milk[0] == asked
