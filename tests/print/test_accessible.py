"""The accessible edition: its tags, read with pikepdf, and that it says all the cards say."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from buildsheets.print.accessible import Accessible, AccessibleOptions, accessible
from buildsheets.print.faults import shown_strings
from card_samples import BUILD, BUILD_ES, PLAIN, STATION

from buildsheets.pipeline import check
from buildsheets.print.layouts import Layouts
from buildsheets.proof.proof import proof
from buildsheets.views.cup_compose import addons_view, gauge_view

VIEWS = (BUILD, BUILD_ES, PLAIN, STATION)
OPTIONS = AccessibleOptions("Kiosk & cards", "en", "Tin Roof Kiosk", "2026-3")


@pytest.fixture(scope="module")
def made() -> Accessible:
    return accessible(VIEWS, OPTIONS)


@pytest.fixture
def pdf(made: Accessible) -> Iterator[Any]:
    assert made.findings == ()
    with pikepdf.open(io.BytesIO(made.pdf)) as held:
        yield held


def kids(node: Any) -> list[Any]:
    inside = node.get("/K")
    listed = list(inside) if isinstance(inside, pikepdf.Array) else [inside]
    return [one for one in listed if isinstance(one, pikepdf.Dictionary) and "/S" in one]


def nodes(node: Any) -> Iterator[Any]:
    for kid in kids(node):
        yield kid
        yield from nodes(kid)


def text_of(pdf: bytes) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def letters(text: str) -> str:
    """Without what line breaking changes."""
    return "".join(char for char in text if not char.isspace() and char not in "\ufffe-")


def test_tagged_titled_and_in_a_language(pdf: Any) -> None:
    """ISO 14289-1 (PDF/UA-1): 7.1 tagged and titled, 7.2 language."""
    assert bool(pdf.Root.MarkInfo.Marked)
    assert str(pdf.Root.Lang) == "en"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    with pdf.open_metadata() as told:
        assert told["pdfuaid:part"] == "1"
        assert told["dc:title"] == "Kiosk & cards"


def test_headings_do_not_skip_a_level(pdf: Any) -> None:
    levels = [int(str(node.S)[2:]) for node in nodes(pdf.Root.StructTreeRoot)
              if str(node.S)[:2] == "/H" and str(node.S)[2:].isdigit()]  # fmt: skip
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert levels.count(2) == len(VIEWS)
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert 3 in levels


def test_every_table_cell_has_its_headers(pdf: Any) -> None:
    tables = [node for node in nodes(pdf.Root.StructTreeRoot) if node.S == "/Table"]
    assert len(tables) >= 10
    for table in tables:
        inside = list(nodes(table))
        named = {str(node.ID) for node in inside if node.S == "/TH"}
        cells = [node for node in inside if node.S == "/TD"]
        assert cells
        first = next(node for node in inside if node.S == "/TR")
        assert [str(cell.S) for cell in kids(first)] == ["/TH"] * len(kids(first))
        for cell in cells:
            headers = [str(one) for attributes in [cell.A] for one in _headers(attributes)]
            assert len(headers) == 2  # its column's and its row's
            assert set(headers) <= named


def _headers(attributes: Any) -> list[Any]:
    listed = list(attributes) if isinstance(attributes, pikepdf.Array) else [attributes]
    return [one for held in listed for one in held.get("/Headers", [])]


def test_parts_in_another_language_say_so(pdf: Any) -> None:
    """ISO 14289-1, 7.2: changes of language are marked, on every page a card goes on to."""
    parts = [node for node in nodes(pdf.Root.StructTreeRoot) if node.S == "/Sect"]
    said = [str(part.Lang) for part in parts]
    assert set(said) == {"en", "es"}
    assert _runs(said) == ["en", "es", "en"]


def _runs(said: list[str]) -> list[str]:
    return [one for index, one in enumerate(said) if index == 0 or said[index - 1] != one]


def test_bookmarks_name_every_card(pdf: Any) -> None:
    with pdf.open_outline() as outline:
        (top,) = outline.root
        assert str(top.title) == "Kiosk & cards"
        assert [str(item.title) for item in top.children] == [
            "Roasted cloud tea, Medium, iced",
            "Té nube tostado, Mediano, con hielo",
            "Ginger bark tea, Small, hot",
            "Top and seal, Medium · clear cup 500 ml",
        ]


def test_it_says_what_the_cards_say(made: Accessible) -> None:
    have = letters(text_of(made.pdf))
    # Not said: marks and names that only stand in the drawing, and the address in the QR code.
    drawn = {mark.letter for view in VIEWS[:3] for mark in view.stations} | {STATION.station.letter}
    drawn |= {layer.name for view in VIEWS[:3] for layer in view.drawing.layers}
    said = 0
    for view in VIEWS:
        for text in shown_strings(view):
            if text and text not in drawn:
                assert letters(text) in have, text
                said += 1
    assert said > 200


def test_allergens_are_said_even_when_none_is_declared(made: Accessible) -> None:
    text = text_of(made.pdf)
    assert "Contains: milk" in text
    assert "None of the 14 EU allergens declared; ask before serving." in text.replace("\r\n", " ")
    assert "free from" not in text.lower()


@pytest.mark.parametrize("variant", ["pdf/a-3u", "pdf/a-3a"])
def test_for_keeping(variant: str) -> None:
    """ISO 19005-3 (PDF/A-3): identified as such, fonts embedded, an output intent for colour."""
    done = accessible(VIEWS, replace(OPTIONS, variant=variant))
    assert done.findings == ()
    with pikepdf.open(io.BytesIO(done.pdf)) as held:
        with held.open_metadata() as told:
            assert told["pdfaid:part"] == "3"
            assert told["pdfaid:conformance"] == variant[-1].upper()
        assert "/OutputIntents" in held.Root
        assert ("/StructTreeRoot" in held.Root) == variant.endswith("a")
    assert proof(done.pdf) == []


def test_fonts_and_metadata_pass_the_proof(made: Accessible) -> None:
    assert proof(made.pdf) == []


def test_same_cards_same_bytes(made: Accessible) -> None:
    assert accessible(VIEWS, OPTIONS).pdf == made.pdf


def test_markup_in_a_name_is_text() -> None:
    named = replace(PLAIN, title="<b>Tea</b> & <script>alert(1)</script>")
    done = accessible([named], replace(OPTIONS, title="</title><h1>x"))
    assert done.findings == ()
    text = text_of(done.pdf)
    assert "<b>Tea</b> & <script>alert(1)</script>" in text.replace("\r\n", " ")
    with pikepdf.open(io.BytesIO(done.pdf)) as held:
        assert str(held.docinfo["/Title"]) == "</title><h1>x"


def test_missing_glyph_is_a_finding() -> None:
    done = accessible([replace(PLAIN, title="Tea \U0001f9cb")], OPTIONS)
    assert done.pdf == b""
    assert [f.code for f in done.findings] == ["CARD07"]


def test_unknown_variant_is_refused() -> None:
    with pytest.raises(ValueError, match="pdf/x-4"):
        replace(OPTIONS, variant="pdf/x-4")


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_every_kind_of_the_demo_menu(language: str) -> None:
    """All kinds of cards, in every language, are said without a word missing."""
    from buildsheets.cup.allergens import of_everything_sold
    from buildsheets.prep.batch_card import every_batch
    from buildsheets.views.batch_compose import batch_cards
    from buildsheets.views.compose import build_view
    from buildsheets.views.compose_station import station_view
    from buildsheets.views.prep_compose import allergen_matrix

    checked = check(Path(__file__).parents[2] / "menu")
    menu = checked.menu
    assert menu is not None
    words = Layouts(None).words(language)
    cup, station = menu.cups["small"], next(iter(menu.stations.values()))
    views: list[Any] = [
        build_view(menu, checked.servings[0], words),
        station_view(menu, station, cup, checked.servings, words),
        addons_view(menu, cup, checked.servings, words),
        gauge_view(menu, cup, checked.servings, words),
    ]
    views += [batch_cards(menu, every_batch(menu, {})[:1], words)[0][2]]
    views += [allergen_matrix(menu, of_everything_sold(menu), words)]
    done = accessible(views, replace(OPTIONS, language=language))
    assert done.findings == ()
    have = letters(text_of(done.pdf))
    for view in views[2:4]:
        for text in shown_strings(view):
            assert letters(text) in have, text
