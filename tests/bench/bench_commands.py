"""How long it takes from the key to the answer: starting, checking, explaining, printing nothing.

Run it: ``python tests/bench/bench_commands.py``. Each command runs in a process of its own over
the demo menu; the first print, which is not timed, fills a cache that is thrown away afterwards.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MENU = Path(__file__).parents[2] / "menu"
ROUNDS = 5


def seconds(folder: Path, words: list[str]) -> float:
    """How long a command took, from start to end of its process."""
    code = f"import sys; from buildsheets.cli.main import main; sys.exit(main({words!r}))"
    env = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], cwd=folder, env=env, check=True,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    return time.perf_counter() - begun


def main() -> None:
    """Time the commands and print a table."""
    menu = str(MENU)
    rows = {
        "Python alone": None,
        "--version": ["--version"],
        "check": ["check", menu],
        "explain, one cup": ["explain", "boathouse-pearl", "medium", "--menu", menu],
        "keys": ["keys"],
        "print, nothing changed": ["print", menu],
        "print, all in the cache": ["print", menu, "--out", "elsewhere", "--format", "short"],
    }
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        seconds(folder, ["print", menu])
        print(f"{'command':<26}{'median':>9}{'fastest':>9}   s, of {ROUNDS} runs")
        for title, words in rows.items():
            took = []
            for turn in range(ROUNDS):
                if words is None:
                    begun = time.perf_counter()
                    subprocess.run([sys.executable, "-c", ""], check=True)
                    took.append(time.perf_counter() - begun)
                else:
                    fresh = [f"{w}{turn}" if w == "elsewhere" else w for w in words]
                    took.append(seconds(folder, fresh))
            print(f"{title:<26}{statistics.median(took):>9.2f}{min(took):>9.2f}")


if __name__ == "__main__":
    main()
