"""Parts of a view: every row in one part, in order, the rest on each."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from card_samples import BUILD, STATION
from hypothesis import given
from hypothesis import strategies as st
from test_fit import sheet

from buildsheets.print.kinds import is_one_card, rows, some_rows, title
from buildsheets.views.grids import pieces
from buildsheets.views.types import BuildCardView, SheetView, View

TABLES = replace(sheet(3), tables=(*sheet(3).tables, replace(sheet(4).tables[0], note="n")))


def items(view: View) -> list[object]:
    if isinstance(view, SheetView):
        return [row for table in view.tables for row in table.rows]
    if isinstance(view, BuildCardView):
        return [*view.steps, *pieces(view.amounts)]
    return [*getattr(view, "steps", getattr(view, "rows", ()))]


@pytest.mark.parametrize("view", [BUILD, STATION, TABLES], ids=lambda view: view.kind)
@given(st.data())
def test_every_row_stands_in_one_part(view: View, data: st.DataObject) -> None:
    count = rows(view)
    assert count == len(items(view))
    cuts = sorted(data.draw(st.sets(st.integers(1, count - 1))))
    parts = [some_rows(view, a, b) for a, b in pairwise([0, *cuts, count])]
    assert [item for part in parts for item in items(part)] == items(view)
    assert {part.foot for part in parts} == {view.foot}
    assert not is_one_card(view)


def test_a_table_without_rows_on_a_card_is_left_out_and_its_note_comes_last() -> None:
    first, last = some_rows(TABLES, 0, 5), some_rows(TABLES, 5, 7)
    assert isinstance(first, SheetView)
    assert isinstance(last, SheetView)
    assert [len(table.rows) for table in first.tables] == [3, 2]
    assert first.tables[1].note == ""
    assert [(len(table.rows), table.note) for table in last.tables] == [(2, "n")]


def test_titles() -> None:
    assert title(BUILD) == "Roasted cloud tea, Medium, iced"
    assert title(STATION).startswith("Top and seal, ")
    assert title(TABLES) == "Sheet"
