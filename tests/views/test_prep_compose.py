"""The allergen matrix, date labels on a measured sheet, and the discard calendar."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any

import prep_samples as s
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from buildsheets.cup.allergens import allergen_report, of_everything_sold
from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Menu
from buildsheets.prep.keeping import Keeping, discard_order, keeping
from buildsheets.print.layouts import Layouts
from buildsheets.views import labels
from buildsheets.views.allergens import allergen_matrix
from buildsheets.views.types import LabelSheetView, LabelView

EN = Layouts(None).words("en")


def menu_of_two() -> Menu:
    milk = s.component("milk", s.ingredient("milk", contains=["milk"], may_contain=["nuts"]))
    sauce = s.component("sauce", s.ingredient("sauce", contains=None))
    extra = s.add_on("egg", s.component("egg", s.ingredient("egg", contains=["eggs"])), 20)
    steps = {"regular": s.amount(10)}
    return s.menu(
        drinks=[
            s.drink("plain", [s.add_step(milk, steps)], add_ons=(extra,)),
            s.drink("unclear", [s.add_step(milk, steps), s.add_step(sauce, steps)]),
        ]
    )


def matrix() -> Any:
    menu = menu_of_two()
    return allergen_matrix(menu, of_everything_sold(menu), EN)


def test_matrix_has_a_mark_in_every_place() -> None:
    view = matrix()
    assert len(view.allergens) == 14
    assert [row.name for row in view.rows] == ["plain", "unclear", "egg"]
    assert [row.group for row in view.rows] == ["Drinks", "Drinks", "Add-ons"]
    kinds = {"contains", "may-contain", "undeclared", "none-declared"}
    for row in view.rows:
        assert len(row.marks) == 14
        assert set(row.marks) <= kinds
    marks = dict(zip(view.allergens, view.rows[0].marks, strict=True))
    assert (marks["milk"], marks["nuts"], marks["fish"]) == (
        "contains",
        "may-contain",
        "none-declared",
    )


def test_undeclared_marks_everything_not_known_to_be_in_it() -> None:
    view = matrix()
    marks = dict(zip(view.allergens, view.rows[1].marks, strict=True))
    assert marks["milk"] == "contains"
    assert marks["nuts"] == "may-contain"
    assert {m for a, m in marks.items() if a not in ("milk", "nuts")} == {"undeclared"}
    assert view.notes[0].startswith("Something here is not declared")


def test_places_run_row_by_row_in_mm() -> None:
    spots = labels.places(s.label_sheet())
    assert len(spots) == 21
    assert spots[:4] == ((7.25, 15.15), (73.25, 15.15), (139.25, 15.15), (7.25, 53.25))


@pytest.mark.parametrize(
    ("change", "reason"),
    [({"left_mm": 15.0}, "leaves the sheet"), ({"down": 8}, "leaves the sheet"),
     ({"pitch_x_mm": 60.0}, "lie on each other"), ({"across": 0}, "holds no label"),
     ({"top_mm": -1.0}, "outside")],
)  # fmt: skip
def test_a_sheet_that_cannot_be_is_refused(change: dict[str, float], reason: str) -> None:
    with pytest.raises(FigureError, match=reason):
        labels.places(replace(s.label_sheet(), **change))  # type: ignore[arg-type]


@given(
    st.integers(1, 6), st.integers(1, 12), st.floats(10, 60), st.floats(5, 40), st.floats(0, 5),
    st.floats(0, 20), st.floats(0, 20),
)  # fmt: skip
def test_no_label_leaves_the_sheet_or_touches_another(
    across: int, down: int, wide: float, high: float, gap: float, left: float, top: float
) -> None:
    sheet = s.label_sheet_of(210, 297, wide, high, across, down, left, top, wide + gap, high + gap)
    assume(left + across * wide + (across - 1) * gap <= 210)
    assume(top + down * high + (down - 1) * gap <= 297)
    spots = labels.places(sheet)
    assert len(set(spots)) == across * down
    for x, y in spots:
        assert x >= 0
        assert y >= 0
        assert x + wide <= 210 + 1e-6
        assert y + high <= 297 + 1e-6
    for (x0, y0), (x1, y1) in pairwise(spots):
        assert x1 - x0 >= wide - 1e-6 or y1 - y0 >= high - 1e-6


def kept(**given: object) -> Keeping:
    cream = s.ingredient("cream", contains=["milk"], use_by=given.pop("use_by", None))
    batch = s.batch("cap", [s.part(cream, 1)], name="Cream cap", **given)
    return keeping(s.shop(), batch, datetime(2026, 12, 5, 8, 30))


def label(one: Keeping) -> LabelView:
    return labels.label(s.menu(), one, allergen_report(one.item), EN)


def sheets(one: Keeping, copies: int, skip: int) -> tuple[LabelSheetView, ...]:
    wanted = [(one, allergen_report(one.item), copies)]
    return labels.label_sheets(s.menu(), wanted, EN, s.label_sheet(), skip=skip)


def test_label_by_day_names_why_and_what_is_in_it() -> None:
    view = label(kept(keeps_for=s.keeps(days=3)))
    assert (view.name, view.made) == ("Cream cap", "Made Sat, Dec 5, 2026, 08:30")
    assert view.discard.replace("\u00a0", " ") == "Use until the end of Mon, Dec 7"
    assert (view.because, view.keep) == ("as the batch keeps", "Keep at 5 °C or colder")
    assert view.allergens == "Contains milk"
    early = label(kept(keeps_for=s.keeps(days=3), use_by=date(2026, 12, 6)))
    assert early.because == "use-by of cream"
    assert "Sun" in early.discard


def test_label_by_hour_says_the_clock() -> None:
    view = label(kept(keeps_for=s.keeps(hours=8, at_c=20.0)))
    assert view.discard.replace("\u00a0", " ") == "Throw out at 12:30, Sat, Dec 5"
    assert view.because == "its time out of the cold or the heat is up"


def test_labels_fill_sheets_in_order_and_skip_used_places() -> None:
    one = kept()
    first, second = sheets(one, 20, 3)
    assert (len(first.labels), len(second.labels)) == (18, 2)
    assert first.places_mm[0] == (7.25, 53.25)
    assert second.places_mm == ((7.25, 15.15), (73.25, 15.15))
    with pytest.raises(FigureError, match="21 labels"):
        sheets(one, 1, 21)


def test_calendar_rows_by_day() -> None:
    later = kept(keeps_for=s.keeps(days=3))
    sooner = kept(keeps_for=s.keeps(hours=4))
    (table,) = labels.calendar(s.menu(), discard_order([later, sooner]), EN).tables
    assert [row[:3] for row in table.rows] == [
        ("Sat, Dec 5, 2026", "12:30", "Cream cap"),
        ("Mon, Dec 7, 2026", "end of the day", "Cream cap"),
    ]
    assert table.tick
