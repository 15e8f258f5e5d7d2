"""The engine's edge: boxes of laid-out pages, complaints, what may be fetched."""

from __future__ import annotations

import base64
from pathlib import Path

import pypdfium2
import pytest
from card_samples import BUILD, PLAIN, STATION
from pdf_reading import page_texts

from buildsheets.print.document import Section, Setting, maker
from buildsheets.print.engine import EngineComplaint, lay_out
from buildsheets.print.layouts import Layouts
from buildsheets.views.paper import Paper
from buildsheets.views.types import View

LAYOUTS = Layouts()


def document(view: View) -> tuple[str, str]:
    """A card's HTML and style."""
    stock = Paper("", view.width_mm, view.height_mm)
    setting = Setting(LAYOUTS, view.kind, view.language, stock, 600.0, 20.0, 3.0)
    made = maker(LAYOUTS)
    return made.html([Section(view)], setting, "Cards & <more>"), made.style(setting)


@pytest.mark.parametrize("view", [BUILD, PLAIN, STATION], ids=lambda view: view.code)
def test_shipped_layouts_read_as_xml_give_what_they_give_as_html(view: View) -> None:
    html, style = document(view)
    as_xml = lay_out(html, style, LAYOUTS)
    as_html = lay_out(html, style, LAYOUTS, well_formed=False)
    assert as_xml.pdf() == as_html.pdf()
    assert as_xml.pages == as_html.pages
    assert as_xml.texts == as_html.texts


def test_boxes_and_pages_are_in_millimetres_from_the_top_left() -> None:
    style = "@page{size:100mm 50mm;margin:0} body{margin:0} p{margin:7mm 0 0 5mm;height:9mm}"
    laid = lay_out('<html><body><p id="a">x</p></body></html>', style, LAYOUTS)
    (page,) = laid.pages
    assert (page.width_mm, page.height_mm) == pytest.approx((100, 50))
    box = page.boxes["a"]
    assert (box.left_mm, box.top_mm, box.right_mm) == pytest.approx((5, 7, 100))
    assert box.height_mm == pytest.approx(9)


def test_some_pages_alone_and_the_text_of_each_section() -> None:
    html = "<html><body><section>one</section><section>two</section></body></html>"
    laid = lay_out(html, "section{break-before:page} section:first-child{break-before:auto}",
                   LAYOUTS)  # fmt: skip
    assert laid.texts == ("one", "two")
    assert page_texts(laid.pdf()) == ["one", "two"]
    assert page_texts(laid.pdf(1, 2)) == ["two"]


def test_a_complaint_of_the_engine_is_an_error_and_goes_nowhere_else(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(EngineComplaint, match="no-such-colour"):
        lay_out("<html><body/></html>", "p { color: no-such-colour }", LAYOUTS)
    assert capfd.readouterr().err == ""


def test_pictures_may_stand_in_the_page_or_in_the_layouts(tmp_path: Path) -> None:
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><path d="M0 0h9v9z"/></svg>'
    )
    (tmp_path / "logo.svg").write_bytes(svg)
    data = base64.b64encode(svg).decode()
    html = '<p><img src="{}" alt="x"></p>'
    for address in ("layout:/logo.svg", f"data:image/svg+xml;base64,{data}"):
        pdf = lay_out(html.format(address), "", Layouts(tmp_path), well_formed=False).pdf()
        assert len(list(pypdfium2.PdfDocument(pdf)[0].get_objects())) > 0
    for address in ("layout:/missing.svg", "layout:/../logo.svg", f"file://{tmp_path}/logo.svg"):
        with pytest.raises(EngineComplaint):
            lay_out(html.format(address), "", Layouts(tmp_path), well_formed=False)
