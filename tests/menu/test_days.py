"""Opening hours past midnight and how busy each hour is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import menu_samples as m
import pytest

from buildsheets.prep.dayplan import component_needs

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


SALE = "{drink: cloud, count: {medium: 5, tall: 3}, add_ons: {add-pearls: 2}}"
ADD_ON = "add-pearls: {topping: pearls, amount: 1 scoop, price: 0.60}"
BY_SIZE = "add-pearls: {topping: pearls, amount: {medium: 1 scoop, tall: 2 scoops}}"


def sales(sale: str = SALE, add_on: str = BY_SIZE) -> m.Checked:
    return m.check_texts(m.swapped(m.swapped(m.SMALL, SALE, sale), ADD_ON, add_on))


def cloud_lines(checked: m.Checked) -> dict[str, list[Fraction]]:
    """How many of its add-on go with each size of the cloud."""
    assert checked.menu is not None
    lines = checked.menu.days["busy"].lines
    return {one.cup.id: [n for _, n in one.add_ons] for one in lines if one.drink.id == "cloud"}


def test_add_ons_go_with_the_sizes_as_these_are_sold() -> None:
    # 2 of 5 + 3 clouds have pearls: 2 x 5/8 medium ones of 40 g, 2 x 3/8 tall ones of 80 g.
    checked = sales()
    assert cloud_lines(checked) == {"medium": [Fraction(5, 4)], "tall": [Fraction(3, 4)]}
    assert checked.menu is not None
    day = checked.menu.days["busy"]
    servings = {(one.drink.id, one.cup.id): one for one in reversed(checked.servings)}
    bare = replace(day, lines=tuple(replace(one, add_ons=()) for one in day.lines))
    with_them = {one.component.id: one for one in component_needs(day, servings)[0]}["pearls"]
    without = {one.component.id: one for one in component_needs(bare, servings)[0]}["pearls"]
    assert with_them.mass_g - without.mass_g == pytest.approx(50 + 60)
    assert with_them.servings - without.servings == 2


def test_a_size_that_does_not_take_an_add_on_gets_none_of_it() -> None:
    sale = "{drink: cloud, count: {medium: 6, tall: 2, poured: 40}, add_ons: {add-pearls: 4}}"
    assert cloud_lines(sales(sale)) == {
        "medium": [Fraction(3)], "tall": [Fraction(1)], "poured": [],
    }  # fmt: skip


def test_more_add_ons_than_cups_that_take_them_is_a_finding_with_the_most() -> None:
    sale = "{drink: cloud, count: {medium: 6, poured: 40}, add_ons: {add-pearls: 9}}"
    (found,) = [one for one in sales(sale).findings if one.code == "DAY08"]
    assert "9 of 'add-pearls' with 6 'cloud'" in found.message
    assert "3 too many" in found.message
    assert found.hint == "write 6 or fewer"
    assert not sales(sale.replace("9", "6")).findings
    none = "{drink: cloud, count: {poured: 40}, add_ons: {add-pearls: 1}}"
    assert [one.code for one in sales(none).findings] == ["DAY08"]
