"""The command line: words in; results on standard output, progress on standard error, 0, 1 or 2."""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from buildsheets.cli.arguments import parser
from buildsheets.cli.commands import CLEAN, COULD_NOT, STOPPED, Ended

if TYPE_CHECKING:
    from buildsheets.cli.outcome import Outcome

DETAILS = "BUILDSHEETS_DETAILS"
"""Set this in the environment to see where a crash happened."""
OBJECTS_A_COLLECTION = 1_000_000
"""A command keeps nearly all it makes; looking for cyclic garbage every 700 objects, as is usual,
took a quarter of the time that cards take to be composed."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Raises nothing but argparse's ``SystemExit`` of ``--help`` and
    ``--version``; a crash of our own is a finding of its own kind."""
    gc.set_threshold(OBJECTS_A_COLLECTION)
    atexit.register(gc.freeze)  # what is left at the end goes with the process
    _open_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # an old terminal lacks letters: "?" is no crash
            stream.reconfigure(errors="replace")
    words = sys.argv[1:] if arguments is None else list(arguments)
    try:
        try:
            return _told(words) if _asks_for_json(words) else _run(words, None)[0]
        finally:
            sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output has gone, as with `| head`: that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN


def _asks_for_json(words: Sequence[str]) -> bool:
    return "--format=json" in words or ("--format", "json") in pairwise(words)


def _told(words: Sequence[str]) -> int:
    """Run one command and tell its outcome as JSON, however it ends."""
    from buildsheets.cli.outcome import Outcome

    outcome = Outcome(next((word for word in words[:1] if word in parser().commands), None))
    code, outcome.problem = _run(words, outcome)
    try:
        text = outcome.text(code)
    except Exception as crash:  # a figure that JSON cannot hold
        outcome.problem, outcome.result, code = _crash_words(crash), None, COULD_NOT
        print(outcome.problem, file=sys.stderr)
        text = outcome.text(code)
    print(text)
    return code


def _run(words: Sequence[str], outcome: Outcome | None) -> tuple[int, str]:
    """The exit code of a command, and why it could not answer, which standard error says too."""
    head = ""
    try:
        parsed = parser().parse_args(words)
        parsed.outcome = outcome
        return parsed.run(parsed), ""
    except Ended as ended:
        code, head, problem = ended.code, ended.head, ended.words
    except BrokenPipeError:
        raise
    except KeyboardInterrupt:
        code, problem = STOPPED, "stopped"
    except Exception as error:
        code, problem = COULD_NOT, told(error)
    if problem:
        from buildsheets.findings.report import visible

        # What was typed is told again: its escapes must not act on the terminal.
        print(head + "\n".join(map(visible, problem.split("\n"))), file=sys.stderr)
    return code, problem


def told(error: Exception) -> str:
    """What to tell of an error that ended a command."""
    return _refusal_words(error) or _crash_words(error)


def _open_streams() -> None:
    """What was closed before we began (`>&-`) reads nothing and takes all; else the next file that
    is opened would be standard output."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 - kept


def _refusal_words(error: Exception) -> str:
    """What the machine, or the shop's own layouts, refused, and what helps; "" for our own fault.

    The system's errors (a full disk, a folder that may not be written) name the file.
    """
    if isinstance(error, OSError) and error.strerror:
        # Of a file that could not be put in another's place, the other is the one people know; of a
        # folder's lock, the folder.
        name = str(error.filename2 or error.filename or "").removesuffix(f"{os.sep}.lock")
        return f"{name}: {error.strerror}" if name else error.strerror
    if isinstance(error, ModuleNotFoundError) and not str(error.name).startswith("buildsheets"):
        return f"the package {error.name} is missing; install buildsheets again, with all it needs"
    if isinstance(error, EOFError) and "marshal" in str(error):
        return (
            "Python's compiled files were cut off, as by a full disk; delete the folders "
            "__pycache__ of buildsheets and of the packages it uses"
        )
    if isinstance(error, MemoryError):
        return "memory ran short; end other programs, or try --workers 1"

    # What needs packages that may be missing: last.
    from concurrent.futures.process import BrokenProcessPool

    from buildsheets.print.bounds import LayoutTooMuch
    from buildsheets.print.engine import NativeLibrariesMissing
    from buildsheets.print.layouts import LayoutMissing
    from buildsheets.print.templates import broken_layout
    from buildsheets.views.words import UnknownWord

    if isinstance(error, BrokenProcessPool):
        return "a worker was ended from outside, as when memory runs short; try --workers 1"
    if isinstance(error, NativeLibrariesMissing | LayoutMissing | UnknownWord | LayoutTooMuch):
        return str(error.args[0])
    layout = broken_layout(error)
    return layout.message if layout.span else ""


def _crash_words(crash: Exception) -> str:
    """What to tell about a crash: that it is ours, what it was, and how to see more."""
    words = (
        f"BUG01 our-own-crash: buildsheets itself failed ({type(crash).__name__}: {crash})\n"
        "nothing that was published is lost; please report this with the menu that led to it\n"
    )
    if os.environ.get(DETAILS):
        import traceback

        return f"{words}\n{''.join(traceback.format_exception(crash))}"
    return f"{words}set {DETAILS}=1 to see where it happened"
