"""How long cards take: cold, one edited, nothing changed; beside two other ways to print them.

    python tests/bench/bench_render.py [drinks ...]     default: 60

Every way runs in a process of its own and is timed from its start to its end, so that imports
count. The same views go in. The other ways are a straightforward one: the same engine, one
document, automatic tables, labels as SVG text, the code as an SVG path; and reportlab, which draws
every text where it is told (no line is broken, no fit is checked: it does less).
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SIZES = (("small", "Small", 0), ("medium", "Medium", 60), ("large", "Large", 120))
BASES = ("Black tea", "Green tea", "Oolong", "Barley tea", "Oat milk", "Coconut water")
TOPPINGS = ("Pearls", "Grass jelly", "Basil seeds", "Red bean", "Coconut jelly")


def cards(drinks: int, edited: int | None = None) -> list[Any]:
    """A menu's build cards: every drink in three sizes, six to nine steps each."""
    from edition_samples import AUTUMN, STEPS, build, step

    from buildsheets.cards.views import AddOnView, Table
    from buildsheets.editions.cards import Card
    from buildsheets.editions.ledger import Ledger
    from buildsheets.editions.publish import Issuer, plan_revisions

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
            rows = tuple(
                (
                    f"{share} %",
                    f"{share // 25} · {tea + 200 - share // 5}",
                    f"{share // 25} · {tea}",
                )
                for share in (100, 75, 50, 25, 0)
            )
            add_ons = tuple(
                AddOnView(name, "40 g", f"{more + 20} ml", f"to {tea + 60} ml", True, "fits")
                for name in TOPPINGS[:3]
            )
            view = replace(
                card.view,  # type: ignore[type-var]
                options=Table("Syrup (pumps) · line (ml)", ("", "regular", "no ice"), rows),
                add_ons=add_ons,
                cautions=("Pearls: choking hazard for children under 5.",),
            )
            made.append(Card(card.key, view))
    plan = plan_revisions(made, Ledger(Path()), AUTUMN, Issuer())
    return [planned.card for planned in plan.cards]


def ours(made: list[Any], out: Path, cache: Path | None, workers: int | None = None) -> None:
    from buildsheets.cards.render import RenderOptions
    from buildsheets.editions.cache import Cache
    from buildsheets.editions.printing import Press, print_files

    press = Press(
        RenderOptions(title="Cards", language="en"), Cache(cache) if cache else None, workers
    )
    printed = print_files({"cards": made}, press).files["cards"]
    errors = [finding.message for finding in printed.findings if finding.severity == "error"]
    assert not errors, errors[:3]
    out.write_bytes(printed.pdf)


PLAIN_STYLE = """
@page { size: 148mm 210mm; margin: 6mm 6mm 6mm 14mm }
body { font: 9pt "Atkinson Hyperlegible" } h1 { font-size: 19pt; margin: 0 }
.card { break-after: page } table { border-collapse: collapse; width: 100% }
td, th { border-bottom: .2mm solid #999; padding: .6mm 1mm; text-align: left }
.amount { font-size: 17pt; font-weight: bold } .chip { display: inline-block;
border: .2mm solid #333; border-radius: 2mm; padding: .5mm 1.5mm; margin-right: 1mm }
"""


def plain_html(view: Any) -> str:
    """The card as one would write it down first: tables, chips and drawings with SVG text."""
    import qrcode
    import qrcode.image.svg

    def e(text: object) -> str:
        return str(text).replace("&", "&amp;").replace("<", "&lt;")

    def row(cells: Any, tag: str = "td") -> str:
        return "<tr>" + "".join(f"<{tag}>{e(cell)}</{tag}>" for cell in cells) + "</tr>"

    code = qrcode.make(view.foot.qr_payload, image_factory=qrcode.image.svg.SvgPathImage, border=4)
    steps = "".join(
        f"<tr><td>{s.number}</td><td class='amount'>{e(s.amount)}</td><td>{e(s.unit)}</td>"
        f"<td><b>{e(s.what)}</b><br>{e(s.tool)} {e(s.note)}</td><td>{e(s.line)}</td></tr>"
        for s in view.steps
    )
    gauge = "".join(
        f'<path d="M0 {210 - g.height_mm}h8" stroke="black" stroke-width=".3"/>'
        f'<text x="1" y="{209 - g.height_mm}" font-size="3">{e(g.label)}</text>'
        for g in view.gauge
    )
    top = view.drawing.rim_mm
    outline = " ".join(f"{45 - d / 2},{top - h}" for h, d in view.drawing.outline_mm)
    outline += " " + " ".join(f"{45 + d / 2},{top - h}" for h, d in view.drawing.outline_mm[::-1])
    layers = "".join(
        f'<rect x="20" y="{top - x.to_mm}" width="50" height="{x.to_mm - x.from_mm}" fill="#ddd"/>'
        f'<text x="72" y="{top - x.to_mm}" font-size="5">{e(x.name)}</text>'
        for x in view.drawing.layers
    )
    add_ons = "".join(row((a.name, a.amount, a.hold_back, a.line, a.verdict)) for a in view.add_ons)
    options = row(view.options.header, "th") + "".join(row(cells) for cells in view.options.rows)
    chips = "".join(f'<span class="chip">{e(a)}</span>' for a in view.allergens.contains)
    return (
        f'<div class="card"><svg style="position:absolute;left:-14mm;top:-6mm" width="14mm" '
        f'height="210mm" viewBox="0 0 14 210">{gauge}</svg>'
        f"<h1>{e(view.title)}</h1><p>{e(view.subtitle)} {e(view.cup_name)}</p>"
        f'<svg width="30mm" height="48mm" viewBox="0 0 100 {top}">{layers}'
        f'<polygon points="{outline}" fill="none" stroke="black"/></svg>'
        f"<table>{steps}</table><h2>{e(view.options.title)}</h2><table>{options}</table>"
        f"<table>{add_ons}</table><p>Contains {chips}</p>"
        f"<p>{' '.join(map(e, (*view.cautions, *view.keeps, view.finish)))}</p>"
        f'<div style="width:18mm;height:18mm">{code.to_string().decode()}</div>'
        f"<p>{e(view.foot.code)} {e(view.foot.revision)} {e(view.foot.edition)} "
        f"{e(view.foot.valid)} {e(view.foot.shop)}</p></div>"
    )


def plain(made: list[Any], out: Path) -> None:
    from buildsheets.cards.fonts import use_private_configuration

    use_private_configuration()
    import weasyprint

    body = "".join(plain_html(card.view) for card in made)
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

    from buildsheets.cards.fonts import faces

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
        for cells in (view.options.header, *view.options.rows):
            y -= 5
            for column, cell in enumerate(cells):
                put(16 + 28 * column, y, 9, cell)
        for add_on in view.add_ons:
            y -= 5
            put(16, y, 9, f"{add_on.name} {add_on.amount} {add_on.hold_back} {add_on.line}")
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
    path = os.pathsep.join(map(str, (folder, ROOT / "tests" / "editions")))
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
            time.sleep(0.1)
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
    made = cards(drinks, edited=drinks // 2 if way == "edited" else None)
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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("drinks", nargs="*", type=int, default=[60])
    parser.add_argument("--way", choices=WAYS)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--skip", nargs="*", default=[], choices=WAYS)
    asked = parser.parse_args()
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
