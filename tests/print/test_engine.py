"""What the engine is spared changes nothing of what it makes."""

from __future__ import annotations

import re

import pytest
from buildsheets.print.frames import in_one_stretch
from buildsheets.print.page import Pages
from card_samples import BUILD, BUILD_ES, PLAIN, STATION

from buildsheets.print import engine
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions, plan_card

LAYOUTS = Layouts()


def document(language: str = "en") -> str:
    pages = Pages(LAYOUTS)
    plans = [
        plan
        for view in (BUILD, BUILD_ES, PLAIN, STATION)
        for plan in plan_card(view, pages, RenderOptions())[0]
    ]
    return pages.html(plans, language, "Cards & <more>")


def test_shipped_layouts_read_as_xml_give_what_they_give_as_html() -> None:
    html = document()
    as_xml = engine.to_pdf(html, LAYOUTS, well_formed=True)
    as_html = engine.to_pdf(html, LAYOUTS)
    assert as_xml.pdf == as_html.pdf
    assert as_xml.complaints == as_html.complaints == ()
    assert len(as_xml.pages) >= 4


def test_rules_left_out_change_no_card(monkeypatch: pytest.MonkeyPatch) -> None:
    html = document()
    lean = engine.to_pdf(html, LAYOUTS).pdf
    monkeypatch.setattr(
        engine,
        "_document_class",
        lambda: lambda text, well_formed, **more: engine._weasyprint().HTML(string=text, **more),
    )
    assert engine.to_pdf(html, LAYOUTS).pdf == lean


def test_no_default_rule_names_every_element() -> None:
    """The reason for leaving rules out; a later engine may bring others."""
    from weasyprint.html import UA

    universal = r"^::"
    assert re.search(universal, UA, re.MULTILINE)
    assert not re.search(universal, engine.lean_defaults(UA), re.MULTILINE)


def test_lists_keep_their_markers() -> None:
    found = engine.to_pdf("<ol><li>one</li></ol>", LAYOUTS)
    import pypdfium2

    page = pypdfium2.PdfDocument(found.pdf)[0].get_textpage()
    assert page.get_text_range().split() == ["1.", "one"]


def test_only_a_card_in_another_language_says_so() -> None:
    """A language of its own keeps a card from sharing styles."""
    assert document("en").count(' lang="es"') == 1
    assert document("es").count(' lang="en"') == 3
    assert document("en").count(' lang="en"') == 1  # the document's


def test_frames_in_one_stretch_change_nothing() -> None:
    def depth(n: int) -> int:
        return 0 if n == 0 else 1 + depth(n - 1)

    assert in_one_stretch(lambda: depth(300)) == 300
    with pytest.raises(KeyError):
        in_one_stretch(lambda: {}["x"])
