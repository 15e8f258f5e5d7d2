"""Cards drawn straight from their plans against the same cards set by the layout engine.

The engine sets text with Pango and HarfBuzz and draws its own way; letters have to stand in the
same places and the ink on the page to be the same.
"""

from __future__ import annotations

import ctypes
from dataclasses import replace
from itertools import groupby
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from card_samples import BUILD, BUILD_ES, PLAIN, STATION

from buildsheets.cards import direct, engine
from buildsheets.cards.faults import lost_text
from buildsheets.cards.fonts import MM_PER_PT
from buildsheets.cards.layouts import Layouts
from buildsheets.cards.page import Pages
from buildsheets.cards.plan import Plan
from buildsheets.cards.prep_views import AnyView
from buildsheets.cards.render import RenderOptions, plan_card, render_pdf
from buildsheets.cards.typeset import plainly_set
from buildsheets.output import cards
from buildsheets.pipeline import check

PAGES = Pages(Layouts())
COLOURS = PAGES.tokens["colour"]
PROOF = replace(PLAIN, watermark="PROOF")

Letter = tuple[str, float, float]  # and where it stands, in mm from the page's lower left corner


def planned(*views: AnyView) -> list[Plan]:
    return [plan for view in views for plan in plan_card(view, PAGES, RenderOptions())[0]]


def both(plans: list[Plan]) -> tuple[pypdfium2.PdfDocument, pypdfium2.PdfDocument]:
    """The plans by the engine, and drawn."""
    by_engine = engine.to_pdf(PAGES.html(plans, "en", "t"), Layouts())
    ours = direct.to_pdf(plans, COLOURS, whole_fonts=False)
    return pypdfium2.PdfDocument(by_engine.pdf), pypdfium2.PdfDocument(ours.pdf)


def letters(page: pypdfium2.PdfPage) -> list[Letter]:
    words = page.get_textpage()
    x, y = ctypes.c_double(), ctypes.c_double()
    found = []
    for index in range(words.count_chars()):
        char = chr(pdfium.FPDFText_GetUnicode(words, index))
        pdfium.FPDFText_GetCharOrigin(words, index, x, y)
        if not char.isspace() and not pdfium.FPDFText_IsGenerated(words, index):
            found.append((char, x.value * MM_PER_PT, y.value * MM_PER_PT))
    return found


def tables(plan: Plan) -> list[tuple[float, float]]:
    """From where to where tables reach, in mm from the bottom."""
    high = plan.stock.height_mm
    return [
        (high - text.y_mm - text.height_mm, high - text.y_mm)
        for zone in plan.zones
        for text in zone.texts
        if text.tab_mm
    ]


def assert_alike(plans: list[Plan]) -> None:
    for plan, theirs, ours in zip(plans, *both(plans), strict=True):
        first, second = letters(theirs), letters(ours)
        assert [letter for letter, _, _ in first] == [letter for letter, _, _ in second]
        assert len(first) > 60
        for (letter, x0, y0), (_, x1, y1) in zip(first, second, strict=True):
            assert abs(y0 - y1) < 0.02, (plan.view.code, letter)
            # The engine sets tab stops to whole pixels, a stop 1/96 inch too near at the most.
            in_table = any(low <= y1 <= top for low, top in tables(plan))
            assert abs(x0 - x1) < (2.0 if in_table else 0.05), (plan.view.code, letter, x0, x1)


def test_letters_stand_where_the_engine_sets_them() -> None:
    assert_alike(planned(BUILD, BUILD_ES, STATION, PLAIN))


@pytest.fixture(scope="module")
def demo() -> list[Plan]:
    """A card of every kind and language of the demo menu, and every fifth of the others."""
    checked = check(Path(__file__).parents[2] / "menu")
    assert checked.menu is not None
    views = [card.view for card in cards(checked.menu, checked.servings, Layouts())]
    views.sort(key=lambda view: (view.kind, view.language))
    kinds = groupby(views, key=lambda view: (view.kind, view.language))
    return planned(*[view for _, same in kinds for view in list(same)[::5]])


@pytest.mark.slow
def test_every_kind_of_card_is_drawn_as_the_engine_sets_it(demo: list[Plan]) -> None:
    assert {plan.view.kind for plan in demo} == {
        "build", "station", "batch", "addons", "gauge", "allergens",
    }  # fmt: skip
    assert all(map(direct.drawable, demo))
    assert_alike(demo)
    assert_same_ink(demo)


def grey(page: pypdfium2.PdfPage) -> np.ndarray:
    return np.asarray(page.render(scale=100 / 72, grayscale=True).to_numpy(), dtype=int)


def assert_same_ink(plans: list[Plan]) -> None:
    """Pages without their texts, whose pixels would differ by parts of a pixel's shift."""
    bare = [
        replace(plan, zones=tuple(replace(zone, texts=()) for zone in plan.zones)) for plan in plans
    ]
    for plan, theirs, ours in zip(plans, *both(bare), strict=True):
        first, second = grey(theirs), grey(ours)
        assert first.shape == second.shape
        assert first.min() < 60
        assert abs(first - second).max() < 40, plan.view.code


def test_shapes_codes_and_the_mark_of_a_proof_are_the_same_ink() -> None:
    assert_same_ink(planned(BUILD, STATION, PROOF))


def test_colours_of_texts_are_those_of_the_styles() -> None:
    """Averaged over a text's box, where a shift by part of a pixel does not count."""
    plans = planned(BUILD, STATION)
    kinds = set()
    for plan, theirs, ours in zip(plans, *both(plans), strict=True):
        first, second = grey(theirs), grey(ours)
        per_mm = 100 / 25.4
        for text in (text for zone in plan.zones for text in zone.texts):
            kinds.add(text.kind)
            rows = slice(int(text.y_mm * per_mm), int((text.y_mm + text.height_mm) * per_mm) + 1)
            columns = slice(int(text.x_mm * per_mm), int((text.x_mm + text.width_mm) * per_mm) + 1)
            means = [image[rows, columns].mean() for image in (first, second)]
            assert abs(means[0] - means[1]) < 4, (plan.view.code, text)
    assert {"foot", "legend", "heading", "title", "chip", "tag", "table"} <= kinds


def test_what_needs_shaping_or_another_face_is_left_to_the_engine() -> None:
    assert plainly_set("Té 1½ × 240 ml · 20 °C\tà la crème", "fr")
    assert not plainly_set("e\u0301", "fr")  # a combining accent
    assert not plainly_set("1\u20442", "en")  # becomes a fraction
    assert not plainly_set("\u8336", "en")  # no such letter in the face
    assert not plainly_set("ceai", "ro")  # the face has letters of its own for it
    assert direct.drawable(planned(PLAIN)[0])
    assert not direct.drawable(planned(replace(PLAIN, finish="cre\u0301me"))[0])


def test_cards_for_the_engine_keep_their_place_among_the_others() -> None:
    views = [
        replace(PLAIN, code=f"C{n}", title=f"Drink 1{slash}2 no. {n}")
        for n, slash in enumerate("/\u2044/\u2044\u2044/")
    ]
    made = render_pdf(views)
    assert [page.code for page in made.pages] == [view.code for view in views]
    for number, page in enumerate(pypdfium2.PdfDocument(made.pdf)):
        assert f"no. {number}" in page.get_textpage().get_text_range()


def test_text_out_of_its_place_is_found_in_drawn_cards_too() -> None:
    plans = planned(PLAIN)
    pdf = direct.to_pdf(plans, COLOURS, whole_fonts=True).pdf
    assert lost_text(plans, pdf) == []
    zones = plans[0].zones
    moved = replace(zones[0], texts=tuple(text.moved(0, 9) for text in zones[0].texts))
    wrong = [replace(plans[0], zones=(moved, *zones[1:]))]
    assert {found.code for found in lost_text(wrong, pdf)} == {"CARD06"}
