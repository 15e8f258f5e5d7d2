"""What a shop's own style hides, shrinks or lays over another text is caught in the PDF."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
import reportlab
from card_samples import BUILD, PLAIN

from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions, render_pdf
from buildsheets.print.typeface import faces_of
from buildsheets.proof.expected import expect
from buildsheets.proof.proof import proof

STYLE = '{% include "shipped:build/style.css" %}\n'
CARD = '{% extends "shipped:build/card.html" %}'


def found(folder: Path, file: str, text: str) -> dict[str, list[str]]:
    """Messages of the proof by code, of a card printed with a shop's own file."""
    (folder / "build").mkdir()
    (folder / "build" / file).write_text(text)
    done = render_pdf([BUILD], RenderOptions(title="Cards", layouts=folder))
    assert done.pdf, done.findings
    codes: dict[str, list[str]] = {}
    for finding in proof(done.pdf, expect(done.pages, [BUILD])):
        codes.setdefault(finding.code, []).append(finding.message)
    return codes


@pytest.mark.parametrize(
    ("code", "style", "said"),
    [
        ("PROOF16", ".allergen-box { color: #ffffff }", "'Contains: milk'"),
        ("PROOF16", ".cautions { color: #fdfdfd }", "Pearls: choking hazard"),
        ("PROOF16", ".steps .w { color: #ececec; background: #ececec }", "'Brown sugar syrup'"),
        ("PROOF16", ".allergen-box { opacity: 0.02 }", "'Contains: milk'"),
        ("PROOF16", ".steps .a { transform: translate(400mm, 0) }", "'180'"),
        ("PROOF16", ".cautions { height: 1mm; overflow: hidden }"
                    " .cautions li { display: block; padding-top: 9mm }", "Pearls"),
        ("PROOF17", ".options td { font-size: 3pt }", "'240'"),
        ("PROOF17", ".foot { font-size: 2pt }", "RCT-M"),
        ("PROOF18", ".cautions { transform: translate(0, -11mm) }", "print over each other"),
        ("PROOF18", ".steps .a { transform: translate(9mm, 0) }", "print over each other"),
    ],
)  # fmt: skip
def test_a_style_that_hides_text_is_caught(
    tmp_path: Path, code: str, style: str, said: str
) -> None:
    codes = found(tmp_path, "style.css", STYLE + style)
    assert any(said in message.replace("\\xa0", " ") for message in codes.get(code, [])), codes


@pytest.mark.parametrize(
    ("block", "text"),
    [
        ("{% block allergens %}{% endblock %}", "'milk'"),
        ("{% block cautions %}{% endblock %}", "'Pearls: choking hazard for children under 4.'"),
        ("{% block steps %}{% endblock %}", "'Salt cream cap'"),
    ],
)
def test_a_template_that_leaves_out_what_must_stand_is_caught(
    tmp_path: Path, block: str, text: str
) -> None:
    """The words may stand elsewhere on the card in a longer text: "milk" in "Whole milk"."""
    codes = found(tmp_path, "card.html", CARD + block)
    assert any(f"{text} does not stand" in said for said in codes.get("PROOF15", [])), codes


def test_a_code_that_is_left_out_is_caught(tmp_path: Path) -> None:
    codes = found(tmp_path, "card.html", CARD + "{% block foot %}{% endblock %}")
    assert any("the code RCT-M is not printed" in said for said in codes["PROOF06"])


def test_something_drawn_over_a_text_is_caught(tmp_path: Path) -> None:
    over = '<div style="position:absolute;left:0;right:0;bottom:0;height:60mm;background:%s"></div>'
    text = CARD + "{% block gauge %}{{ super() }}" + over % "#111111" + "{% endblock %}"
    codes = found(tmp_path, "card.html", text)
    assert any("'Contains: milk'" in said for said in codes["PROOF16"])


def test_a_shops_own_look_passes(tmp_path: Path) -> None:
    """Capitals, bold notes, other colours and blocks in another order hide nothing."""
    style = ".what, .w { text-transform: uppercase } .note { font-weight: 700; color: #5a1020 }"
    assert found(tmp_path, "style.css", STYLE + style) == {}


def test_another_typeface_is_measured_by_its_own_capitals(tmp_path: Path) -> None:
    """They are higher than ours, so that the same angle takes smaller type, and not a smaller
    angle; and what stands beside the gauge is not broken, although its letters are wider."""
    for name in ("Vera.ttf", "VeraBd.ttf"):
        shutil.copy(Path(reportlab.__file__).parent / "fonts" / name, tmp_path)
    (tmp_path / "shared").mkdir()
    tokens = "typeface: {family: Vera, regular: Vera.ttf, bold: VeraBd.ttf}\n"
    (tmp_path / "shared" / "tokens.yaml").write_text(tokens)
    gauge = tuple(replace(one, label=one.label.replace("330", "888")) for one in BUILD.gauge)
    for distance in (400.0, 500.0, 600.0):
        view = replace(BUILD, gauge=gauge, reading_distance_mm=distance)
        done = render_pdf([view], RenderOptions(title="Cards", layouts=tmp_path))
        capitals_em = faces_of(Layouts(tmp_path))[0].cap_height_em
        expected = expect(done.pages, [view], capitals_em=capitals_em)
        assert proof(done.pdf, replace(expected, families=("Vera",))) == []
        lines = pypdfium2.PdfDocument(done.pdf)[0].get_textpage().get_text_range().splitlines()
        assert "888\u00a0ml" in lines
    too_high = expect(done.pages, [view], capitals_em=capitals_em / 1.05)
    assert "PROOF17" in {found.code for found in proof(done.pdf, too_high)}


@pytest.mark.parametrize(
    "style",
    [
        ".watermark { color: #ffffff }",
        ".watermark { opacity: 0 }",
        ".watermark { color: #f4f4f4 }",
        ".watermark.n5 { font-size: 2pt }",
        ".card, .main, .main *, .bottom * { background: #ffffff } .main { height: 160mm }",
    ],
)
def test_a_draft_cannot_hide_that_it_is_one(tmp_path: Path, style: str) -> None:
    (tmp_path / "build").mkdir()
    (tmp_path / "build" / "style.css").write_text(STYLE + style)
    draft = replace(PLAIN, watermark="DRAFT")
    done = render_pdf([draft], RenderOptions(title="Cards", layouts=tmp_path))
    assert done.pdf, done.findings
    findings = proof(done.pdf, expect(done.pages, [draft]))
    assert [one.code for one in findings if "'DRAFT'" in one.message] == ["PROOF16"]


def test_a_watermark_may_be_pale() -> None:
    view = replace(PLAIN, watermark="PROOF")
    done = render_pdf([view], RenderOptions(title="Cards"))
    assert proof(done.pdf, expect(done.pages, [view])) == []
