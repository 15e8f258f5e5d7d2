"""What does not fit: smaller type, larger stock, more cards; each row once, never too small."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise

import pytest
from card_samples import BUILD, PLAIN, STATION
from hypothesis import given
from hypothesis import strategies as st
from pdf_reading import errors, page_texts

from buildsheets.print import fit
from buildsheets.print.heights import EVEN_MM, Heights, guessed
from buildsheets.print.render import Printed, render_pdf
from buildsheets.views.types import SheetTable, SheetView, View

MANY = tuple(replace(step, number=n) for n, step in enumerate(BUILD.steps * 6, 1))


def test_choices_beyond_what_was_asked_for_are_told() -> None:
    near = render_pdf([replace(PLAIN, reading_distance_mm=600.0)])
    assert near.notes == ()
    far = render_pdf([replace(BUILD, reading_distance_mm=680.0)])
    assert [f.code for f in far.findings] == ["CARD04"]
    assert "printed on A4 instead of 148 x 210 mm: it takes" in far.notes[0]
    small = next(
        made
        for distance in range(400, 760, 20)
        for made in [render_pdf([replace(BUILD, reading_distance_mm=float(distance))])]
        if made.pages[0].arcmin < 20
    )
    assert small.pages[0].width_mm == 148  # smaller type comes before larger stock
    assert [f.code for f in small.findings] == ["CARD15"]
    assert f"is set at {small.pages[0].arcmin:g} arcmin from" in small.notes[0]


def test_a_row_too_high_for_the_usual_sheet_goes_onto_the_next_larger_one() -> None:
    """The station's card lies on A4; one drink of so many steps takes more than its 210 mm."""
    (first, *_) = STATION.rows
    tall = replace(STATION, rows=(replace(first, adds=first.adds * 20),), gauge=())
    printed = render_pdf([replace(tall, width_mm=297.0, height_mm=210.0)])
    assert errors(printed) == []
    assert {(page.width_mm, page.height_mm) for page in printed.pages} == {(420, 297)}
    assert "printed on A3 instead of 297 x 210 mm: it takes" in printed.notes[0]


def test_what_no_sheet_holds_is_told_with_the_keys_that_help() -> None:
    (first, *_) = STATION.rows
    endless = replace(STATION, rows=(replace(first, adds=first.adds * 90),), gauge=())
    (refused,) = render_pdf([endless]).findings
    assert refused.code == "CARD03"
    assert f"({STATION.station.name}, {STATION.size_name or STATION.cup_name})" in refused.message
    distance = f"reading_distance: (here {STATION.reading_distance_mm:g} mm"
    assert distance in refused.hint
    assert "card: under shop:" in refused.hint


@pytest.mark.parametrize(
    ("language", "name", "broken"),
    [
        ("de", "Winterapfelweihnachtspunschverfeinerungsgetränk mit Zimt",
         "Winterapfelweih-nachtspunschver-feinerungsgetränk mit Zimt"),
        ("de", "Schwarzwälder Johannisbeer-Buttermilchlimonade",
         "Schwarzwälder Johannisbeer-Buttermilchlimo-nade"),
        ("en", "Iced Strawberry Cheesecake Milk", "Iced Strawberry Cheesecake Milk"),
    ],
)  # fmt: skip
def test_a_word_too_long_for_its_line_is_broken_between_syllables(
    language: str, name: str, broken: str
) -> None:
    """Others stay whole; without a hyphen a name read "weihnachtsp unschverfeinerungsgeträ nk"."""
    rows_of = (replace(STATION.rows[0], drink=name), *STATION.rows[1:])
    printed = render_pdf([replace(STATION, language=language, rows=rows_of)])
    (page,) = page_texts(printed.pdf)
    assert broken in page.replace("\ufffe", "-"), (
        page
    )  # as pdfium reads a hyphen at the end of a line


def test_too_much_for_one_card_is_split_and_each_part_says_what_it_must() -> None:
    printed = render_pdf([replace(BUILD, steps=MANY)])
    assert errors(printed) == []
    count = len(printed.pages)
    assert count >= 2
    assert [(page.part, page.parts) for page in printed.pages] == [
        (n + 1, count) for n in range(count)
    ]
    texts = page_texts(printed.pdf)
    for number, text in enumerate(texts, 1):
        assert f"{number}/{count}" in text
        assert "Contains: milk" in text
        assert "choking" in text
        assert "RCT-M" in text
    for what in ("Cooked pearls", "Whole milk", "Dome lid, wide straw"):
        assert sum(text.count(what) for text in texts) == 6
    assert "Add-ons" in texts[-1]
    assert all("Add-ons" not in text for text in texts[:-1])
    assert "CARD05" in {f.code for f in printed.findings}
    assert any(f"is split over {count} cards" in note for note in printed.notes)


def test_station_rows_are_split_in_order_each_once() -> None:
    rows = tuple(replace(STATION.rows[n % 4], drink=f"Drink <{n}>") for n in range(23))
    printed = render_pdf([replace(STATION, rows=rows)])
    assert errors(printed) == []
    assert printed.pages[0].parts == len(printed.pages) > 1
    texts = page_texts(printed.pdf)
    assert f"card 1 of {len(texts)}" in texts[0]
    heads = [text.partition("Arrives at")[0] for text in texts]
    whole = " ".join(text.removeprefix(head) for text, head in zip(texts, heads, strict=True))
    # Each part says in its head which drinks stand on it and on the others.
    own = [re.findall(r"Drink <(\d+)>", text.partition("Arrives at")[2]) for text in texts]
    for number, head in enumerate(heads, 1):
        there = [re.search(rf"card {part}: Drink <{a[0]}> – Drink <{a[-1]}>", head) is not None
                 for part, a in enumerate(own, 1)]  # fmt: skip
        assert there == [part != number for part in range(1, len(own) + 1)]
        first, last = own[number - 1][0], own[number - 1][-1]
        assert f"on this card: Drink <{first}> – Drink <{last}>" in head
    places = [whole.index(f"Drink <{n}>") for n in range(23)]
    assert places == sorted(places)
    assert whole.count("Drink <") == 23
    assert all("choking" in text and "Arrives at" in text for text in texts)


@pytest.mark.parametrize("factor", [0.6, 4.0])
def test_what_is_expected_of_a_card_decides_nothing(
    monkeypatch: pytest.MonkeyPatch, factor: float
) -> None:
    """Too little or too much is only laid out in vain."""
    plain = as_guessed()
    monkeypatch.setattr(fit, "guessed", lambda view: guessed(view).times(factor))
    other = render_pdf(shapes())
    assert errors(other) == []
    assert other.pages == plain.pages


def shapes() -> list[View]:
    """Cards that fit, or take smaller type, a larger stock or several cards."""
    rows = tuple(replace(STATION.rows[n % 4], drink=f"Drink <{n}>") for n in range(23))
    views: list[View] = [
        PLAIN,
        replace(BUILD, reading_distance_mm=680.0),
        replace(BUILD, reading_distance_mm=420.0),
        replace(BUILD, steps=MANY),
        replace(STATION, rows=rows),
    ]
    return [replace(view, code=f"C{n}") for n, view in enumerate(views)]


@cache
def as_guessed() -> Printed:
    return render_pdf(shapes())


def sheet(rows: int) -> SheetView:
    table = SheetTable(
        "Table", ("First", "Second"), tuple((f"row <{n}>", f"{n} g") for n in range(rows)),
        "lr", (3.0, 1.0), tick=True, strong=(0,),
    )  # fmt: skip
    return SheetView(
        "Sheet", "", (table,), ("Note",), kind="prepsheet", language="en", code="S",
        foot=BUILD.foot, reading_distance_mm=350.0, width_mm=210.0, height_mm=297.0,
    )  # fmt: skip


@pytest.mark.parametrize("rows", [1, 30, 44, 61, 160, 300])
def test_every_row_of_a_table_is_printed_once_and_each_page_has_its_header(rows: int) -> None:
    printed = render_pdf([sheet(rows)])
    assert errors(printed) == []
    texts = page_texts(printed.pdf)
    assert all(text.count("First") == 1 and "Note" in text for text in texts)
    whole = " ".join(texts)
    assert whole.count("row <") == rows
    places = [whole.index(f"row <{n}>") for n in range(rows)]
    assert places == sorted(places)


def test_tables_that_begin_pages_are_shared_out_over_more_cards() -> None:
    """What stands over a table takes room on whichever card it begins."""
    (table,) = sheet(1).tables
    count = 33  # one more than two sheets hold
    tables = tuple(
        replace(table, title=f"Table {n}", rows=((f"row <{n}>", ""),)) for n in range(count)
    )
    printed = render_pdf([replace(sheet(1), tables=tables)])
    assert errors(printed) == []
    assert printed.pages[0].parts == 3
    whole = " ".join(page_texts(printed.pdf))
    places = [whole.index(f"Table {n}") for n in range(count)]
    assert places == sorted(places)
    assert whole.count("row <") == whole.count("First") == count


heights = st.lists(st.floats(5, 40), min_size=1, max_size=8)


@given(heights, st.floats(0, 20), st.floats(0, 30))
def test_rows_are_shared_out_over_the_fewest_cards_as_evenly_as_can_be(
    rows: list[float], every: float, last: float
) -> None:
    starts = Heights(tuple(rows), every, last).starts(110.0)
    count = len(rows) + 1 if starts is None else len(starts)

    def fullest(starts: tuple[int, ...]) -> float:
        bounds = [*starts, len(rows)]
        full = [sum(rows[a:b]) + every for a, b in pairwise(bounds)]
        return max([*full[:-1], full[-1] + last])

    def cuts(cards: int) -> list[tuple[int, ...]]:
        return [(0, *cut) for cut in combinations(range(1, len(rows)), cards - 1)]

    for fewer in range(1, min(count, len(rows) + 1)):
        assert min(map(fullest, cuts(fewer))) > 110.0 - 1e-6
    if starts is not None:
        assert fullest(starts) <= 110.0 + 1e-6
        assert fullest(starts) <= min(map(fullest, cuts(count))) + EVEN_MM + 1e-6
    else:
        assert max(*rows[:-1], rows[-1] + last, 0.0) + every > 110.0 - 1e-6
