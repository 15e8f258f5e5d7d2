"""How long a person waits: checking, explaining, a first print, one after an edit, one for nothing.

Run it: ``python tests/bench/bench_commands.py``. Each command runs in a process of its own over a
copy of the demo menu, with a cache that is thrown away afterwards.
"""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MENU = Path(__file__).parents[2] / "menu"
ROUNDS = 5
# As published, edited, which is a new revision on each of a card's pages, and edited again.
AMOUNTS = (
    "small: 50 ml, medium: 70 ml, large: 100 ml",
    "small: 55 ml, medium: 75 ml, large: 105 ml",
    "small: 60 ml, medium: 80 ml, large: 110 ml",
)


def seconds(folder: Path, words: list[str]) -> tuple[float, float]:
    """How long a command took, from start to end of its process, and how long of processors."""
    code = f"import sys; from buildsheets.cli.main import main; sys.exit(main({words!r}))"
    env = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code], cwd=folder, env=env, check=True,
                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return time.perf_counter() - begun, used


def table(title: str, took: list[tuple[float, float]]) -> None:
    """One row: the median and the fastest, and the median of what it took of processors."""
    lasted, used = zip(*took, strict=True)
    row = (statistics.median(lasted), min(lasted), statistics.median(used))
    print(f"{title:<28}" + "".join(f"{value:>11.2f}" for value in row), flush=True)


def main() -> None:
    """Time the commands and print a table."""
    rows = {
        "--version": ["--version"],
        "check": ["check", "menu"],
        "explain, one cup": ["explain", "boathouse-pearl", "medium", "--menu", "menu"],
        "keys": ["keys"],
        "print, nothing changed": ["print", "menu"],
        "print, all in the cache": ["print", "menu", "--out", "elsewhere", "--format", "short"],
    }
    print(f"{'command':<28}{'median':>11}{'fastest':>11}{'processors':>11}   s, of {ROUNDS} runs")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(MENU, folder / "menu")
        drinks = folder / "menu" / "drinks.yaml"
        written = drinks.read_text("utf-8")
        assert AMOUNTS[0] in written
        cold, edited, again = [], [], []
        for _ in range(ROUNDS):
            shutil.rmtree(folder / "cache", ignore_errors=True)
            shutil.rmtree(folder / "out", ignore_errors=True)
            for amounts, took in zip(AMOUNTS, (cold, edited, again), strict=True):
                drinks.write_text(written.replace(AMOUNTS[0], amounts, 1), "utf-8")
                took.append(seconds(folder, ["print", "menu"]))
        table("print, cold", cold)
        table("print, one drink edited", edited)
        table("print, edited again", again)
        drinks.write_text(written, "utf-8")
        seconds(folder, ["print", "menu"])
        for title, words in rows.items():
            fresh = [[f"{w}{n}" if w == "elsewhere" else w for w in words] for n in range(ROUNDS)]
            table(title, [seconds(folder, one) for one in fresh])


if __name__ == "__main__":
    main()
