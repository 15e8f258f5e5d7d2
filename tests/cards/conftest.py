"""Renders the sample cards once for all tests that look at the finished PDF."""

from __future__ import annotations

import pypdfium2
import pytest
from card_samples import BUILD, BUILD_ES, PLAIN, STATION

from buildsheets.cards.render import RenderedPdf, RenderOptions, render_pdf

SAMPLES = (BUILD, BUILD_ES, PLAIN, STATION)


@pytest.fixture(scope="session")
def rendered() -> RenderedPdf:
    """The four sample cards in one PDF."""
    options = RenderOptions(title="Kiosk cards", author="Tin Roof Kiosk", edition="2026-3")
    return render_pdf(SAMPLES, options)


@pytest.fixture
def document(rendered: RenderedPdf) -> pypdfium2.PdfDocument:
    """The same PDF, opened."""
    return pypdfium2.PdfDocument(rendered.pdf)
