"""What all commands share: the checked menu, and how its findings are reported.

The command line starts with this module, so that it imports nothing slow at its top.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.findings.finding import Finding, Source, any_error, strict

if TYPE_CHECKING:
    from buildsheets.findings.report import Form
    from buildsheets.menu.model import Menu
    from buildsheets.pipeline import Checked

CLEAN, FOUND, COULD_NOT, STOPPED = 0, 1, 2, 130
"""Exit codes: nothing wrong; findings that stop printing; the command could not run; Ctrl-C, as
shells have it (128 and the signal's number)."""


class Ended(Exception):
    """A command ends here: its exit code, and words for standard error, with what goes before
    them there."""

    def __init__(self, code: int, words: str = "", head: str = "") -> None:
        super().__init__(words)
        self.code, self.words, self.head = code, words, head


@contextmanager
def refusing() -> Iterator[None]:
    """A wish that cannot be met, a ``ValueError`` with words for the reader, ends the command."""
    try:
        yield
    except ValueError as wrong:
        raise Ended(COULD_NOT, str(wrong)) from None


def checked_menu(options: argparse.Namespace) -> Checked:
    """The menu that was asked for, after all checks."""
    from buildsheets.pipeline import check

    checked = check(options.menu)
    if checked.menu is not None and options.outcome is not None:
        options.outcome.currency = checked.menu.shop.currency
    return checked


def sound_menu(options: argparse.Namespace, words: str = "") -> tuple[Checked, Menu]:
    """The menu that was asked for, where no finding stops it; else the findings and ``words``."""
    checked = checked_menu(options)
    if checked.menu is None or barred(checked.findings, options):
        report(checked.findings, checked.sources, options)
        raise Ended(stopping(checked), words)
    return checked, checked.menu


def refuse_stdin(options: argparse.Namespace) -> None:
    """Standard input does not change, so that there is nothing to watch."""
    if str(options.menu) == "-":
        raise Ended(COULD_NOT, "standard input does not change; name a file or a folder")


def stopping(checked: Checked) -> int:
    """The exit code for a menu that stops a command: whether there was one to read at all."""
    return FOUND if checked.sources else COULD_NOT


def weighed(findings: Sequence[Finding], options: argparse.Namespace) -> list[Finding]:
    """The findings with the severity this run gives them."""
    return strict(findings) if options.strict else list(findings)


def barred(findings: Sequence[Finding], options: argparse.Namespace) -> bool:
    """Whether any finding stands at or above the bar."""
    return any_error(weighed(findings, options))


def report(
    findings: Sequence[Finding],
    sources: Mapping[str, Source],
    options: argparse.Namespace,
    form: Form | None = None,
) -> bool:
    """Print the findings, in a form or the one asked for, or keep them for the outcome that is told
    as JSON; whether any stands at or above the bar.

    As SARIF this is the whole of standard output: call it once.
    """
    from buildsheets.findings.report import render, wants_colour

    ranked, form = weighed(findings, options), form or options.format
    if options.outcome is not None:
        options.outcome.findings += ranked
    elif ranked or for_programs(options):
        colour = form == "full" and wants_colour(sys.stdout, os.environ)
        beside = sys.stderr if getattr(options, "format", "") == "csv" else sys.stdout
        print(render(ranked, sources, form, colour=colour).rstrip("\n"), file=beside)
    return barred(findings, options)


def for_programs(options: argparse.Namespace) -> bool:
    """Whether standard output is one document for a program."""
    return getattr(options, "format", "") in ("json", "sarif")


def say(text: str, options: argparse.Namespace) -> None:
    """A sentence for people: not into what a program reads."""
    print(text, file=sys.stderr if for_programs(options) else sys.stdout)


def progress_of(what: str) -> Callable[[int, int], None]:
    """A bar on standard error for long work, where somebody watches; nothing in a pipe."""

    def tell(done: int, total: int) -> None:
        if sys.stderr.isatty():
            bar = "#" * (24 * done // max(total, 1))
            end = "\n" if done == total else ""
            print(f"\r[{bar:<24}] {done}/{total} {what}", end=end, file=sys.stderr, flush=True)

    return tell


def show(path: Path, options: argparse.Namespace) -> None:
    """Open what was written in whatever this machine opens it with, where that was asked for."""
    if options.open:
        page = path / "index.html"
        path = page if page.is_file() else path
        open_address(path.resolve().as_uri(), f"look at {path}")


def open_address(address: str, instead: str) -> None:
    """Open an address in whatever this machine opens it with, or say what to do instead."""
    import webbrowser

    if not webbrowser.open(address):
        print(f"nothing here can open it; {instead}", file=sys.stderr)


def write_files(out: Path, files: Mapping[str, bytes]) -> Path:
    """Write each file whole, and say where: the file, or the folder of several."""
    from buildsheets.print.files import write_whole

    for name, data in sorted(files.items()):
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    if len(files) == 1:
        path = out / next(iter(files))
        print(f"written: {path}", file=sys.stderr)
        return path
    folders = {name.partition("/")[0] for name in files}
    folder = out / folders.pop() if len(folders) == 1 else out
    print(f"{len(files)} files in {folder}", file=sys.stderr)
    return folder
