"""Text widths against the finished PDF, glyphs the typeface lacks, and the faces allowed."""

from __future__ import annotations

import os
import subprocess
import sys

import pypdfium2
import pypdfium2.raw as raw
import pytest

from buildsheets.print import fonts
from buildsheets.print.engine import lay_out
from buildsheets.print.layouts import Layouts


def printed_width_mm(text: str, points: float, bold: bool) -> float:
    """Width of ``text`` between two bars in a PDF the engine wrote, kerning switched off."""
    weight = 700 if bold else 400
    html = (
        "<style>@page{size:400mm 40mm;margin:0}body{margin:0;white-space:pre;font-kerning:none;"
        f"font:{weight} {points}pt '{fonts.main_face().family}'}}</style>|{text}|"
    )
    pdf = lay_out(html, "", Layouts(), well_formed=False).pdf()
    page = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    last = page.count_chars() - 1
    assert page.get_text_range(last, 1) == "|"
    start, end = raw.c_double(), raw.c_double()
    unused = raw.c_double()
    assert raw.FPDFText_GetCharOrigin(page, 0, start, unused)
    assert raw.FPDFText_GetCharOrigin(page, last, end, unused)
    return (end.value - start.value) * fonts.MM_PER_PT - fonts.advance_mm("|", points, bold)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize(
    "text", ["Roasted oolong 180 ml", "WAVY Tofu AVA", "Jarabe de azúcar moreno ½ · 5 °C"]
)
def test_advances_are_what_the_pdf_prints(text: str, bold: bool) -> None:
    predicted = fonts.advance_mm(text, 24, bold)
    assert predicted == pytest.approx(printed_width_mm(text, 24, bold), abs=0.05)


def test_advance_grows_with_size_and_adds_up() -> None:
    whole = fonts.advance_mm("tea and milk", 10)
    assert fonts.advance_mm("tea and milk", 20) == pytest.approx(2 * whole)
    parts = fonts.advance_mm("tea and", 10) + fonts.advance_mm(" milk", 10)
    assert parts == pytest.approx(whole)


def test_glyphs_the_typeface_lacks_are_named_once() -> None:
    assert fonts.missing_glyphs("Fill \u2192 check \u2713 \u2192 \u26a0 no\u2011break") == [
        "\u2192", "\u2713", "\u26a0", "\u2011",
    ]  # fmt: skip
    assert fonts.missing_glyphs("½ × 60 ml · 5 °C ± 1 − € ñ ß é œ\u00a0\u00ad\n") == []


def test_only_the_packaged_faces_are_known() -> None:
    assert fonts.families()[0] == "Atkinson Hyperlegible"
    assert {face.bold for face in fonts.faces()} == {False, True}
    assert all("site-packages" in str(face.path) for face in fonts.faces())


def test_importing_the_engine_first_is_refused() -> None:
    code = (
        "import weasyprint\nfrom buildsheets.print.fonts import use_private_configuration as f\n"
        "try: f()\nexcept RuntimeError as e: print(e)"
    )
    clean = {
        k: v for k, v in os.environ.items() if k not in ("BUILDSHEETS_FONTS", "FONTCONFIG_FILE")
    }
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=clean
    )
    assert "before the font configuration" in done.stdout
