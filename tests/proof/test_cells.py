"""Tables read back from finished PDFs: sound ones pass, and a planted shift or swap is caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from card_samples import BUILD, BUILD_ES, STATION, STEPS
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from menu_samples import check_once

from buildsheets import output
from buildsheets.findings.finding import Finding
from buildsheets.place import Place
from buildsheets.print.render import RenderOptions, render_pdf
from buildsheets.proof.expected import expect
from buildsheets.proof.page import Page
from buildsheets.proof.proof import proof
from buildsheets.proof.tables import ExpectedTable, misplaced
from buildsheets.views.grids import grids
from buildsheets.views.types import (
    AllergenMatrixView,
    AmountRow,
    AmountTable,
    BatchCardView,
    MatrixRow,
    PartView,
    PrepStepView,
    SheetTable,
    SheetView,
    Table,
    View,
)

MENUS = Path(__file__).parent.parent / "menus"
NONE = "none-declared"
MATRIX = AllergenMatrixView(
    "Allergens", ("gluten", "crustaceans", "milk", "nuts"),
    (
        MatrixRow("Roasted cloud tea", (NONE, NONE, "contains", NONE)),
        MatrixRow("Plum garden", ("contains", "may-contain", NONE, NONE)),
        MatrixRow("Barley latte", ("contains", NONE, "contains", "undeclared"), "Hot"),
    ),
    ("C", "M"), ("contains", "may contain", "asks", "none"), (),
    kind="allergens", language="en", code="AL-1",
    foot=replace(BUILD.foot, code="AL-1", qr_payload="TRK/AL-1"), reading_distance_mm=600.0,
    width_mm=297.0, height_mm=210.0,
)  # fmt: skip
BATCH = BatchCardView(
    "Brown sugar syrup", "half", "× 0.5",
    (PartView("480", "g", "Brown sugar", "1 pack"), PartView("520", "g", "Water", "")),
    (PrepStepView(1, "Boil the water", "100 °C"), PrepStepView(2, "Stir in the sugar", "2 min")),
    "790 ml · 980 g", ("loss 2 %",),
    Table("Portions", ("Portion", "Number"), (("pump", "39"), ("2 pumps", "19"))),
    Table("Scaling", ("", "half", "whole"), (("Brown sugar", "480 g", "960 g"),
                                             ("Water", "520 g", "1040 g"))),
    ("pot",), BUILD.allergens, (), (), ("7 days",),
    kind="batch", language="en", code="BA-1",
    foot=replace(BUILD.foot, code="BA-1", qr_payload="TRK/BA-1"), reading_distance_mm=600.0,
    width_mm=148.0, height_mm=210.0,
)  # fmt: skip
SHEET = SheetView(
    "Prep", "Monday",
    (
        SheetTable("Batches", ("What", "Make", "By"),
                   (("Syrup", "2", "9:00"), ("Pearls", "3", "9:30"), ("Foam", "2", "10:00")),
                   "lrr", (3, 1, 1), True),
        SheetTable("Opened", ("What", "Make"), (("Milk", "6"), ("Cream", "1")), "lr", (3, 1)),
    ),
    (),
    kind="prepsheet", language="en", code="PS-1",
    foot=replace(BUILD.foot, code="PS-1", qr_payload="TRK/PS-1"), reading_distance_mm=600.0,
    width_mm=210.0, height_mm=297.0,
)  # fmt: skip
ALL: tuple[Any, ...] = (BUILD, BUILD_ES, STATION, BATCH, MATRIX, SHEET)


def printed(views: tuple[Any, ...], layouts: Path | None = None) -> tuple[bytes, Any]:
    done = render_pdf(views, RenderOptions(title="Cards", layouts=layouts))
    assert done.pdf, done.findings
    return done.pdf, done.pages


def cells(found: list[Finding]) -> list[str]:
    return [finding.message for finding in found if finding.code == "PROOF14"]


@pytest.fixture(scope="module")
def cards() -> tuple[bytes, Any]:
    return printed(tuple(replace(v, foot=replace(v.foot, code=v.code)) for v in distinct(ALL)))


def distinct(views: tuple[Any, ...]) -> list[Any]:
    """Each with a code of its own, in the foot and in the QR code too."""
    coded = []
    for number, view in enumerate(views):
        code = f"K-{number}"
        foot = replace(view.foot, code=code, qr_payload=f"TRK/{code}/1")
        coded.append(replace(view, code=code, foot=foot))
    return coded


def test_sound_tables_of_every_kind_pass(cards: tuple[bytes, Any]) -> None:
    pdf, pages = cards
    expected = expect(pages, distinct(ALL))
    assert sum(len(page.card.tables) for page in expected.pages if page.card) >= 12
    assert proof(pdf, expected) == []


def swapped(table: Table) -> Table:
    first, *rest = table.rows
    return replace(table, rows=((first[0], first[2], first[1], *first[3:]), *rest))


def moved_down(table: Table) -> Table:
    values = [row[1:] for row in table.rows]
    moved = [values[-1], *values[:-1]]
    return replace(
        table, rows=tuple((row[0], *m) for row, m in zip(table.rows, moved, strict=True))
    )


def shifted(table: Table) -> Table:
    return replace(table, rows=tuple((row[0], row[-1], *row[1:-1]) for row in table.rows))


def other_amounts(tables: tuple[AmountTable, ...]) -> tuple[AmountTable, ...]:
    syrup, *rest = tables
    (row,) = syrup.rows
    return replace(syrup, rows=(replace(row, amounts=row.amounts[::-1]),)), *rest


CHANGES: tuple[Callable[[Any], Any], ...] = (swapped, moved_down, shifted)


@pytest.mark.parametrize(
    ("number", "change"),
    [
        (0, lambda view: replace(view, amounts=other_amounts(view.amounts))),
        (0, lambda view: replace(view, steps=(replace(STEPS[0], amount="20", unit="ml"),
                                              replace(STEPS[1], amount="1", unit="scoop"),
                                              *STEPS[2:]))),
        (2, lambda view: replace(view, rows=(replace(view.rows[0], adds=view.rows[1].adds),
                                             replace(view.rows[1], adds=view.rows[0].adds),
                                             *view.rows[2:]))),
        (2, lambda view: replace(view, rows=(replace(view.rows[0], leaves_at="90 ml"),
                                             replace(view.rows[1], leaves_at="430 ml"),
                                             *view.rows[2:]))),
        (3, lambda view: replace(view, portions=moved_down(view.portions))),
        (3, lambda view: replace(view, scaling=swapped(view.scaling))),
        (3, lambda view: replace(view, parts=(replace(view.parts[0], amount="520"),
                                              replace(view.parts[1], amount="480")))),
        (4, lambda view: replace(view, rows=(replace(view.rows[0], marks=view.rows[1].marks),
                                             *view.rows[1:]))),
        (5, lambda view: replace(view, tables=(swapped(view.tables[0]), view.tables[1]))),
        (5, lambda view: replace(view, tables=(view.tables[0], moved_down(view.tables[1])))),
    ],
)  # fmt: skip
def test_a_page_that_says_otherwise_is_caught(
    cards: tuple[bytes, Any], number: int, change: Callable[[Any], Any]
) -> None:
    """The pages are right and the view is another: the same as a right view on wrong pages."""
    pdf, pages = cards
    views = distinct(ALL)
    views[number] = change(views[number])
    found = cells(proof(pdf, expect(pages, views)))
    assert found
    assert all(f"card {views[number].code}" in message for message in found)


WORDS = {
    "en": ("Syrup (pumps)", "No ice", "Less ice", "Pearls", "Black tea", "regular", "sweet"),
    "es": ("Jarabe (pulsos)", "sin hielo", "poco hielo", "Perlas", "Té negro", "normal", "dulce"),
    "de": ("Sirup (Pumpstöße)", "kein Eis", "wenig Eis", "Tapiokaperlen", "Süße", "normal", "süß"),
    "fr": ("Sirop (doses)", "sans glace", "peu de glace", "Perles", "Thé noir", "normal", "sucré"),
}  # fmt: skip
VALUES = st.sampled_from(["0", "1", "2", "2½", "10", "–", "1 · 240", "330 ml", "12.5"])


@st.composite
def build_cards(draw: st.DrawFn) -> list[View]:
    """Four cards, each in another language, their tables of any names, levels, values."""
    views = []
    for language, words in WORDS.items():
        levels = draw(st.integers(1, 5))
        level = st.one_of(st.integers(0, 100).map(lambda n: f"{n} %"), st.sampled_from(words[1:]))
        header = draw(st.lists(level, min_size=levels, max_size=levels, unique=True))
        name = st.sampled_from(words) | st.text("abéñüßo", min_size=3, max_size=9)
        names = draw(st.lists(name, min_size=1, max_size=4, unique_by=str.casefold))
        rows = tuple((one, *(draw(VALUES) for _ in header)) for one in names)
        options = tuple(
            AmountTable(at, name, "ml", tuple(header), (AmountRow((), "", cells),), "Choice")
            for at, (name, *cells) in enumerate(rows, 1)
        )
        views.append(replace(BUILD, language=language, add_ons=(), amounts=options))
    return distinct(tuple(views))


@settings(
    max_examples=4, phases=[Phase.explicit, Phase.reuse, Phase.generate],  # each is printed
    suppress_health_check=[HealthCheck.too_slow],
)  # fmt: skip
@given(build_cards())
def test_any_sound_table_passes_and_any_change_of_it_is_caught(views: list[Any]) -> None:
    pdf, pages = printed(tuple(views))
    assert cells(proof(pdf, expect(pages, views))) == [], [view.amounts for view in views]
    document = pypdfium2.PdfDocument(pdf)
    for view in views:
        of_card = [Page(document[at], 72) for at, one in enumerate(pages) if one.code == view.code]
        (grid,) = grids(view.amounts)
        for change in CHANGES:
            if change is swapped and len(grid.header) < 3:
                continue
            other = change(grid)
            rows = tuple(tuple((text,) for text in row) for row in other.rows)
            wrong = list(misplaced(ExpectedTable(("", *other.header[1:]), rows), of_card))
            assert bool(wrong) == (other.rows != grid.rows), (change, grid, wrong)
    document.close()


STYLE = '{% include "shipped:build/style.css" %}\n'


@pytest.mark.parametrize(
    ("file", "text", "said"),
    [
        ("style.css", STYLE + ".options td { transform: translate(22mm, 0) }", "stands under"),
        ("style.css", STYLE + ".options td { transform: translate(0, 5mm) }", "below its row"),
        (
            "card.html",
            '{% extends "shipped:build/card.html" %}{% block options %}<table class="grid">'
            "{% for grid in card.amounts | grids %}{% for row in grid.rows %}<tr>"
            "{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}{% endfor %}"
            "</table>{% endblock %}",
            "the header",
        ),
        ("style.css", STYLE + ".steps .a { transform: translate(0, -12mm) }", "above its row"),
        (
            "card.html",
            '{% extends "shipped:build/card.html" %}{% block options %}<table class="grid"><thead>'
            "{% set grid = (card.amounts | grids)[0] %}"
            "<tr>{% for cell in grid.header %}<th>{{ cell }}</th>{% endfor %}</tr></thead>"
            "{% for row in grid.rows if row | length > 1 %}<tr><th>{{ row[0] }}</th>"
            "<td>{{ row[2] }}</td><td>{{ row[1] }}</td><td>{{ row[3] }}</td></tr>{% endfor %}"
            "</table>{% endblock %}",
            "stands under",
        ),
    ],
)  # fmt: skip
def test_a_shops_layout_that_misplaces_cells_is_caught(
    tmp_path: Path, file: str, text: str, said: str
) -> None:
    (tmp_path / "build").mkdir()
    (tmp_path / "build" / file).write_text(text)
    pdf, pages = printed((BUILD,), tmp_path)
    found = cells(proof(pdf, expect(pages, [BUILD])))
    assert found
    assert any(said in message for message in found), found


def test_a_table_that_a_shop_leaves_out_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "build").mkdir()
    own = '{% extends "shipped:build/card.html" %}{% block options %}{% endblock %}'
    (tmp_path / "build" / "card.html").write_text(own)
    pdf, pages = printed((BUILD,), tmp_path)
    assert proof(pdf, expect(pages, [BUILD])) == []


@pytest.mark.parametrize("name", ["shifted-table.yaml", "not-printable.yaml"])
def test_menus_that_broke_an_older_layout_print_right(name: str) -> None:
    checked = check_once(MENUS / name)
    assert checked.menu is not None
    place = Place.of(MENUS / name)
    found = [card for card in output.cards(checked.menu, checked.servings, place.layouts)
             if card.key.kind == "build"]  # fmt: skip
    views: list[Any] = [
        replace(view, code=code, foot=replace(BUILD.foot, code=code, qr_payload=f"TRK/{code}/1"))
        for n, card in enumerate(found)
        for view, code in [(card.view, f"K-{n}")]
    ]
    pdf, pages = printed(tuple(views))
    assert {page.code for page in pages} == {view.code for view in views}
    assert proof(pdf, expect(pages, views)) == []
    if name == "shifted-table.yaml":
        view, grid = next((view, grid) for view in views for grid in grids(view.amounts)
                          if "100%" in grid.header and len(grid.rows) > 1)  # fmt: skip
        assert grid.header[2] == "100%"
        document = pypdfium2.PdfDocument(pdf)
        page = Page(document[next(n for n, one in enumerate(pages) if one.code == view.code)], 72)
        (name_place,) = page.find(grid.rows[0][0])
        (over,) = page.find("100%")
        (under,) = [place for place in page.find(grid.rows[0][2])
                    if place.box.is_beside(name_place.box) and place.box.left > name_place.box.right
                    and abs(place.box.left - over.box.left) < 1]  # fmt: skip
        assert under.box.top > over.box.bottom
        document.close()


def test_a_row_that_is_not_on_the_page_is_named(cards: tuple[bytes, Any]) -> None:
    pdf, _ = cards
    document = pypdfium2.PdfDocument(pdf)
    page = Page(document[0], 72)
    table = ExpectedTable((), ((("Salt cream cap",), ("80", "g")), (("Cold foam",), ("9", "g"))))
    (said,) = misplaced(table, [page])
    assert said == "the row 'Cold foam' is not on the card"
    document.close()
