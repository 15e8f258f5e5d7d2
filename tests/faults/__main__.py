"""Kills by hand: `python -m tests.faults --count 1000 --seed 1` kills print, publish and log at as
many moments, a third each, and says what was lost."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from fault_kills import Kills  # noqa: E402 - found by the path above


def main() -> int:
    """Words in; 1 where anything was lost."""
    words = argparse.ArgumentParser(prog="python -m tests.faults")
    words.add_argument("--count", type=int, default=100, help="kills")
    words.add_argument("--seed", type=int, default=1, help="another seed, other moments")
    asked = words.parse_args()
    lost = 0
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        kills = Kills(Path(folder))
        done = told = 0
        while (killed := sum(kills.hit.values())) < asked.count:
            done += 1
            for wrong in kills.one(asked.seed * 1_000_000 + done):
                lost += 1
                print(wrong, flush=True)
            if killed >= told + 25:
                told, took_s = killed, time.monotonic() - begun
                print(
                    f"# {done} runs in {took_s:.0f} s, killed {kills.hit}, lost {lost}", flush=True
                )
        print(f"# {done} runs, killed {kills.hit}, lost {lost}", flush=True)
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
