"""The finished PDF: sizes, fonts, legibility, what reached the page, determinism, refusals."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pypdf
import pytest
from card_samples import BUILD, BUILD_ES, PLAIN, STATION
from pdf_reading import errors, letters_of, own_layout, page_texts, pixels, text_boxes
from reportlab.lib import pagesizes

from buildsheets.findings.finding import Severity
from buildsheets.print import render
from buildsheets.print.checks import letters, texts_of
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import Printed, RenderOptions, render_cards, render_pdf
from buildsheets.print.sizes import FLOOR_ARCMIN, size_pt
from buildsheets.views.types import GaugeLine, View

SAMPLES = [BUILD, BUILD_ES, PLAIN, STATION]


def test_every_page_has_exactly_its_cards_size(rendered: Printed) -> None:
    sizes = {(148.0, 210.0): pagesizes.A5, (210.0, 297.0): pagesizes.A4,
             (297.0, 210.0): pagesizes.landscape(pagesizes.A4)}  # fmt: skip
    reader = pypdf.PdfReader(io.BytesIO(rendered.pdf))
    assert len(reader.pages) == len(rendered.pages) >= 4
    for page, info in zip(reader.pages, rendered.pages, strict=True):
        box = (float(page.mediabox.width), float(page.mediabox.height))
        told = (info.width_mm / MM_PER_PT, info.height_mm / MM_PER_PT)
        assert box == pytest.approx(told, abs=0.01)
        # ISO 216 is whole millimetres; reportlab rounds A5 and A4 to 0.5 mm.
        assert box == pytest.approx(sizes[info.width_mm, info.height_mm], abs=1.5)


def test_fonts_are_embedded_subsets_of_ours_and_no_others(rendered: Printed) -> None:
    names = set()
    for page in pypdf.PdfReader(io.BytesIO(rendered.pdf)).pages:
        for font in page["/Resources"]["/Font"].values():
            (inner,) = font["/DescendantFonts"]
            assert "/FontFile2" in inner["/FontDescriptor"]
            names.add(font["/BaseFont"].split("+")[1])
    assert names == {"Atkinson-Hyperlegible", "Atkinson-Hyperlegible-Bold"}


def test_nothing_was_complained_about(rendered: Printed) -> None:
    assert errors(rendered) == []
    assert rendered.sound


@pytest.mark.parametrize("view", SAMPLES, ids=lambda v: f"{v.code}-{v.language}")
def test_everything_a_view_says_is_printed(view: View) -> None:
    printed = " ".join(page_texts(render_pdf([view]).pdf))
    have = letters(printed)
    drawn = {view.drawing.alt} if hasattr(view, "drawing") else set()
    said = [text for text in texts_of(view) if text not in drawn]
    if hasattr(view, "drawing"):  # what stands at the edge of a named layer is named there
        said = [text for text in said if text not in {line.label for line in view.drawing.lines}]
    assert len(said) > 30
    for text in said:
        assert letters(text) in have, text


@pytest.mark.parametrize("view", SAMPLES, ids=lambda v: f"{v.code}-{v.language}")
@pytest.mark.parametrize("distance", [350.0, 600.0, 700.0])
def test_no_working_text_is_under_the_floor(view: View, distance: float) -> None:
    """16 arcmin at the view's reading distance (ISO 9241-303), whatever stock was taken. Only the
    foot and how to use the gauge are read with the card in hand."""
    words = Layouts().words(view.language)
    in_hand = [words(key) for key in ("proof_bar", "scan_caption", "gauge")]
    foot = view.foot
    in_hand += [foot.shop, foot.code, foot.revision, foot.edition, foot.valid,
                foot.local_code_note, "·" * 4]  # fmt: skip
    printed = render_pdf([replace(view, reading_distance_mm=distance)])
    assert errors(printed) == []
    floor = size_pt(distance, FLOOR_ARCMIN)
    for number in range(len(printed.pages)):
        found = list(letters_of(printed.pdf, number))
        small = letters("".join(one.char for one in found if one.size_pt < floor - 0.01))
        assert not Counter(small) - Counter(letters("".join(in_hand)))
        assert len(small) < len(found) / 2
        assert min(one.size_pt for one in found) >= min(floor, size_pt(300.0, 20.0)) - 0.01
        largest = max(one.size_pt for one in found)
        figures = {one.char for one in found if one.size_pt > largest - 0.1}
        assert any(char.isdigit() for char in figures)  # a step's numeral is the largest


LONG = "Shared shakers, jiggers and whisks: rinse them well before every allergy order. "
WORDY = ("Hot.", LONG, "Choking: small children.", "Never under 12 months.", LONG * 3)


@pytest.mark.parametrize(
    "view",
    [
        BUILD, BUILD_ES, PLAIN, STATION,
        replace(BUILD, cautions=WORDY), replace(PLAIN, cautions=WORDY),
        replace(STATION, cautions=WORDY), replace(STATION, cautions=()),
        replace(PLAIN, cautions=(), finish="", keeps=()),
        replace(STATION, rows=STATION.rows * 2),
    ],
)  # fmt: skip
def test_texts_and_code_do_not_overlap_or_leave_the_card(view: View) -> None:
    view = replace(view, foot=replace(view.foot, qr_payload="https://cards.example/" + "x" * 50))
    printed = render_pdf([view])
    assert errors(printed) == []
    for number, page in enumerate(printed.pages):
        boxes = text_boxes(printed.pdf, number)
        assert sum(what == "QR code" for *_, what in boxes) == 1
        for left, top, right, bottom, what in boxes:
            assert 0 <= left < right <= page.width_mm, what
            assert 0 <= top < bottom <= page.height_mm, what
        for n, (l0, t0, r0, b0, first) in enumerate(boxes):
            for l1, t1, r1, b1, second in boxes[n + 1 :]:
                beside = r0 <= l1 + 0.3 or r1 <= l0 + 0.3
                assert beside or b0 <= t1 + 0.3 or b1 <= t0 + 0.3, (first, second)


CODE = """
import sys, hashlib
sys.path.insert(0, sys.argv[1])
from card_samples import BUILD, STATION
from buildsheets.print.render import render_pdf
print(hashlib.sha256(render_pdf([BUILD, STATION]).pdf).hexdigest())
"""


@pytest.mark.slow
def test_bytes_are_the_same_in_every_process() -> None:
    here = hashlib.sha256(render_pdf([BUILD, STATION]).pdf).hexdigest()
    for seed, zone in (("0", "Asia/Tokyo"), ("4711", "America/Lima")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}
        done = subprocess.run(
            [sys.executable, "-c", CODE, str(Path(__file__).parents[1])],
            capture_output=True, text=True, check=True, env=environment,
        )  # fmt: skip
        assert done.stdout.strip() == here


def test_a_cards_bytes_do_not_depend_on_the_cards_beside_it() -> None:
    """Cards laid out in one document come out as they do alone, whatever their order."""
    views = [
        replace(PLAIN, code=f"P{n}", title=f"Drink {n} {'é' * n}", cautions=(LONG,) * n)
        for n in range(4)
    ]
    options = RenderOptions()
    together = render_cards([BUILD, *views, STATION, BUILD_ES], options)
    back = render_cards([BUILD_ES, STATION, *reversed(views), BUILD], options)
    assert [card.pdf for card in together] == [card.pdf for card in reversed(back)]
    for view, card in zip([BUILD, *views, STATION, BUILD_ES], together, strict=True):
        (alone,) = render_cards([view], options)
        assert alone == card
        assert card.pages


def test_letters_lost_on_the_way_to_the_page_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """CARD06, with a text swallowed after the layout: here a PDF of another card."""
    other = render_cards([replace(PLAIN, title="Other tea")], RenderOptions())[0].pdf
    monkeypatch.setattr(render.Fitted, "pdf", lambda _: other)
    printed = render_pdf([PLAIN])
    assert errors(printed) == ["CARD06"]
    assert printed.pdf == b""
    assert "did not reach the page" in printed.findings[0].message


def test_a_page_of_another_size_is_refused(tmp_path: Path) -> None:
    css = '{% include "shipped:build/style.css" %}\n@page { size: 148mm 211mm }'
    printed = render_pdf([PLAIN], own_layout(tmp_path, "build/style.css", css))
    assert errors(printed) == ["CARD14"]
    assert "211.0 mm" in printed.findings[0].message


def test_a_card_that_cannot_fit_is_refused_not_shrunk() -> None:
    view = replace(PLAIN, title=LONG * 120)
    printed = render_pdf([view, PLAIN])
    assert errors(printed) == ["CARD03"]
    assert "smallest legible size" in printed.findings[0].message
    assert len(printed.pages) == 1  # the other card is printed all the same


def test_a_drink_too_long_for_a_card_of_its_own_is_named() -> None:
    """A card of several rows is split, so what the whole of it takes says nothing."""
    first = STATION.rows[0]
    long = replace(first, drink="Long Tea", check=LONG * 120)
    view = replace(STATION, rows=(first, long))
    printed = render_pdf([view])
    assert errors(printed) == ["CARD03"]
    message = printed.findings[0].message
    assert f"card {view.code} ({view.station.name}, {view.size_name or view.cup_name})" in message
    assert "Long Tea alone: it takes" in message


@pytest.mark.parametrize(
    ("size_mm", "line_mm", "stock_mm"),
    [  # ISO 216 A5, A4, A3; ANSI/ASME Y14.1 half letter, letter; the border of a pouch is 3 mm
        ((148, 210), 212.5, (148, 210)),
        ((148, 210), 250.0, (210, 297)),
        ((148, 210), 305.0, (297, 420)),
        ((120, 200), 240.0, (210, 297)),
        ((210, 148), 180.0, (297, 210)),
        ((210, 148), 250.0, (210, 297)),
        ((139.7, 215.9), 250.0, (215.9, 279.4)),
    ],
)
def test_the_card_of_a_high_cup_is_the_smallest_that_holds_its_lines(
    size_mm: tuple[float, float], line_mm: float, stock_mm: tuple[float, float]
) -> None:
    width_mm, height_mm = size_mm
    line = GaugeLine(line_mm, "tall", "line")
    low = [one for one in PLAIN.gauge if one.height_mm < 100]
    view = replace(PLAIN, gauge=(*low, line), width_mm=width_mm, height_mm=height_mm)
    printed = render_pdf([view])
    assert errors(printed) == []
    assert {(page.width_mm, page.height_mm) for page in printed.pages} == {stock_mm}
    if stock_mm != size_mm:
        (note,) = (one.message for one in printed.findings if one.code == "CARD04")
        assert f"gauge line 'tall' is {line_mm:g} mm above the counter" in note


def test_a_gauge_line_off_every_card_is_an_error() -> None:
    view = replace(PLAIN, gauge=(*PLAIN.gauge, GaugeLine(450.0, "tall", "line")))
    assert errors(render_pdf([view])) == ["CARD09"]


def test_a_payload_too_long_for_the_code_is_an_error() -> None:
    view = replace(PLAIN, foot=replace(PLAIN.foot, qr_payload="x" * 300))
    assert errors(render_pdf([view])) == ["CARD10"]


def test_a_proof_is_marked_across_the_card() -> None:
    proof = render_pdf([replace(PLAIN, watermark="PROOF")])
    assert errors(proof) == []
    assert "PROOF" in page_texts(proof.pdf)[0]
    grey = [(pixels(printed.pdf, 72) == 0xDC).mean() for printed in (proof, render_pdf([PLAIN]))]
    assert grey[0] > grey[1] + 0.01  # a hundredth of the card is letters of the mark


def test_template_text_is_escaped() -> None:
    printed = render_pdf([replace(PLAIN, title="Tea <b>&amp; milk</b>")])
    assert "Tea <b>&amp; milk</b>" in page_texts(printed.pdf)[0]


@pytest.fixture
def counting_server() -> Iterator[tuple[str, list[str]]]:
    """A loopback web server and the paths it was asked for."""
    asked: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()


def test_layouts_fetch_nothing_from_outside(
    tmp_path: Path, counting_server: tuple[str, list[str]]
) -> None:
    address, asked = counting_server
    secret = tmp_path / "secret.css"
    secret.write_text(".card { background: red }", "utf-8")
    for css in (
        f"@import '{address}/a.css';",
        f".w {{ background: url({address}/b.png) }}",
        f"@import 'file://{secret}';",
        f"@font-face {{ font-family: x; src: url({address}/c.woff) }}",
        "@import 'layout:/../secret.css';",
    ):
        printed = render_pdf([PLAIN], own_layout(tmp_path / "own", "build/style.css", css))
        assert "CARD07" in errors(printed), css
        assert printed.pdf == b""
    assert asked == []


def test_one_bad_card_does_not_take_its_neighbours_along(tmp_path: Path) -> None:
    text = (
        '{% extends "shipped:build/card.html" %}{% block finish %}{% if card.code == "BAD" %}'
        '<img src="http://127.0.0.1:9/x.png" alt="">{% endif %}{% endblock %}'
    )
    views = [replace(PLAIN, code=code) for code in ("A", "BAD", "C")]
    printed = render_pdf(views, own_layout(tmp_path, "build/card.html", text))
    assert [page.code for page in printed.pages] == ["A", "C"]
    (bad,) = [f for f in printed.findings if f.severity is Severity.ERROR]
    assert (bad.code, bad.subject) == ("CARD07", ("BAD",))


def test_what_is_kept_is_what_was_made(rendered: Printed) -> None:
    assert Printed.from_bytes(rendered.to_bytes()) == rendered


def test_importing_the_renderer_loads_no_engine() -> None:
    """``check`` must not wait for the PDF engine; all that is heavy loads on first use."""
    code = (
        "import sys, buildsheets.print.render as r\n"
        "print([m for m in ('weasyprint', 'pikepdf', 'pypdfium2', 'qrcode', 'babel', 'pint')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
