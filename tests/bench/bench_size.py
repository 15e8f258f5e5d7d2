"""How checking and printing grow with the menu: seconds and memory per number of drinks, plotted.

Run it: ``python tests/bench/bench_size.py [WORD …]``. Words are those of ``print``, such as
``--only gauge``; ``--drinks 10,20,40``, ``--sizes 8`` and ``--languages 4`` change the menus. Each
command runs in a process of its own; seconds are of the processor, its workers' too, and memory is
that of the largest process. The plot is written beside this file after each menu.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from large_menu import write

PLOT = Path(__file__).with_suffix(".svg")
DRINKS = "10,20,40,80,160"
WIDTH, HEIGHT, EDGE = 320, 220, 46  # of one diagram, in px
Measured = list[tuple[int, float, float]]  # drinks, seconds, MB


def measured(folder: Path, words: Sequence[str]) -> tuple[float, float]:
    """Processor seconds and MB of a command."""
    code = "import sys; from buildsheets.cli.main import main; sys.exit(main(sys.argv[1:]))"
    env = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
    process = subprocess.Popen([sys.executable, "-c", code, *words], cwd=folder, env=env,
                               stdout=subprocess.DEVNULL)  # fmt: skip
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{' '.join(words)}: ended with {os.waitstatus_to_exitcode(status)}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def plot(title: str, rows: dict[str, Measured]) -> str:
    """Two diagrams for each command, seconds and memory over drinks, as an SVG."""
    shapes = [f'<text x="{EDGE}" y="18">{title}</text>']
    for down, (name, points) in enumerate(rows.items()):
        for across, unit in enumerate(("s of the processor", "MB, largest process")):
            values = [point[1 + across] for point in points]
            left, top = EDGE + across * (WIDTH + EDGE), 30 + EDGE + down * (HEIGHT + EDGE)
            most_x, most_y = max(p[0] for p in points), 1.1 * max(values)
            places = [
                (left + WIDTH * x / most_x, top + HEIGHT * (1 - value / most_y))
                for (x, *_), value in zip(points, values, strict=True)
            ]
            line = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
            shapes += [
                f'<text x="{left}" y="{top - 8}">{name}: {unit}</text>',
                f'<path d="M{left} {top}v{HEIGHT}h{WIDTH}" fill="none" stroke="#999"/>',
                f'<polyline points="{line}" fill="none" stroke="#0b5563" stroke-width="2"/>',
            ]
            for (x, y), (drinks, *_), value in zip(places, points, values, strict=True):
                shapes += [
                    f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#0b5563"/>',
                    f'<text x="{x:.1f}" y="{y - 7:.1f}" text-anchor="middle">{value:.3g}</text>',
                    f'<text x="{x:.1f}" y="{top + HEIGHT + 14}" text-anchor="middle">{drinks}'
                    "</text>",
                ]
    width, height = 2 * (WIDTH + EDGE) + EDGE, 30 + len(rows) * (HEIGHT + EDGE) + EDGE
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'font-family="sans-serif" font-size="11">{"".join(shapes)}</svg>\n'
    )


def main() -> None:
    """Measure, print a table and write the plot."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--drinks", default=DRINKS)
    parser.add_argument("--sizes", type=int, default=2)
    parser.add_argument("--languages", type=int, default=1)
    options, words = parser.parse_known_args()
    of_print = " ".join(["print", *words])
    rows: dict[str, Measured] = {"check": [], of_print: []}
    title = f"drinks in {options.sizes} sizes, {options.languages} language(s)"
    print(f"{'drinks':>7}{'check s':>10}{'MB':>7}{'print s':>10}{'MB':>7}   {title}", flush=True)
    with tempfile.TemporaryDirectory() as name:
        for drinks in map(int, options.drinks.split(",")):
            folder = Path(name) / str(drinks)
            write(folder / "menu", drinks, options.sizes, options.languages)
            checked = measured(folder, ["check", "menu"])
            printed = measured(folder, ["print", "menu", "--no-cache", *words])
            for points, found in zip(rows.values(), (checked, printed), strict=True):
                points.append((drinks, *found))
            print(f"{drinks:>7}" + "".join(f"{s:>10.1f}{mb:>7.0f}" for s, mb in (checked, printed)),
                  flush=True)  # fmt: skip
            PLOT.write_text(plot(title, rows), "utf-8")


if __name__ == "__main__":
    main()
