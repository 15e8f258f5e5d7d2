"""The tagged document: its tags, read with pikepdf, and that it says all the cards say."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pikepdf
import pytest
from card_samples import BUILD, BUILD_ES, PLAIN, STATION
from pdf_reading import own_layout, page_texts

from buildsheets.print.checks import letters
from buildsheets.print.layouts import Layouts
from buildsheets.print.tagged import VARIANTS, TaggedOptions, tagged
from buildsheets.proof.proof import proof

VIEWS = (BUILD, PLAIN, STATION)
OPTIONS = TaggedOptions("Kiosk & cards", "en", "Tin Roof Kiosk", "2026-3")


@pytest.fixture(scope="module")
def made() -> bytes:
    pdf, findings = tagged(VIEWS, OPTIONS)
    assert findings == []
    return pdf


@pytest.fixture
def pdf(made: bytes) -> Iterator[Any]:
    with pikepdf.open(io.BytesIO(made)) as held:
        yield held


def kids(node: Any) -> list[Any]:
    inside = node.get("/K")
    listed = list(inside) if isinstance(inside, pikepdf.Array) else [inside]
    return [one for one in listed if isinstance(one, pikepdf.Dictionary) and "/S" in one]


def nodes(node: Any) -> Iterator[Any]:
    for kid in kids(node):
        yield kid
        yield from nodes(kid)


def test_tagged_titled_and_in_a_language(pdf: Any) -> None:
    """ISO 14289-1 (PDF/UA-1): 7.1 tagged and titled, 7.2 language."""
    assert bool(pdf.Root.MarkInfo.Marked)
    assert str(pdf.Root.Lang) == "en"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    with pdf.open_metadata() as told:
        assert told["pdfuaid:part"] == "1"
        assert told["dc:title"] == "Kiosk & cards"


def test_a_heading_a_card_and_tables_with_header_cells(pdf: Any) -> None:
    found = [str(node.S) for node in nodes(pdf.Root.StructTreeRoot)]
    assert found.count("/H1") == len(VIEWS)
    assert "/H2" in found
    assert "/Figure" in found
    tables = [node for node in nodes(pdf.Root.StructTreeRoot) if node.S == "/Table"]
    assert len(tables) >= 4
    for table in tables:
        inside = list(nodes(table))
        rows = [node for node in inside if node.S == "/TR"]
        assert rows
        assert any(node.S == "/TH" for node in inside)


def test_bookmarks_name_every_card(pdf: Any) -> None:
    with pdf.open_outline() as outline:
        titles = " ".join(str(item.title) for item in outline.root)
    for name in ("Roasted cloud tea", "Ginger bark tea", "Top and seal"):
        assert name in titles


def test_it_says_what_the_cards_say(made: bytes) -> None:
    have = letters(" ".join(page_texts(made)))
    for view in (BUILD, PLAIN):
        for step in view.steps:
            for said in (step.what, step.amount, step.unit, step.tool, step.note, step.line):
                assert letters(said) in have, said
        said = [*view.cautions, *view.keeps, view.title, view.foot.code, *view.allergens.contains]
        assert all(letters(text) in have for text in said)
    for row in STATION.rows:
        assert all(letters(text) in have for text in (row.drink, row.check, row.allergens))
    assert letters("None of the 14 EU allergens declared; ask before serving.") in have


@pytest.mark.parametrize("variant", VARIANTS[1:])
def test_for_keeping(variant: str) -> None:
    """ISO 19005-3 (PDF/A-3): identified as such, an output intent for colour."""
    done, findings = tagged([PLAIN], replace(OPTIONS, variant=variant))
    assert findings == []
    with pikepdf.open(io.BytesIO(done)) as held:
        with held.open_metadata() as told:
            assert told["pdfaid:part"] == "3"
            assert told["pdfaid:conformance"] == variant[-1].upper()
        assert "/OutputIntents" in held.Root
        assert ("/StructTreeRoot" in held.Root) == variant.endswith("a")


def test_fonts_and_metadata_pass_the_proof(made: bytes) -> None:
    assert proof(made) == []


def test_same_cards_same_bytes(made: bytes) -> None:
    assert tagged(VIEWS, OPTIONS)[0] == made


def test_a_language_of_its_own() -> None:
    done, findings = tagged([BUILD_ES], replace(OPTIONS, language="es"))
    assert findings == []
    with pikepdf.open(io.BytesIO(done)) as held:
        assert str(held.Root.Lang) == "es"
    assert Layouts().words("es")("contains") in page_texts(done)[0]


def test_markup_in_a_name_is_text() -> None:
    named = replace(PLAIN, title="<b>Tea</b> & <script>alert(1)</script>")
    done, findings = tagged([named], replace(OPTIONS, title="</title><h1>x"))
    assert findings == []
    assert "<b>Tea</b> & <script>alert(1)</script>" in page_texts(done)[0]
    with pikepdf.open(io.BytesIO(done)) as held:
        assert str(held.docinfo["/Title"]) == "</title><h1>x"


def test_it_is_made_from_the_cards_own_templates(tmp_path: Any) -> None:
    text = '{% extends "shipped:build/card.html" %}{% block finish %}<p>Our own</p>{% endblock %}'
    own = own_layout(tmp_path, "build/card.html", text).layouts
    done, findings = tagged([PLAIN], replace(OPTIONS, layouts=own))
    assert findings == []
    assert "Our own" in page_texts(done)[0]


def test_unknown_variant_is_refused() -> None:
    with pytest.raises(ValueError, match="pdf/x-4"):
        replace(OPTIONS, variant="pdf/x-4")
