"""Pages made with the shortened default style sheet are those made with the engine's own."""

from __future__ import annotations

import re

import pytest
from card_samples import BUILD, STATION
from pdf_reading import page_texts
from test_engine import LAYOUTS, document

from buildsheets.print import engine
from buildsheets.print.default_style import shortened
from buildsheets.views.types import View


@pytest.mark.parametrize("view", [BUILD, STATION], ids=lambda view: view.code)
def test_a_card_is_the_same_with_the_engines_own(
    view: View, monkeypatch: pytest.MonkeyPatch
) -> None:
    html, style = document(view)
    short = engine.lay_out(html, style, LAYOUTS)
    monkeypatch.setattr(engine, "document_class", lambda: engine.load_engine().HTML)
    own = engine.lay_out(html, style, LAYOUTS)
    assert own.pages == short.pages
    assert own.pdf() == short.pdf()


def test_no_default_rule_names_every_element() -> None:
    """The reason for leaving rules out; a later engine may bring others."""
    from weasyprint.html import UA

    universal = re.compile(r"^::", re.MULTILINE)
    assert universal.search(UA)
    assert not universal.search(shortened(UA))


def test_lists_keep_their_markers() -> None:
    laid = engine.lay_out("<html><body><ol><li>one</li></ol></body></html>", "", LAYOUTS)
    assert page_texts(laid.pdf())[0].split() == ["1.", "one"]
