"""Tables of a card compared: no drink is told as new or gone that stands in both, and the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.compare.change import Change, What, numbered
from buildsheets.compare.changes import changes_between
from buildsheets.compare.sentences import sentence
from buildsheets.compare.tables import by_drink, by_row
from buildsheets.ledger.card_texts import BETWEEN
from buildsheets.ledger.edition_words import edition_words
from buildsheets.print.layouts import Layouts

EN = edition_words(Layouts(), "en")
HEADER = ("Add-ons", "Allergens", "What to do", "Drinks")
Row = tuple[str, ...]


def table(rows: Sequence[Row], header: Row = HEADER, title: str = "") -> dict[str, Any]:
    return {"title": title, "header": list(header), "rows": [list(row) for row in rows]}


def texts(before: Sequence[Row], after: Sequence[Row], header: Row = HEADER) -> list[str]:
    found = by_drink([table(before, header)], [table(after, header)], ())
    return [sentence(change, EN) for change in found]


CAP, CAP_SAYS = "Cream cap: 2 ladles (40 ml)", "Contains milk; may contain gluten"


def test_a_drink_that_leaves_a_group_moves_no_other() -> None:
    """The rows of one add-on share their first cell: which of them is which, its drinks tell."""
    winter = (
        (CAP, CAP_SAYS, "Black tea to 415 ml, 2 mm lower", "Marsh tea · Pearl tea · Bean tea"),
        (CAP, CAP_SAYS, "Whole milk to 415 ml, 1 mm lower", "Dock coffee"),
    )
    spring = (
        (CAP, CAP_SAYS, "as written", "Marsh tea"),
        (CAP, CAP_SAYS, "Black tea to 415 ml, 2 mm lower", "Pearl tea · Bean tea"),
        (CAP, CAP_SAYS, "Oat drink to 415 ml, 1 mm lower", "Dock coffee"),
    )
    assert texts(winter, spring) == [
        "Cream cap, Marsh tea: What to do: as written, was Black tea to 415 ml, 2 mm lower",
        "Cream cap, Dock coffee: What to do: Oat drink to 415 ml, 1 mm lower, "
        "was Whole milk to 415 ml, 1 mm lower",
    ]


JELLY, PEARLS, NONE = "Jelly: 3 scoops", "Pearls: 2 scoops", "none declared"
BEFORE = (
    (JELLY, NONE, "as written", "Amber tea · Dusk tea · Lantern tea"),
    (JELLY, NONE, "leave out 10 ml", "Frost tea"),
    (PEARLS, NONE, "leave out 5 ml", "Amber tea"),
)


@pytest.mark.parametrize(
    ("place", "row", "lines"),
    [
        (
            0, (JELLY, NONE, "as written", "Amber tea · Reed tea · Lantern tea"),
            ["Jelly: for Reed tea now as written", "Jelly: no longer for Dusk tea"],
        ),
        (
            1, (JELLY, NONE, "leave out 15 ml", "Frost tea"),
            ["Jelly, Frost tea: What to do: leave out 15 ml, was 10"],
        ),
        (
            1, (JELLY, "Contains sulphites", "leave out 10 ml", "Frost tea"),
            ["Jelly, Frost tea: Allergens: Contains sulphites, was none declared"],
        ),
        (
            2, ("Pearls: 3 scoops", NONE, "leave out 9 ml", "Amber tea"),
            ["Pearls: 3 scoops, was 2",
             "Pearls, Amber tea: What to do: leave out 9 ml, was 5"],
        ),
        (
            2, ("Seeds: 1 scoop", NONE, "as written", "Dusk tea"),
            ["New: Seeds: 1 scoop (none declared · as written: Dusk tea)",
             "Gone: Pearls: 2 scoops"],
        ),
        (
            0, (JELLY, NONE, "as written", "Dusk tea · Amber tea · Lantern tea"),
            ["Now in the order Dusk tea · Amber tea · Lantern tea · Frost tea · Amber tea"],
        ),
    ],
)  # fmt: skip
def test_each_drink_is_compared_by_its_own_row(place: int, row: Row, lines: list[str]) -> None:
    after = [*BEFORE]
    after[place] = row
    assert texts(BEFORE, after) == lines


def test_rows_in_another_order_say_so_and_columns_too() -> None:
    assert texts(BEFORE, (BEFORE[2], *BEFORE[:2])) == [
        "Now in the order Pearls: 2 scoops · Jelly: 3 scoops · Jelly: 3 scoops"
    ]
    sweet = [table([("Honey", "0", "2", "Dusk tea")], ("", "0 %", "100 %", "Drinks"), "Sweetness")]
    more = [
        table([("Honey", "0", "1", "2", "Dusk tea")], ("", "0 %", "50 %", "100 %", "Drinks"),
              "Sweetness")
    ]  # fmt: skip
    assert [sentence(change, EN) for change in by_drink(sweet, more, ())] == [
        "Sweetness: Honey, Dusk tea: 50 %: now 1",
        "Sweetness: headings 0 % · 50 % · 100 % · Drinks, was 0 % · 100 % · Drinks",
    ]


def test_a_drink_with_two_rows_of_one_name_is_told_by_both() -> None:
    header = ("", "0 %", "Drinks")
    before = (("Syrup", "1", "Amber tea"), ("Syrup", "2", "Amber tea"))
    assert texts(before, (("Syrup", "3", "Amber tea"), before[1]), header) == [
        "Syrup, Amber tea: 0 %: 2 / 0 %: 3, was 1 / 0 %: 2"
    ]


def test_tables_of_one_title_count_as_one() -> None:
    """Drinks of another set of levels have a table of their own under the same title."""
    few, many = ("", "0 %", "Drinks"), ("", "0 %", "50 %", "Drinks")
    amber, dusk = ("Syrup", "1", "Amber tea"), ("Syrup", "1", "2", "Dusk tea")
    before = [table([amber], few, "Sweetness"), table([dusk], many, "Sweetness")]
    after = [table([dusk], many, "Sweetness")]
    found = list(by_drink(before, after, ()))
    assert [(change.what, change.drinks) for change in found] == [(What.FOR_FEWER, ("Amber tea",))]


def test_a_table_without_drinks_goes_by_its_rows() -> None:
    before = table([("142 g · Small", "20", "6 g"), ("200 g · Large", "14", "0 g")],
                   ("Each", "Number", "Left over"))  # fmt: skip
    after = table([("142 g · Small", "21", "6 g"), ("180 g · Large", "15", "9 g")],
                  ("Each", "Number", "Left over"))  # fmt: skip
    found = by_row(before, after, ("portions",))
    assert [sentence(change, EN) for change in found] == [
        "Portions: 142 g · Small: Number: 21, was 20",
        "Portions: gone: 200 g · Large",
        "Portions: new: 180 g · Large (Number: 15; Left over: 9 g)",
    ]


NAMES = ["tea", "milk", "oat", "reed"]
ROWS = st.lists(
    st.tuples(
        st.sampled_from(["cap: 1", "cap: 2", "jelly: 1", "syrup"]),
        st.sampled_from(["as written", "leave out 5 ml", "leave out 9 ml"]),
        st.lists(st.sampled_from(NAMES), min_size=1, max_size=3, unique=True).map(BETWEEN.join),
    ),
    max_size=5,
).map(tuple)
DO = ("", "do", "Drinks")
CAME, WENT = (What.ADDED, What.FOR_MORE), (What.REMOVED, What.FOR_FEWER)


def offers(rows: Sequence[Row]) -> dict[tuple[str, str], Counter[str]]:
    """(add-on, drink) and what the drink's rows say of it."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for first, cell, drinks in rows:
        for drink in drinks.split(BETWEEN):
            found.setdefault((first, drink), Counter())[cell] += 1
    return found


def names_it(change: Change, *names: str) -> bool:
    """Whether a change is about an add-on: alone or together with drinks."""
    texts = (change.subject, *(part.partition(", ")[0] for part in change.where))
    return any(name in texts for name in names)


@given(ROWS, ROWS)
def test_no_drink_is_told_as_new_or_gone_that_stands_in_both(before: Any, after: Any) -> None:
    """And none that came, went or does otherwise is left out."""
    had, has = offers(before), offers(after)
    found = list(by_drink([table(before, DO)], [table(after, DO)], ()))
    for first, drink in had.keys() | has.keys():
        key, names = (first, drink), (first, first.partition(": ")[0])
        told = [change for change in found if drink in change.drinks and names_it(change, *names)]
        whats = {change.what for change in told}
        if key in had and key in has:
            assert whats == (set() if had[key] == has[key] else {What.TEXT})
        elif key in has:
            assert whats & {*CAME, What.TEXT}, "of an add-on of another amount, that it is"
        else:
            other = {change.what for change in found if names_it(change, *names)}
            assert whats & {*WENT} or What.TEXT in other


@given(
    st.lists(st.tuples(st.sampled_from(["", "Sweetness"]), ROWS), max_size=3),
    st.lists(st.tuples(st.sampled_from(["", "Sweetness"]), ROWS), max_size=3),
)
def test_tables_that_differ_are_never_called_a_matter_of_looks(before: Any, after: Any) -> None:
    was, now = ([table(rows, DO, title) for title, rows in drawn] for drawn in (before, after))
    found = changes_between({"tables": was}, {"tables": now})
    assert (found[0].what is What.LOOK) == (before == after)


@given(st.lists(st.sampled_from(["Milk", "Milk (2)", "Tea"]), max_size=6))
def test_no_row_is_lost_to_another_of_its_name(names: list[str]) -> None:
    single = numbered(names)
    assert len(set(single)) == len(names)
    assert all(one.startswith(name) for one, name in zip(single, names, strict=True))
