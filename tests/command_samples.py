"""Runs of the command line, in this process or in one of their own, and copies of the demo menu."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from buildsheets.cli.main import main

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "menu"


@dataclass(frozen=True)
class Ran:
    """What became of a run."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """Standard output as the one JSON document it has to be."""
        return json.loads(self.out)

    @property
    def result(self) -> Any:
        """The result of the one JSON document."""
        return self.data["result"]


def run(capsys: pytest.CaptureFixture[str], *words: object) -> Ran:
    """A run in this process."""
    capsys.readouterr()
    try:
        code = main([str(word) for word in words])
    except SystemExit as ended:  # argparse ends so, for wrong words and for --help
        code = int(ended.code or 0)
    said = capsys.readouterr()
    return Ran(code, said.out, said.err)


def own_process(
    *words: object,
    env: Mapping[str, str] | None = None,
    cwd: Path = ROOT,
    first: str = "",
    encoding: str = "utf-8",
) -> Ran:
    """A run in a process of its own; ``first`` is Python to run before it, ``encoding`` what its
    output is read as."""
    code = (
        f"import sys\n{first}\nfrom buildsheets.cli.main import main\n"
        f"sys.exit(main({[str(word) for word in words]!r}))"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code], cwd=cwd, env={**os.environ, **(env or {})},
        capture_output=True, text=True, encoding=encoding, check=False,
    )  # fmt: skip
    return Ran(ended.returncode, ended.stdout, ended.stderr)


def demo_copy(folder: Path, *edits: tuple[str, str]) -> Path:
    """The demo menu in ``folder``, with each text that stands once in it replaced by another."""
    folder.mkdir(parents=True)
    texts = {path.name: path.read_text("utf-8") for path in sorted(DEMO.glob("*.yaml"))}
    for old, new in edits:
        (name,) = [name for name, text in texts.items() if old in text]
        assert texts[name].count(old) == 1, old
        texts[name] = texts[name].replace(old, new)
    for name, text in texts.items():
        (folder / name).write_text(text, "utf-8")
    if (DEMO / "layouts").is_dir():
        shutil.copytree(DEMO / "layouts", folder / "layouts")
    return folder


def snapshot(folder: Path) -> dict[str, tuple[int, int, bytes]]:
    """Every entry below a folder: mode, time of change, content."""
    found = {}
    for path in sorted(folder.rglob("*")):
        stat = path.lstat()
        data = path.read_bytes() if path.is_file() else b""
        found[path.relative_to(folder).as_posix()] = (stat.st_mode, stat.st_mtime_ns, data)
    return found
