"""How long cards take: cold, one edited, nothing changed; beside two other ways to print them.

    python tests/bench/bench_render.py [drinks ...]     default: 60

Every way runs in a process of its own and is timed from its start to its end, so that imports
count. The same views go in, made beforehand. The other ways are a straightforward one: the same
engine, one document, automatic tables, labels as SVG text, the code as an SVG path, the same words
(``--compare`` looks); and reportlab, which draws every text where it is told (no line is broken, no
fit is checked: it does less).
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buildsheets.views.words import Words

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SIZES = (("small", "Small", 0), ("medium", "Medium", 60), ("large", "Large", 120))
BASES = ("Black tea", "Green tea", "Oolong", "Barley tea", "Oat milk", "Coconut water")
SHARES = (0, 25, 50, 75, 100)
TOPPINGS = ("Pearls", "Grass jelly", "Basil seeds", "Red bean", "Coconut jelly")


def cards(drinks: int, edited: int | None = None) -> list[Any]:
    """A menu's build cards: every drink in three sizes, six to nine steps each."""
    sys.path.append(str(ROOT / "tests"))
    from edition_samples import AUTUMN, STEPS, build, step

    from buildsheets.ledger.ledger import Ledger
    from buildsheets.ledger.publish import Issuer, edition_cards
    from buildsheets.views.card import Card
    from buildsheets.views.types import AddOnView, AmountRow, AmountTable

    made = []
    for number in range(drinks):
        for cup, cup_name, more in SIZES:
            tea = 120 + more + number % 7 * 5
            steps = [
                step(1, TOPPINGS[number % 5], "60", "g", tool="1 scoop", kind="settled"),
                step(2, "Brown sugar syrup", str(1 + number % 4), "pumps"),
                step(3, BASES[number % 6], str(tea), "ml", f"to {tea + 70} ml", tool="jigger"),
                step(4, "Fresh milk", "60", "ml", f"to {tea + 130} ml", tool="jigger 60 ml"),
                step(5, "Ice", "2", "scoops", f"to {tea + 210} ml", kind="ice"),
                step(6, "Shake", "", "", note="10 s", kind="action"),
                *STEPS[3:],
                *[step(8 + n, "Cocoa", "1", "g", kind="dusted") for n in range(number % 3)],
            ]
            steps = [replace(one, number=place) for place, one in enumerate(steps, 1)]
            title = f"{TOPPINGS[number % 5]} {BASES[number % 6].lower()} No. {number + 1}"
            if number == edited:
                steps[2] = replace(steps[2], amount=str(tea + 5))
            card = build(f"drink-{number}", title, cup, cup_name, steps=steps)
            shares = tuple(f"{share} %" for share in SHARES)
            pumps = tuple(str(share // 25) for share in SHARES)
            tea_ml = [
                AmountRow((), ice, tuple(str(tea + kept - share // 5) for share in SHARES))
                for ice, kept in (("Regular ice", 0), ("No ice", 200))
            ]
            what = BASES[number % 6]
            amounts = (
                AmountTable(2, "Brown sugar syrup", "pumps", shares, (AmountRow((), "", pumps),)),
                AmountTable(3, what, "ml", shares, tuple(tea_ml), "Sweetness"),
            )
            add_ons = tuple(
                AddOnView(name, "1", "scoop", f"{more + 20} ml", "T", 0, "before step 1")
                for name in TOPPINGS[:3]
            )
            view = replace(
                card.view,  # type: ignore[type-var]
                amounts=amounts,
                add_ons=add_ons,
                cautions=("Pearls: choking hazard for children under 5.",),
            )
            made.append(Card(card.key, view))
    plan = edition_cards(made, Ledger(Path()), AUTUMN, Issuer())
    return [planned.card for planned in plan.cards]


def ours(made: list[Any], out: Path, cache: Path | None, workers: int | None = None) -> None:
    from buildsheets.print.cache import Cache
    from buildsheets.print.printing import Press, print_files
    from buildsheets.print.render import RenderOptions

    press = Press(
        RenderOptions(title="Cards", language="en"), Cache(cache) if cache else None, workers
    )
    printed = print_files({"cards": made}, press)[0]["cards"]
    errors = [finding.message for finding in printed.findings if finding.severity == "error"]
    assert not errors, errors[:3]
    out.write_bytes(printed.pdf)


PLAIN_STYLE = """
@page { size: 148mm 210mm; margin: 6mm 6mm 6mm 24mm }
body { font: 11pt/1.15 "Atkinson Hyperlegible"; margin: 0 }
.card { break-after: page; position: relative }
h1 { font-size: 19pt; margin: 0 } h2 { font-size: 11pt; margin: 1mm 0 0 } p { margin: .5mm 0 }
table { border-collapse: collapse; width: 100% } td { padding: 0 1mm; text-align: left }
.steps td { border-bottom: .2mm solid #999; vertical-align: middle }
.options { width: 54mm } .options td { border-bottom: .2mm solid #999; padding: 0 1mm }
.amount { font-size: 17pt; line-height: 1; font-weight: bold; text-align: right }
.what { font-size: 12pt }
.unit, .line { font-weight: bold } .line { text-align: right }
.chip { display: inline-block; width: 5mm; height: 5mm; line-height: 5mm; text-align: center;
border-radius: 2.5mm; background: #1f5f4a; color: white; font-weight: bold }
.top { border-radius: 0; background: #7a3b12 }
.contains { border: .7mm solid black; border-radius: 1.4mm; padding: 1mm 2mm; width: 80mm }
.allergen { display: inline-block; font-weight: bold }
.gauge { position: absolute; left: -24mm; top: -6mm }
.use { position: absolute; left: -17mm; top: 155mm; width: 14mm }
.cup { position: absolute; right: 0; top: 88mm } .foot { font-size: 8pt; width: 84mm }
.code { position: absolute; right: 0; top: 172mm; font-size: 8pt; text-align: center }
"""


def plain_html(view: Any, words: Words) -> str:
    """The card as one would write it down first: tables, chips and drawings with SVG text."""
    import qrcode
    import qrcode.image.svg

    from buildsheets.views.grids import grids

    def e(text: object) -> str:
        return str(text).replace("&", "&amp;").replace("<", "&lt;")

    def cells(*named: tuple[str, object]) -> str:
        return "<tr>" + "".join(f'<td class="{n}">{e(text)}</td>' for n, text in named) + "</tr>"

    def chip(name: str) -> str:
        mark = next(mark for mark in view.stations if mark.name == name)
        return f'<span class="chip {"" if mark.shape == "disc" else "top"}">{e(mark.letter)}</span>'

    code = qrcode.make(
        view.foot.qr_payload, image_factory=qrcode.image.svg.SvgPathImage, border=4, box_size=4,
        error_correction=qrcode.constants.ERROR_CORRECT_M,
    )  # fmt: skip
    legend = " ".join(f"{chip(mark.name)} {e(mark.name)}" for mark in view.stations)
    steps = ""
    for s in view.steps:
        more = " · ".join(part for part in (s.tool, s.note) if part)
        steps += (
            f'<tr><td class="unit">{s.number}</td><td>{chip(s.station)}</td>'
            f'<td class="amount">{e(s.amount)}</td><td class="unit">{e(s.unit)}</td>'
            f'<td><b class="what">{e(s.what)}</b>{" · " if more else ""}{e(more)}</td>'
            f'<td class="line">{e(s.line)}</td></tr>'
        )
    gauge = "".join(
        f'<path d="M0 {210 - g.height_mm}h8" stroke="black" stroke-width=".3"/>'
        f'<text x="9" y="{211 - g.height_mm}" font-size="3.9" font-weight="bold">'
        f"{e(g.label)}</text>"
        for g in view.gauge
    )
    top = view.drawing.rim_mm
    outline = " ".join(f"{45 - d / 2},{top - h}" for h, d in view.drawing.outline_mm)
    outline += " " + " ".join(f"{45 + d / 2},{top - h}" for h, d in view.drawing.outline_mm[::-1])
    layers = "".join(
        f'<rect x="15" y="{top - x.to_mm}" width="60" height="{x.to_mm - x.from_mm}" fill="#ddd"/>'
        f'<text x="40" y="{top - x.to_mm / 2}" font-size="10">{e(x.name)}</text>'
        for x in view.drawing.layers
    ) + "".join(
        f'<path d="M70 {top - x.height_mm}h22" stroke="black" stroke-width=".8"/><text x="95" '
        f'y="{top + 4 - x.height_mm}" font-size="10" font-weight="bold">{e(x.label)}</text>'
        for x in view.drawing.lines
    )
    options = "".join(
        f'<table class="options">{cells(*[("", cell) for cell in grid.header])}'
        + "".join(cells(("", row[0]), *[("unit", cell) for cell in row[1:]]) for row in grid.rows)
        + "</table>"
        for grid in grids(view.amounts)
    )
    add_ons = "".join(
        f"<p><b>{e(a.name)}: {e(a.amount)} {e(a.unit)}</b> {e(a.tool)}, {e(a.place)}</p>"
        for a in view.add_ons
    )
    allergens = ", ".join(f'<span class="allergen">{e(a)}</span>' for a in view.allergens.contains)
    cautions = "".join(
        '<p><svg width="4mm" height="4mm" viewBox="0 0 8 8"><path d="M4 0L8 8H0z"/></svg> '
        f"{e(caution)}</p>"
        for caution in view.cautions
    )
    foot = view.foot
    identity = " · ".join((foot.shop, foot.code, foot.revision, foot.edition, foot.valid))
    return (
        f'<section class="card"><svg class="gauge" width="24mm" height="210mm" '
        f'viewBox="0 0 24 210">{gauge}</svg><div class="use">{e(words("gauge"))}</div>'
        f"<h1>{e(view.title)}</h1><p><b>{e(view.subtitle)}</b> · {e(view.cup_name)}</p>"
        f'<p>{legend}</p><table class="steps">{steps}</table>{options}'
        f'<svg class="cup" width="36mm" height="40mm" viewBox="0 0 130 {top}">{layers}'
        f'<polygon points="{outline}" fill="none" stroke="black"/></svg>'
        f"<h2>{e(words('add_ons'))}</h2>{add_ons}<p>{e(view.finish)}</p>"
        f"<p><b>{e(words('keeps'))}:</b> {e(' · '.join(view.keeps))}</p>"
        f'<div class="contains"><b>{e(words("contains"))}:</b> {allergens}</div>{cautions}'
        '<div class="foot"><svg width="50mm" height="2mm" viewBox="0 0 50 2"><path '
        'd="M0 1h50M0 0v2M50 0v2" stroke="black" stroke-width=".3"/></svg> '
        f"{e(words('proof_bar'))}<p><b>{e(identity)}</b></p><p>{e(foot.local_code_note)}</p></div>"
        f'<div class="code">{e(words("scan_caption"))}{code.to_string().decode()}</div></section>'
    )


def plain(made: list[Any], out: Path) -> None:
    from buildsheets.print.fonts import use_private_configuration
    from buildsheets.print.layouts import Layouts

    use_private_configuration()
    import weasyprint

    words = Layouts().words("en")
    body = "".join(plain_html(card.view, words) for card in made)
    html = f"<html lang=en><title>Cards</title><style>{PLAIN_STYLE}</style>{body}"
    out.write_bytes(weasyprint.HTML(string=html).write_pdf())


def drawn(made: list[Any], out: Path) -> None:
    """The same texts by reportlab, at fixed places."""
    from reportlab.graphics import renderPDF
    from reportlab.graphics.barcode.qr import QrCodeWidget
    from reportlab.graphics.shapes import Drawing
    from reportlab.lib.units import mm
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    from buildsheets.print.fonts import faces
    from buildsheets.views.grids import grids

    for face in faces()[:2]:
        pdfmetrics.registerFont(TTFont("Bold" if face.bold else "Plain", str(face.path)))
    canvas = Canvas(str(out), pagesize=(148 * mm, 210 * mm))
    for card in made:
        view = card.view
        y = 196.0

        def put(x: float, y: float, size: float, text: str, bold: bool = False) -> None:
            canvas.setFont("Bold" if bold else "Plain", size)
            canvas.drawString(x * mm, y * mm, text)

        put(16, y, 19, view.title, True)
        put(16, y - 6, 11, f"{view.subtitle} {view.cup_name}")
        for mark in view.gauge:
            canvas.line(0, mark.height_mm * mm, 8 * mm, mark.height_mm * mm)
            put(1, mark.height_mm + 0.5, 6, mark.label)
        for layer in view.drawing.layers:
            low, high = layer.from_mm * 0.3, layer.to_mm * 0.3
            canvas.rect(110 * mm, (140 + low) * mm, 20 * mm, (high - low) * mm)
            put(131, 140 + high, 7, layer.name)
        for step in view.steps:
            y -= 11
            put(16, y, 9, str(step.number))
            put(22, y, 17, step.amount, True)
            put(38, y, 9, step.unit)
            put(52, y, 11, step.what, True)
            put(52, y - 4, 9, f"{step.tool} {step.note}")
            put(95, y, 9, step.line)
        for cells in (row for grid in grids(view.amounts) for row in (grid.header, *grid.rows)):
            y -= 5
            for column, cell in enumerate(cells):
                put(16 + 28 * column, y, 9, cell)
        for add_on in view.add_ons:
            y -= 5
            put(
                16,
                y,
                9,
                f"{add_on.name} {add_on.amount} {add_on.unit} {add_on.tool} {add_on.place}",
            )
        for text in (*view.allergens.contains, *view.cautions, *view.keeps, view.finish):
            y -= 5
            put(16, y, 9, text)
        code = QrCodeWidget(view.foot.qr_payload, barWidth=18 * mm, barHeight=18 * mm)
        drawing = Drawing(18 * mm, 18 * mm)
        drawing.add(code)
        renderPDF.draw(drawing, canvas, 124 * mm, 6 * mm)
        foot = view.foot
        put(16, 8, 8, f"{foot.code} {foot.revision} {foot.edition} {foot.valid} {foot.shop}")
        canvas.showPage()
    canvas.save()


WAYS = ("cold", "one-worker", "edited", "unchanged", "plain", "reportlab")


def run(way: str, drinks: int, folder: Path) -> dict[str, float]:
    """One way in a process of its own: wall seconds, file size, the largest process's memory."""
    command = [sys.executable, __file__, "--way", way, "--folder", str(folder), str(drinks)]
    path = os.pathsep.join(map(str, (folder, ROOT / "tests")))
    begin = time.perf_counter()
    done = subprocess.run(
        command, env=os.environ | {"PYTHONPATH": path}, check=True, capture_output=True, text=True
    )
    return {"seconds": time.perf_counter() - begin, **json.loads(done.stdout)}


class WorkerMemory(threading.Thread):
    """The most memory a worker had to itself, not shared with the process it was forked from."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.most_kb = 0

    def run(self) -> None:
        me = os.getpid()
        while True:
            time.sleep(0.3)  # looking stops the worker for a moment
            for child in Path(f"/proc/{me}/task/{me}/children").read_text().split():
                try:
                    lines = Path(f"/proc/{child}/smaps_rollup").read_text().splitlines()
                except OSError:
                    continue
                own = sum(int(x.split()[1]) for x in lines if x.startswith("Private_"))
                self.most_kb = max(self.most_kb, own)


def one(way: str, drinks: int, folder: Path) -> None:
    memory = WorkerMemory()
    if Path("/proc/self/smaps_rollup").exists():
        memory.start()
    out, cache = folder / f"{way}.pdf", folder / f"cache-{drinks}"
    made = pickle.loads((folder / ("edited" if way == "edited" else "views")).read_bytes())
    if way == "plain":
        plain(made, out)
    elif way == "reportlab":
        drawn(made, out)
    elif way == "one-worker":
        ours(made, out, None, workers=1)
    else:
        ours(made, out, cache)
    report = {
        "bytes": out.stat().st_size,
        "own_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "worker_mb": memory.most_kb / 1024,
    }
    print(json.dumps(report))


def compare(drinks: int, folder: Path) -> None:
    """Whether the straightforward document says what ours says, card by card."""
    import pypdfium2

    made = cards(drinks)
    ours(made, folder / "ours.pdf", None, workers=1)
    plain(made, folder / "plain.pdf")
    own, other = (
        [Counter("".join(page.get_textpage().get_text_range().split())) for page in document]
        for document in map(pypdfium2.PdfDocument, (folder / "ours.pdf", folder / "plain.pdf"))
    )
    for mine, its in zip(own, other, strict=True):
        for count in (mine, its):
            del count["·"]  # stands between words that do not each have a line
    same = sum(a == b for a, b in zip(own, other, strict=True))
    print(f"{same} of {len(own)} cards have the same letters")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("drinks", nargs="*", type=int, default=[60])
    parser.add_argument("--way", choices=WAYS)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--skip", nargs="*", default=[], choices=WAYS)
    parser.add_argument("--compare", action="store_true")
    asked = parser.parse_args()
    if asked.compare:
        with tempfile.TemporaryDirectory() as name:
            compare(asked.drinks[0], Path(name))
        return
    if asked.way:
        one(asked.way, asked.drinks[0], asked.folder)
        return
    for drinks in asked.drinks:
        count = drinks * len(SIZES)
        print(f"{drinks} drinks, {count} cards")
        print(f"{'way':<12}{'s':>8}{'ms a card':>11}{'kB':>8}{'own MB':>8}{'worker MB':>11}")
        with tempfile.TemporaryDirectory() as name:
            for part in ("buildsheets", "layouts"):  # an edit meanwhile is not to be timed
                shutil.copytree(ROOT / part, Path(name) / part)
            for kind, edited in (("views", None), ("edited", drinks // 2)):
                (Path(name) / kind).write_bytes(pickle.dumps(cards(drinks, edited)))
            for way in WAYS:
                if way in asked.skip:
                    continue
                found = run(way, drinks, Path(name))
                print(
                    f"{way:<12}{found['seconds']:>8.2f}{found['seconds'] / count * 1000:>11.1f}"
                    f"{found['bytes'] / 1000:>8.0f}{found['own_mb']:>8.0f}"
                    f"{found['worker_mb']:>11.0f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
