"""The finished PDF: sizes, fonts, metadata, what reached the page, determinism, refusals."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
import threading
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pytest
import wcag_contrast_ratio
from buildsheets.print.legibility import FLOOR_ARCMIN, seen_arcmin
from buildsheets.print.page import Pages
from card_samples import BUILD, BUILD_ES, PLAIN, SHAKE, STATION, TEA, TOP
from reportlab.lib import pagesizes

from buildsheets.findings.finding import Severity
from buildsheets.print.fonts import MM_PER_PT
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderedPdf, RenderOptions, plan_card, render_pdf
from buildsheets.views.types import Allergens, BuildCardView, GaugeLine, View

WORKING_ZONES = ("head", "steps", "rows", "low", "cup", "gauge")


def errors(printed: RenderedPdf) -> list[str]:
    return [f.code for f in printed.findings if f.severity is Severity.ERROR]


def page_texts(pdf: bytes) -> list[str]:
    return [
        page.get_textpage().get_text_range().replace("\u00a0", " ")
        for page in pypdfium2.PdfDocument(pdf)
    ]


def test_every_page_has_exactly_its_cards_size(rendered: RenderedPdf) -> None:
    # reportlab's page sizes are the reference for ISO 216.
    expected = [pagesizes.A5, pagesizes.A4, pagesizes.A5, pagesizes.landscape(pagesizes.A4)]
    reader = pypdf.PdfReader(io.BytesIO(rendered.pdf))
    assert len(reader.pages) == len(rendered.pages) == 4
    for page, info, (width, height) in zip(reader.pages, rendered.pages, expected, strict=True):
        # ISO 216 is whole millimetres; reportlab rounds A5 and A4 to 0.5 mm.
        assert float(page.mediabox.width) == pytest.approx(info.width_mm / MM_PER_PT, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(info.height_mm / MM_PER_PT, abs=0.01)
        assert float(page.mediabox.width) == pytest.approx(width, abs=1.5)
        assert float(page.mediabox.height) == pytest.approx(height, abs=1.5)


def test_fonts_are_embedded_subsets_of_ours_and_no_others(rendered: RenderedPdf) -> None:
    names = set()
    for page in pypdf.PdfReader(io.BytesIO(rendered.pdf)).pages:
        for font in page["/Resources"]["/Font"].values():
            (inner,) = font["/DescendantFonts"]
            assert "/FontFile2" in inner["/FontDescriptor"]
            names.add(font["/BaseFont"].split("+")[1])
    assert names == {"Atkinson-Hyperlegible", "Atkinson-Hyperlegible-Bold"}


def test_metadata_bookmarks_and_the_wish_not_to_be_scaled(rendered: RenderedPdf) -> None:
    with pikepdf.open(io.BytesIO(rendered.pdf)) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        assert pdf.Root.Lang == "en"
        assert pdf.docinfo["/Title"] == "Kiosk cards"
        assert pdf.docinfo["/Author"] == "Tin Roof Kiosk"
        assert pdf.docinfo["/Edition"] == "2026-3"
        assert "/CreationDate" not in pdf.docinfo
        with pdf.open_outline() as outline:
            titles = [str(item.title) for item in outline.root]
    assert titles[0].startswith("RCT-M  Roasted cloud tea")
    assert len(titles) == 4


def test_nothing_was_complained_about_and_choices_are_told(rendered: RenderedPdf) -> None:
    assert errors(rendered) == []
    assert any("printed on A4 instead of A5" in note for note in rendered.notes)
    small = render_pdf([replace(BUILD, reading_distance_mm=640.0), PLAIN])
    assert small.pages[0].arcmin < 20 <= small.pages[1].arcmin
    told = [note for note in small.notes if "arcmin" in note]
    assert len(told) == 1
    assert f"card RCT-M is set at {small.pages[0].arcmin:g} arcmin from 640 mm" in told[0]


def test_reading_order_is_head_steps_options_allergens_foot(rendered: RenderedPdf) -> None:
    text = page_texts(rendered.pdf)[0]
    order = ["Roasted cloud tea", "Medium, iced", "Cooked pearls", "Brown sugar syrup",
             "Salt cream cap", "Syrup (pumps)", "Add-ons", "Contains: milk", "choking",
             "must measure 50 mm", "RCT-M", "rim\r\nfill limit"]  # fmt: skip
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_pictures_have_words_for_those_who_do_not_see_them() -> None:
    pages = Pages(Layouts())
    (plan,), _ = plan_card(BUILD, pages, RenderOptions())
    html = pages.html([plan], "en", "t")
    assert f'alt="{BUILD.drawing.alt}"' in html
    assert 'alt="Scan for the current card RCT-M"' in html


@pytest.mark.parametrize("view", [BUILD, BUILD_ES, PLAIN, STATION], ids=lambda v: v.code)
def test_no_working_text_is_under_the_floor(view: View) -> None:
    """16 arcmin at the view's reading distance (ISO 9241-303), whatever stock was taken."""
    for distance in (350.0, 600.0):
        moved = replace(view, reading_distance_mm=distance)
        plans, _ = plan_card(moved, Pages(Layouts()), RenderOptions())
        assert plans
        for plan in plans:
            texts = [t for z in plan.zones if z.name in WORKING_ZONES for t in z.texts]
            sizes = {t.points for t in texts}
            sizes |= {r.points for t in texts for line in t.lines for r in line if r.points}
            assert min(seen_arcmin(distance, size) for size in sizes) >= FLOOR_ARCMIN - 1e-6
            steps = next(z for z in plan.zones if z.name in ("steps", "rows"))
            numerals = [max(r.points for r in t.lines[0])
                        for t in steps.texts if t.kind == "amount"]  # fmt: skip
            assert min(numerals) == max(sizes)  # a step's numeral is the largest on the card


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
    plans, _ = plan_card(view, Pages(Layouts()), RenderOptions())
    assert plans
    for plan in plans:
        boxes = [(t.x_mm, t.y_mm, t.x_mm + t.width_mm, t.y_mm + t.height_mm, str(t.lines[0]))
                 for z in plan.zones for t in z.texts]  # fmt: skip
        assert plan.qr is not None
        x, y, side = plan.qr.x_mm, plan.qr.y_mm, plan.qr.code.side_mm
        boxes.append((x, y, x + side, y + side, "QR code"))
        for left, top, right, bottom, line in boxes:
            assert 0 <= left < right <= plan.stock.width_mm, line
            assert 0 <= top < bottom <= plan.stock.height_mm, line
        for n, (l0, t0, r0, b0, first) in enumerate(boxes):
            for l1, t1, r1, b1, second in boxes[n + 1 :]:
                apart = r0 <= l1 + 0.7 or r1 <= l0 + 0.7 or b0 <= t1 + 0.7 or b1 <= t0 + 0.7
                assert apart, (first, second)


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
    for seed in ("0", "4711"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", CODE, str(Path(__file__).parents[1])],
            capture_output=True, text=True, check=True, env=environment,
        )  # fmt: skip
        assert done.stdout.strip() == here


@pytest.mark.slow
def test_bytes_do_not_depend_on_workers_and_chunks_join_in_order() -> None:
    views = [
        replace(PLAIN, code=f"P{n:02}", title=f"Drink {n:02}", foot=replace(PLAIN.foot, code="P"))
        for n in range(27)
    ]
    alone = render_pdf(views)
    assert [page.code for page in alone.pages] == [view.code for view in views]
    for text, view in zip(page_texts(alone.pdf), views, strict=True):
        assert view.title in text
    assert render_pdf(views, RenderOptions(workers=2)).pdf == alone.pdf


def test_too_much_for_one_card_is_split_with_a_continuation_mark() -> None:
    view = replace(BUILD, steps=BUILD.steps * 2, reading_distance_mm=700.0)
    view = replace(view, steps=tuple(replace(s, number=n + 1) for n, s in enumerate(view.steps)))
    printed = render_pdf([view], RenderOptions(largest_stocks=("A5",)))
    assert errors(printed) == []
    parts = [(page.part, page.parts) for page in printed.pages]
    assert parts == [(n + 1, len(parts)) for n in range(len(parts))]
    assert len(parts) >= 2
    texts = page_texts(printed.pdf)
    for number, text in enumerate(texts):
        assert f"{number + 1}/{len(parts)}" in text
        assert "Contains: milk" in text  # every card of a drink states its allergens
        assert "choking" in text
    assert sum(text.count("Roasted oolong") for text in texts) == 2
    assert "Add-ons" in texts[-1]
    assert any("is split over" in note for note in printed.notes)


def test_station_rows_are_split_and_counted() -> None:
    rows = tuple(replace(STATION.rows[n % 4], drink=f"Drink number {n}") for n in range(14))
    printed = render_pdf([replace(STATION, rows=rows)])
    assert errors(printed) == []
    assert printed.pages[0].parts == len(printed.pages) > 1
    texts = page_texts(printed.pdf)
    assert f"card 1 of {len(texts)}" in texts[0]
    assert sum(text.count("Drink number") for text in texts) == 14


def test_a_card_that_cannot_fit_is_refused_not_shrunk() -> None:
    view = replace(PLAIN, title="Unbreakabletitleofonewordthatnevereverends" * 2)
    printed = render_pdf([view, PLAIN])
    assert errors(printed) == ["CARD03"]
    assert len(printed.pages) == 1  # the other card is printed all the same


@pytest.mark.parametrize("char", ["\u2192", "\u2713", "\u2011"])
def test_a_glyph_the_typeface_lacks_is_an_error(char: str) -> None:
    printed = render_pdf([replace(PLAIN, title=f"Ginger {char} tea"), STATION])
    assert errors(printed) == ["CARD01"]
    assert f"U+{ord(char):04X}" in printed.findings[0].message
    assert [page.code for page in printed.pages] == ["ST-P-M"]


def test_a_gauge_line_off_the_card_is_an_error() -> None:
    view = replace(PLAIN, gauge=(*PLAIN.gauge, GaugeLine(305.0, "tall", "line")))
    assert errors(render_pdf([view])) == ["CARD09"]


def test_undeclared_allergens_are_an_error_never_a_blank() -> None:
    printed = render_pdf([replace(PLAIN, allergens=Allergens((), (), ""))])
    assert errors(printed) == ["CARD16"]
    assert printed.pdf == b""


def test_stations_are_told_apart_without_colour() -> None:
    assert errors(render_pdf([replace(BUILD, stations=(TEA, replace(SHAKE, shape="disc"), TOP))]))
    marks = {(mark.shape, mark.letter) for mark in BUILD.stations}
    assert len(marks) == len(BUILD.stations)


def test_pale_accents_are_refused() -> None:
    pale = replace(TEA, accent="#c8e0d8")
    printed = render_pdf([replace(PLAIN, stations=(pale,))])
    assert set(errors(printed)) == {"CARD08"}


def test_colours_of_text_reach_the_contrast_asked_for() -> None:
    def ratio(first: str, second: str) -> float:
        return float(wcag_contrast_ratio.rgb(*(
            tuple(int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)) for c in (first, second)
        )))  # fmt: skip

    colours = Layouts().tokens()["colour"]
    for ink in ("ink", "soft"):
        for ground in ("paper", "band"):
            # WCAG 2.2, 1.4.6 (AAA) for all text on both grounds.
            assert ratio(colours[ink], colours[ground]) >= 7
    for mark in (TEA, SHAKE, TOP):
        assert ratio(mark.accent, mark.ink) >= 4.5


def test_a_proof_is_marked_across_the_card() -> None:
    proof = render_pdf([replace(PLAIN, watermark="PROOF")])
    assert errors(proof) == []
    plain = render_pdf([PLAIN])
    assert "PROOF" in page_texts(proof.pdf)[0]
    grey = [
        np.asarray(pypdfium2.PdfDocument(p.pdf)[0].render(scale=1, grayscale=True).to_numpy())
        for p in (proof, plain)
    ]
    assert grey[0].mean() < grey[1].mean() - 1


def own_layout(folder: Path, name: str, text: str) -> RenderOptions:
    target = folder / name
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(text, "utf-8")
    return RenderOptions(layouts=folder)


def test_a_shops_own_tokens_change_the_look(tmp_path: Path) -> None:
    options = own_layout(tmp_path, "shared/tokens.yaml", "type: {title: 1.2}\n")
    (own,), _ = plan_card(PLAIN, Pages(Layouts(tmp_path)), options)
    (shipped,), _ = plan_card(PLAIN, Pages(Layouts()), RenderOptions())
    assert own.zone("head").texts[0].points < shipped.zone("head").texts[0].points
    assert errors(render_pdf([PLAIN], options)) == []


@pytest.mark.parametrize(
    ("css", "code"),
    [
        (".what { font-size: 40pt !important; line-height: 2 !important }", "CARD06"),
        (".what b { font-size: 60pt !important }", "CARD06"),
        (".what { letter-spacing: 4mm }", "CARD06"),
        (".line, .amount { margin-left: 30mm }", "CARD06"),
        (".t { white-space: normal; width: 8mm !important }", "CARD06"),
        ("body::after { content: 'x'; display: block; break-before: page }", "CARD06"),
        (".foot { display: none }", "CARD06"),
        (".what { color: no-such-colour }", "CARD07"),
        (".what { font-family: 'No Such Face' }", ""),
    ],
)
def test_a_style_that_loses_text_is_found_out(tmp_path: Path, css: str, code: str) -> None:
    printed = render_pdf([PLAIN], own_layout(tmp_path, "build/style.css", css))
    if code:
        assert code in errors(printed)
        assert printed.pdf == b""
    else:
        # With no other font in sight the engine falls back on ours.
        assert errors(printed) == []


def test_a_broken_template_is_a_finding_not_a_crash(tmp_path: Path) -> None:
    for text in ("{{ nothing }}", "{% if %}", "{{ card.title.__class__.mro() }}", "{{ 1 // 0 }}"):
        printed = render_pdf([PLAIN], own_layout(tmp_path, "build/card.html", text))
        assert errors(printed) == ["CARD12"], text


def test_template_text_is_escaped() -> None:
    printed = render_pdf([replace(PLAIN, title="Tea <b>&amp; milk</b>")])
    assert "Tea <b>&amp; milk</b>" in " ".join(page_texts(printed.pdf)[0].split())


@pytest.fixture
def counting_server():
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


def test_layouts_fetch_nothing_from_outside(tmp_path: Path, counting_server) -> None:
    address, asked = counting_server
    secret = tmp_path / "secret.css"
    secret.write_text(".card { background: red }", "utf-8")
    for css in (
        f"@import '{address}/a.css';",
        f".what {{ background: url({address}/b.png) }}",
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
        Layouts().text("build/card.html")
        + '{% if card.code == "BAD" %}<img src="http://127.0.0.1:9/x.png" alt="">{% endif %}'
    )
    views: list[BuildCardView] = [replace(PLAIN, code=code) for code in ("A", "BAD", "C")]
    printed = render_pdf(views, own_layout(tmp_path, "build/card.html", text))
    assert [page.code for page in printed.pages] == ["A", "C"]
    (bad,) = [f for f in printed.findings if f.severity is Severity.ERROR]
    assert (bad.code, bad.subject) == ("CARD07", ("BAD",))


def test_importing_the_renderer_loads_no_engine() -> None:
    """``check`` must not wait for the PDF engine; all that is heavy loads on first use."""
    code = (
        "import sys, buildsheets.print.render as r\n"
        "print([m for m in ('weasyprint', 'pikepdf', 'pypdfium2', 'qrcode', 'babel', 'pint')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
