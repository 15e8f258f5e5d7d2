"""A long run by hand: `python -m tests.fuzz --count 1000000 --seed 1`.

Says how many menus were tried, how fast, and each kind of broken promise once with the number of
its menu; `--show NUMBER` prints that menu and all it breaks.
"""

from __future__ import annotations

import argparse
import gc
import resource
import sys
import time
from collections import Counter
from pathlib import Path
from random import Random

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from fuzz_changes import hurt  # noqa: E402 - found by the path above
from fuzz_laws import broken_by  # noqa: E402

MOST_MEMORY_BYTES = 2_000_000_000
EACH_TOLD_S = 60.0


def run(first: int, count: int) -> Counter[str]:
    """Try menus by number; the kinds of what they broke, told as soon as they are found."""
    kinds: Counter[str] = Counter()
    begun = told = time.monotonic()
    slowest_s, slowest = 0.0, first
    gc.freeze()
    gc.disable()  # records refer to no one that refers to them, or so few that it can wait
    for done in range(count):
        number = first + done
        clock = time.process_time()
        for one in broken_by(hurt(number), Random(number), often=0.4):
            kinds[one.kind] += 1
            if kinds[one.kind] == 1:
                print(f"{number}: {one}", flush=True)
        took_s = time.process_time() - clock
        if took_s > slowest_s:
            slowest_s, slowest = took_s, number
        if done % 1000 == 0:
            gc.collect()
        if time.monotonic() - told > EACH_TOLD_S or done == count - 1:
            told = time.monotonic()
            memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
            print(
                f"# {done + 1} menus, {(done + 1) / (told - begun):.0f} a second, "
                f"{sum(kinds.values())} broken of {len(kinds)} kinds, "
                f"slowest {slowest_s:.1f} s ({slowest}), {memory_mb:.0f} MB",
                flush=True,
            )
    return kinds


def main() -> int:
    """Words in; 1 where a promise was broken."""
    words = argparse.ArgumentParser(prog="python -m tests.fuzz")
    words.add_argument("--count", type=int, default=10_000, help="menus to try")
    words.add_argument("--seed", type=int, default=1, help="another seed, other menus")
    words.add_argument("--show", type=int, help="the menu of this number, and what it breaks")
    asked = words.parse_args()
    if asked.show is not None:
        files = hurt(asked.show)
        for name, text in files.items():
            print(f"# {name}\n{text}")
        for one in broken_by(files, Random(asked.show), often=100):
            print(one)
        return 0
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    return 1 if run(asked.seed * 100_000_000, asked.count) else 0


if __name__ == "__main__":
    sys.exit(main())
