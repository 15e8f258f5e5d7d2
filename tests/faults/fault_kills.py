"""A number goes in; a command is killed at a moment that hangs on it; what was lost comes out.

After every kill the next run succeeds, what is printed is whole and proofs green, nothing the log
reported is missing, and no edition is lost or half.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from fault_samples import Ran, Run, emptied, ran, shop

from buildsheets.cli.kitchen_log import FILE, entries
from buildsheets.ledger.ledger import load

NEXT = (
    "code: S26, name: Sample, valid_from: 2026-03-01",
    "code: A26, name: Next, valid_from: 2026-04-01",
)
MORE = ("amount: 300 ml", "amount: 250 ml")
LOGGED = 6


@dataclass
class Kills:
    """Kills in a folder; ``hit`` counts those that met a run which had not ended."""

    folder: Path
    hit: dict[str, int] = field(default_factory=dict)
    tried: dict[str, int] = field(default_factory=dict)
    _takes_s: dict[str, float] = field(default_factory=dict)

    def one(self, number: int) -> list[str]:
        """Kill one command; what is wrong afterwards."""
        random = Random(number)
        name, attack = COMMANDS[number % len(COMMANDS)]
        os.environ["XDG_CACHE_HOME"] = str(self.folder / "cache")
        if random.random() < 0.2:  # some render all, the others find it in the cache
            shutil.rmtree(self.folder / "cache", ignore_errors=True)
        return [f"{name} {number}: {wrong}" for wrong in attack(self, random)]

    def killed(self, name: str, random: Random, *commands: list[str | Path]) -> Ran:
        """Commands begun and killed at a moment of the time they take."""
        warm = f"{name} {(self.folder / 'cache').exists()}"
        whole_s = self._takes_s.get(warm, 0.0)
        clock = time.monotonic()
        run = Run(commands, self.folder / "said")
        if whole_s:
            run.process.join(random.uniform(0, 0.9 * whole_s))
        else:
            run.process.join(120)
        self.tried[name] = self.tried.get(name, 0) + 1
        if run.process.is_alive():
            self.hit[name] = self.hit.get(name, 0) + 1
            # Half of them with their workers, half alone: these then end by themselves.
            if random.random() < 0.5:
                try:
                    os.killpg(run.process.pid, signal.SIGKILL)
                except ProcessLookupError:  # it has not yet made its group
                    run.process.kill()
            else:
                run.process.kill()
            run.process.join()
        else:  # the time of a run that nobody disturbed: the shortest one
            took_s = time.monotonic() - clock
            self._takes_s[warm] = max(0.02, min(whole_s or took_s, took_s))
        return run.ended()

    def printed(self, random: Random) -> Iterator[str]:
        """A print that goes over an older one."""
        menu, out = shop(emptied(self.folder / "menu")), emptied(self.folder / "out")
        print_it: list[str | Path] = ["print", menu, "--out", out, "--workers", "2"]
        if random.random() < 0.5:
            ran(print_it)
            shop(menu, MORE)
        self.killed("print", random, print_it)
        yield from _half(out)
        again = ran(print_it)
        if again.code:
            yield f"the next print says {again.said}"
        checks: list[list[str | Path]] = [["print", menu, "--out", out, "--check"]]
        for words in (*checks, ["proof", out / "S26"]):
            if (after := ran(words)).code:
                yield f"{words[0]} says {after.said}"

    def published(self, random: Random) -> Iterator[str]:
        """A second edition, beside one that is published already."""
        menu = shop(emptied(self.folder / "menu"))
        if ran(["publish", menu]).code:
            yield "the first edition cannot be published"
        (first,) = (menu / "editions").glob("*.yaml")
        before = first.read_bytes()
        shop(menu, NEXT, MORE)
        self.killed("publish", random, ["publish", menu])
        yield from _editions(menu, (1, 2))
        if (again := ran(["publish", menu])).code:
            yield f"the next publish says {again.said}"
        yield from _editions(menu, (2,))
        if first.read_bytes() != before:
            yield "the first edition is not what it was"
        if left := list((menu / "editions").glob(".*.tmp")):
            yield f"left behind: {left}"

    def logged(self, random: Random) -> Iterator[str]:
        """Several entries one after the other; those reported are in the log."""
        menu = shop(emptied(self.folder / "menu"))
        at = [f"2026-03-0{day}T09:00" for day in range(1, LOGGED + 1)]
        words: list[list[str | Path]] = [
            ["log", "opened", "tea-leaf", "--at", one, "--menu", menu] for one in at
        ]
        said = self.killed("log", random, *words).said
        told = re.findall(r"tea-leaf: opened at \w+ (\d\d) \w+ 09:00;", said)
        if (again := ran(["log", "opened", "tea-leaf", "--menu", menu])).code:
            yield f"the next log says {again.said}"
        kept = {f"{entry.at:%d}" for entry in entries(menu / FILE)}
        if lost := set(told) - kept:
            yield f"reported and lost: {lost}"
        if ran(["log", "--menu", menu]).code not in (0, 1):
            yield "the log cannot be shown"


Attack = Callable[[Kills, Random], Iterator[str]]

COMMANDS: tuple[tuple[str, Attack], ...] = (
    ("print", Kills.printed),
    ("publish", Kills.published),
    ("log", Kills.logged),
)


def _half(out: Path) -> Iterator[str]:
    for file in out.rglob("*.pdf"):
        data = file.read_bytes()
        if not data.startswith(b"%PDF") or not data.rstrip().endswith(b"%%EOF"):
            yield f"{file.name} is half a file"


def _editions(menu: Path, counts: tuple[int, ...]) -> Iterator[str]:
    ledger = load(menu / "editions")
    if ledger.findings or len(ledger.editions) not in counts:
        yield f"{len(ledger.editions)} editions, {[one.message for one in ledger.findings]}"
