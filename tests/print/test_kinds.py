"""Parts of a view: every row in one part, in order, the rest on each."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from itertools import pairwise

import pytest
from card_samples import BUILD, STATION
from hypothesis import given
from hypothesis import strategies as st
from pdf_reading import page_texts
from pypdfium2 import PdfDocument
from test_engine import LAYOUTS, document
from test_fit import sheet

from buildsheets.print import strips
from buildsheets.print.document import Section, Setting, maker
from buildsheets.print.engine import lay_out
from buildsheets.print.heights import Heights
from buildsheets.print.kinds import is_one_card, row_names, rows, some_rows, title
from buildsheets.print.render import render_pdf
from buildsheets.proof.proof import expect, proof
from buildsheets.views.grids import pieces
from buildsheets.views.paper import Paper
from buildsheets.views.types import (
    AmountRow,
    AmountTable,
    BuildCardView,
    Foot,
    GaugeLine,
    GaugeStripView,
    RackLine,
    SheetView,
    StationCardView,
    StepSwap,
    View,
)

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


def test_sets_of_what_is_chosen_together_stand_on_a_line_each() -> None:
    """Four sets in one line were read as one; single names go on one line as before."""
    together = ("Cream", "Seeds + Cream", "Oat drink + Cream", "Oat drink + Seeds + Cream")
    rows = (
        AmountRow(together, "", ("180",)),
        AmountRow(("Jelly", "Pearls"), "", ("190",)),
        AmountRow((), "", ("200",)),
    )
    amounts = (AmountTable(3, "Tea", "ml", (), rows, "", "any other"),)
    html, style = document(replace(BUILD, amounts=amounts))
    with closing(PdfDocument(lay_out(html, style, LAYOUTS).pdf())) as pdf:
        texts = [page.get_textpage().get_text_range() for page in pdf]
    lines = [line.strip() for text in texts for line in text.splitlines()]
    first = lines.index("Tea (ml) Cream /")
    assert lines[first + 1 :][:3] == [f"{one} /" for one in together[1:3]] + [together[3]]
    assert "Jelly / Pearls 190" in lines


def test_the_last_of_a_stations_cards_says_how_long_what_stands_there_keeps() -> None:
    view = replace(STATION, keeps=("Cooked pearls 4 h", "Salt cream 8 h"))
    stock = Paper("", view.width_mm, view.height_mm)
    setting = Setting(LAYOUTS, view.kind, view.language, stock, 600.0, 20.0, 3.0)

    def said(part: int, parts: int) -> bool:
        html = maker(LAYOUTS).html([Section(view, part, parts)], setting, "Cards")
        return "Cooked pearls 4 h · Salt cream 8 h" in html.replace("\u00a0", " ")

    assert [said(1, 1), said(1, 2), said(2, 2)] == [True, False, True]


def test_what_goes_in_has_the_room_that_short_amounts_leave() -> None:
    """A long word on steaming, and on what is steamed instead, stood in half of the card."""
    swap = StepSwap("Oat drink", "", "", "", "steam to 60 °C, until grown by 15%")
    step = replace(BUILD.steps[0], amount="12", unit="fl oz", kind="liquid", swaps=(swap,))
    long, line = replace(step, unit="ice scoops"), replace(step, kind="line")
    for steps, room in (((step,), True), ((step, long), False), ((step, line), False)):
        html, _ = document(replace(BUILD, steps=steps))
        assert ('<table class="steps plain">' in html) == room
        assert '<br/><span class="swap">or Oat drink</span>' in html.replace("\u00a0", " ")
    plain = replace(step, swaps=(replace(swap, note=""),))
    html, _ = document(replace(BUILD, steps=(plain,)))
    assert '<br/><span class="swap">' not in html


def test_a_long_word_at_a_station_has_the_room_of_its_amounts_which_stand_under_it() -> None:
    sweets = AmountTable(1, "Milk", "ml", ("0 %", "100 %"), (AmountRow((), "", ("90", "80")),))
    assert sweets.in_line
    row = STATION.rows[0]
    for note, cell in (("cold", '<td class="o">'), ("steam it to 60 °C, " * 4, '<p class="o">')):
        step = replace(row.adds[0], number=1, what="Milk", note=note)
        view = replace(STATION, rows=(replace(row, adds=(step,), amounts=(sweets,)),))
        html, _ = document(view)
        assert html.count('class="o">') == 1
        assert cell in html
        assert html.index(note.split()[0]) < html.index(cell)


def test_a_part_of_a_station_card_marks_the_levels_of_its_own_drinks() -> None:
    """All levels of 500 drinks have no room beside each other; the rim is no drink's."""
    own = (("90 ml",), ("90 ml", "280 ml"), ("300 ml",))
    marks = (("90 ml", "line"), ("280 ml", "bed"), ("300 ml", "line"), ("rim", "rim"))
    gauge = tuple(GaugeLine(20.0 * n, label, kind) for n, (label, kind) in enumerate(marks, 1))
    held = (replace(r, levels=o) for r, o in zip(STATION.rows[:3], own, strict=True))
    whole = replace(STATION, rows=tuple(held), gauge=gauge)
    parts = [some_rows(whole, start, end) for start, end in ((0, 2), (2, 3))]
    told = [[line.label for line in p.gauge] for p in parts if isinstance(p, StationCardView)]
    assert told == [["90 ml", "280 ml", "rim"], ["300 ml", "rim"]]


def test_a_part_names_of_a_mark_only_the_lines_that_its_drinks_use() -> None:
    """It named "520 / 525 ml" where no drink was poured to 520, on paper and past the proof."""
    own = (("520 ml", "100 ml topping"), ("525 ml",), ("520 ml", "530 ml"), ("520 ml", "525 ml"))
    lines = (("100 ml topping", "bed"), ("520 / 525 / 530 ml", "line"), ("rim", "rim"))
    gauge = tuple(GaugeLine(40.0 * n, label, kind) for n, (label, kind) in enumerate(lines, 1))
    rows_of = tuple(replace(STATION.rows[0], levels=one) for one in own)
    whole = replace(STATION, rows=rows_of, gauge=gauge, code="S-1", foot=Foot("S-1"))
    told = []
    for start in range(4):
        part = some_rows(whole, start, start + 1)
        assert isinstance(part, StationCardView)
        told.append([line.label for line in part.gauge])
        printed = render_pdf([part])
        assert part.gauge[-2].label in " ".join(" ".join(page_texts(printed.pdf)).split())
        (page,) = printed.pages
        found = proof(printed.pdf, expect([replace(page, parts=4)], [whole]))
        assert not [one.message for one in found if one.code == "PROOF09"]
    assert told == [
        ["100 ml topping", "520 ml", "rim"],
        ["525 ml", "rim"],
        ["520 / 530 ml", "rim"],
        ["520 / 525 ml", "rim"],
    ]


def test_titles() -> None:
    assert title(BUILD) == "Roasted cloud tea, Medium, iced"
    assert title(STATION).startswith("Top and seal, ")
    assert title(TABLES) == "Sheet"


def test_a_strip_is_split_by_drinks_and_keeps_the_limit_and_the_rim() -> None:
    whole = strip(("Ash", ("Ash", "Ash + pearls")), ("Birch", ("Birch",)), ("Oak", ("Oak",)))
    assert rows(whole) == 3
    first, last = some_rows(whole, 0, 2), some_rows(whole, 2, 3)
    assert isinstance(first, GaugeStripView)
    assert isinstance(last, GaugeStripView)
    assert [row.drinks for row in first.rows] == [("Ash", "Birch"), ("Ash + pearls",), ()]
    assert [row.drinks for row in last.rows] == [("Oak",), ()]
    assert row_names(last) == (("Oak", "Oak"),)


def strip(*drinks: tuple[str, tuple[str, ...]]) -> GaugeStripView:
    """A strip where every drink is poured to one line, and with pearls to another."""
    plain = tuple(names[0] for _, names in drinks)
    more = tuple(name for _, names in drinks for name in names[1:])
    lines = [(50.0, "line", plain), *[(60.0, "line", more)] * bool(more), (110.0, "rim", ())]
    return GaugeStripView(
        kind="gauge",
        language="en",
        title="Edge gauge",
        size_name="Medium",
        subtitle="",
        rows=tuple(RackLine(GaugeLine(mm, f"{mm:g}", kind), "", who) for mm, kind, who in lines),
        by_drink=tuple((name, *names) for name, names in drinks),
        gauge_floor_mm=3.0,
        reading_distance_mm=500.0,
        width_mm=148.0,
        height_mm=210.0,
    )


def test_each_card_of_a_strip_has_as_many_drinks_as_have_room() -> None:
    drinks = [(name, (name,)) for name in ("Ash", "Birch", "Cedar", "Elm", "Oak")]
    view = strip(*drinks)

    def label_mm(row: RackLine) -> float:
        return 10.0 + 5.0 * len(row.drinks)

    # The rim takes 10, the line 10, and each drink 5.
    assert strips.starts(view, label_mm, 30.0) == (0, 2, 4)
    assert strips.starts(view, label_mm, 45.0) == (0,)
    assert strips.starts(view, label_mm, 24.0) is None


def test_rows_of_one_drink_stand_together_where_a_card_holds_them() -> None:
    heights = Heights((10.0,) * 6, 5.0, 0.0)
    assert heights.starts(35.0) == (0, 3)
    assert heights.starts(35.0, (2, 2, 2)) == (0, 2, 4)
    assert heights.starts(35.0, (1, 2, 3)) == (0, 3)
    assert heights.starts(25.0, (1, 2, 3)) == (0, 1, 3, 5)  # three have no room on any card


def test_what_a_row_is_looked_for_by() -> None:
    assert row_names(BUILD) == ()
    assert row_names(STATION)[0] == (STATION.rows[0].drink.partition(" · ")[0],) * 2
    tables = [replace(sheet(2).tables[0], drinks=ends) for ends in (("A", "F"), ("G", "M"))]
    view = replace(sheet(2), kind="addons", tables=tuple(tables))
    assert row_names(view) == (("A", "F"), ("A", "F"), ("G", "M"), ("G", "M"))
