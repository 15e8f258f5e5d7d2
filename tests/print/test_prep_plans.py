"""Laying out batch cards, the matrix and sheets: pages, marks, repeated headers, no loss."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import prep_samples as s
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.findings.finding import Severity
from buildsheets.cup.allergens import of_everything_sold
from buildsheets.prep.batch_card import batch_figures
from buildsheets.print.flow import Piece, pages_of
from buildsheets.print.layouts import Layouts
from buildsheets.print.legibility import Misfit
from buildsheets.print.page import Pages
from buildsheets.print.plan import Block, Plan
from buildsheets.print.render import RenderedPdf, RenderOptions, plan_card, render_pdf
from buildsheets.views.batch_compose import batch_card
from buildsheets.views.prep_compose import allergen_matrix
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.prep_words import office_foot

EN = Layouts(None).words("en")
LANGUAGES = ("en", "es", "fr", "de")


def block(height: float) -> Block:
    return Block((), (), height)


heights = st.lists(st.tuples(st.floats(1, 30), st.booleans()), min_size=1, max_size=25)


@given(heights, st.floats(70, 120), st.floats(0, 5))
def test_pieces_keep_their_order_stay_on_the_page_and_none_is_lost(
    given_pieces: list[tuple[float, bool]], height: float, gap: float
) -> None:
    pieces = [Piece(block(h), gap, heading=head and n % 3 == 0) for n, (h, head) in
              enumerate(given_pieces)]  # fmt: skip
    pages = pages_of(pieces, height)
    placed = [one for page in pages for one in page]
    assert [b.height_mm for _, b in placed] == [p.block.height_mm for p in pieces]
    for page in pages:
        assert page
        assert page[-1][0] + page[-1][1].height_mm <= height + 1e-6
        for (y, b), (below, _) in pairwise(page):
            assert y + b.height_mm <= below + 1e-6


def test_a_heading_stays_with_what_follows_and_a_header_comes_again() -> None:
    header = block(5)
    rows = [Piece(block(10), 0.0, again=header) for _ in range(6)]
    pages = pages_of([Piece(block(6), 0.0, heading=True), *rows], 30)
    assert [len(page) for page in pages] == [3, 3, 3]  # the header counts on later pages
    assert pages[1][0] == (0.0, header)
    lone = pages_of([Piece(block(15), 0.0), Piece(block(5), 0.0, heading=True),
                     Piece(block(12), 0.0)], 30)  # fmt: skip
    assert [len(page) for page in lone] == [1, 2]


def test_a_block_higher_than_a_page_is_a_misfit() -> None:
    with pytest.raises(Misfit):
        pages_of([Piece(block(31), 0.0)], 30)


def pages_text(made: RenderedPdf) -> list[str]:
    document = pypdfium2.PdfDocument(made.pdf)
    found = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return found


def errors(made: RenderedPdf) -> list[str]:
    return [f.message for f in made.findings if f.severity is Severity.ERROR]


def strings(plan: Plan, zone: str) -> list[str]:
    """Every run of a zone."""
    return [run.text for text in plan.zone(zone).texts for line in text.lines for run in line]


def matrix(language: str = "en") -> Any:
    milk = s.component("milk", s.ingredient("milk", contains=["milk"], may_contain=["nuts"]))
    sauce = s.component("sauce", s.ingredient("sauce", contains=None))
    steps = {"regular": s.amount(10)}
    menu = s.menu(
        drinks=[
            s.drink("clear", [s.add_step(milk, steps)]),
            s.drink("unclear", [s.add_step(sauce, steps)]),
        ]
    )
    return allergen_matrix(menu, of_everything_sold(menu), Layouts(None).words(language), "ALG")


@pytest.mark.parametrize("language", LANGUAGES)
def test_matrix_prints_letters_signs_and_every_name(language: str) -> None:
    view = matrix(language)
    made = render_pdf([view])
    assert errors(made) == []
    (text,) = pages_text(made)
    for name in view.allergens:
        assert name in text
    assert text.count("?") == 14 + 1  # the undeclared drink, and the legend
    assert view.legend[2] in text


def test_matrix_of_many_drinks_repeats_its_header() -> None:
    view = matrix()
    many = replace(view, rows=view.rows * 40)
    plans, findings = plan_card(many, Pages(Layouts(None)), RenderOptions())
    assert [f for f in findings if f.severity is Severity.ERROR] == []
    assert len(plans) > 1
    for plan in plans:
        shown = {
            run.text for text in plan.zone("main").texts for line in text.lines for run in line
        }
        assert set(view.allergens) <= shown
    rows = sum(1 for plan in plans for text in plan.zone("main").texts if text.kind == "drink")
    assert rows == len(many.rows)


def big_batch(parts: int, steps: int) -> Any:
    items = [s.ingredient(f"ingredient-number-{n}") for n in range(parts)]
    return s.batch(
        "big",
        [s.part(item, 100 + n) for n, item in enumerate(items)],
        steps=tuple(s.batch_step(f"Do what is to be done in step {n}", 60) for n in range(steps)),
    )


def full_card(batch: Any) -> Any:
    menu = s.menu(batches=[batch])
    return batch_card(menu, batch_figures(menu, batch, 1.0, {}), "full", EN, "B1")


def test_a_long_batch_goes_on_on_a_second_card_with_everything_on_it() -> None:
    batch = big_batch(18, 14)
    view = full_card(batch)
    plans, findings = plan_card(view, Pages(Layouts(None)), RenderOptions(largest_stocks=("A5",)))
    assert [f for f in findings if f.severity is Severity.ERROR] == []
    assert len(plans) >= 2
    shown = " ".join(text for plan in plans for text in strings(plan, "main"))
    for n in range(18):
        assert f"ingredient number {n}" in shown
    for n in range(14):
        assert f"in step {n}" in shown
    for plan in plans:  # every card carries what it contains
        assert any("14" in text for text in strings(plan, "low"))


def test_nothing_runs_into_the_code() -> None:
    batch = replace(big_batch(3, 2), cautions=("hot", "choking", "honey"))
    view = full_card(batch)
    view = replace(view, foot=replace(view.foot, qr_payload="https://shop.example/c/" + "B" * 40))
    (plan,), _ = plan_card(view, Pages(Layouts(None)), RenderOptions())
    assert plan.qr is not None
    for text in (text for zone in plan.zones for text in zone.texts):
        beside = text.x_mm + text.width_mm <= plan.qr.x_mm + 1e-6
        above = text.y_mm + text.height_mm <= plan.qr.y_mm + 1e-6
        assert beside or above, text.lines
    made = render_pdf([view])
    assert errors(made) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_batch_cards_print_in_every_language(language: str) -> None:
    words = Layouts(None).words(language)
    batch = big_batch(4, 3)
    menu = s.menu(batches=[batch])
    views = [batch_card(menu, batch_figures(menu, batch, f, {}), name, words, name)
             for name, f in (("full", 1.0), ("half", 0.5))]  # fmt: skip
    made = render_pdf(views)
    assert errors(made) == []
    first, second = pages_text(made)
    assert words("prep_parts") in first
    assert words("prep_scale_half") in second
    assert [(p.width_mm, p.height_mm) for p in made.pages] == [(148.0, 210.0)] * 2


def sheet(rows: int) -> SheetView:
    table = SheetTable(
        "Table", ("First", "Second"),
        tuple((f"row {n}", f"{n} g") for n in range(rows)),
        "lr", (3.0, 1.0), tick=True, strong=(0,),
    )  # fmt: skip
    return SheetView(
        "prepsheet", "en", "S", "Sheet", "", (table,), ("Note",),
        office_foot(EN, s.menu(), "S"), 350.0, 210.0, 297.0,
    )  # fmt: skip


@settings(max_examples=40)
@given(st.integers(1, 160))
def test_every_row_of_a_table_is_printed_once_and_each_page_has_its_header(rows: int) -> None:
    plans, findings = plan_card(sheet(rows), Pages(Layouts(None)), RenderOptions())
    assert [f for f in findings if f.severity is Severity.ERROR] == []
    cells: list[str] = []
    for plan in plans:
        texts = ["".join(run.text for line in t.lines for run in line)
                 for t in plan.zone("main").texts]  # fmt: skip
        assert texts.count("First") == 1
        cells += [t for t in texts if t.startswith("row ")]
    assert cells == [f"row {n}" for n in range(rows)]
