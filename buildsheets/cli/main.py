"""The command line: words in; results on standard output, progress on standard error, 0, 1 or 2."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence

from buildsheets.cli.arguments import parser
from buildsheets.cli.commands import CLEAN, COULD_NOT, STOPPED, Ended

DETAILS = "BUILDSHEETS_DETAILS"
"""Set this in the environment to see where a crash happened."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Raises nothing but argparse's ``SystemExit``; a crash of our own is a
    finding of its own kind."""
    _open_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # an old terminal lacks letters: "?" is no crash
            stream.reconfigure(errors="replace")
    try:
        try:
            parsed = parser().parse_args(arguments)
            code: int = parsed.run(parsed)
        finally:
            sys.stdout.flush()
    except Ended as ended:
        _tell(ended.words)
        return ended.code
    except BrokenPipeError:
        # The reader of our output has gone, as with `| head`: that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return STOPPED
    except Exception as error:
        _tell(_refusal_words(error) or _crash_words(error))
        return COULD_NOT
    return code


def _tell(words: str) -> None:
    """Words on standard error. What was typed may be among them: its escapes must not act."""
    if words:
        from buildsheets.findings.report import visible

        print("\n".join(map(visible, words.split("\n"))), file=sys.stderr)


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
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
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
