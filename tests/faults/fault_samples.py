"""A shop of one drink, and commands run in processes of their own that may be hurt."""

from __future__ import annotations

import contextlib
import io
import multiprocessing
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buildsheets.cli.main import main
from buildsheets.print.engine import load_engine

FORK = multiprocessing.get_context("fork")  # a new interpreter would take longer than the command

MENU = """\
shop:
  name: One drink
  languages: [en]
  measures: metric
  currency: EUR
  allergen_list: eu14
  shelf_rules: us-food-code
  time_zone: Europe/Madrid
  card: A5
edition: {code: S26, name: Sample, valid_from: 2026-03-01, valid_to: 2026-09-30}
stations:
  bar: {name: Bar, letter: B, accent: "#0b5563"}
tools:
  jug: {name: jug, kind: jug, step: 5 ml, tolerance: 2 ml}
cups:
  large: {name: Large, base: 58 mm, rim: 91 mm, height: 114 mm, floor: 4 mm, headspace: 5 mm,
    lid: flat}
ingredients:
  tea-leaf: {name: Cold tea, contains: [], density: 1 g/ml, density_source: weighed here,
    keeps_for: 2 days, keeps_at: 5 °C, pack: {quantity: 1 l, price: 0.50}}
bases:
  tea: {from: tea-leaf, tool: jug, station: bar}
drinks:
  plain:
    name: Plain tea
    cups: [large]
    price: 3.00
    build:
      - {add: tea, amount: 300 ml}
      - {do: lid}
"""


def shop(folder: Path, *edits: tuple[str, str]) -> Path:
    """The menu in a folder of its own, with texts exchanged."""
    text = MENU
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "menu.yaml").write_text(text, "utf-8")
    return folder


@dataclass
class Ran:
    """What came of a command: its exit code and all it said."""

    code: int
    said: str


def ran(words: Sequence[str | Path]) -> Ran:
    """A command run here."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = main([str(word) for word in words])
    return Ran(code, said.getvalue())


class Run:
    """Commands in a process of their own, in a process group of their own; what they say goes into
    a file at once. ``prepare`` is done there first."""

    def __init__(
        self,
        commands: Sequence[Sequence[str | Path]],
        said: Path,
        prepare: Callable[[], object] | None = None,
    ) -> None:
        load_engine()  # once, so that the runs that are hurt are at work and not at importing
        self.said_in, self._prepare = said, prepare
        self.process: Any = FORK.Process(target=self._run, args=(commands,))
        self.process.start()

    def _run(self, commands: Sequence[Sequence[str | Path]]) -> None:
        os.setsid()
        sys.dont_write_bytecode = True  # a hurt run must not hurt the tests after it
        signal.signal(signal.SIGINT, signal.default_int_handler)
        with self.said_in.open("w", 1, encoding="utf-8") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
            sys.stdout = sys.stderr = out
            if self._prepare is not None:
                self._prepare()
            codes = [main([str(word) for word in words]) for words in commands]
        os._exit(max(codes))

    def workers(self, within_s: float = 60.0) -> list[int]:
        """The processes it has begun, as soon as there are any."""
        pid, give_up = self.process.pid, time.monotonic() + within_s
        while self.process.is_alive() and time.monotonic() < give_up:
            if found := Path(f"/proc/{pid}/task/{pid}/children").read_text().split():
                return [int(one) for one in found]
            time.sleep(0.002)
        return []

    def ended(self, within_s: float = 120.0) -> Ran:
        """What came of it. Fails where it hangs."""
        self.process.join(within_s)
        hangs = self.process.is_alive()
        self.process.kill()
        said = self.said_in.read_text("utf-8") if self.said_in.exists() else ""
        assert not hangs, f"it hangs: {said}"
        return Ran(self.process.exitcode or 0, said)


def emptied(folder: Path) -> Path:
    """The folder without what was in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
