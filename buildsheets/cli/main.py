"""The command line: words in; results on standard output, progress on standard error, 0, 1 or 2."""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Sequence

from buildsheets.cli.arguments import parser
from buildsheets.cli.commands import CLEAN, COULD_NOT, Ended

DETAILS = "BUILDSHEETS_DETAILS"
"""Set this in the environment to see where a crash happened."""
OBJECTS_A_COLLECTION = 1_000_000
"""A command keeps nearly all it makes; looking for cyclic garbage every 700 objects, as is usual,
took a quarter of the time that cards take to be composed."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Raises nothing but argparse's ``SystemExit``; a crash of our own is a
    finding of its own kind."""
    gc.set_threshold(OBJECTS_A_COLLECTION)
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
        if ended.words:
            from buildsheets.findings.report import visible

            # What was typed is told again: its escapes must not act on the terminal.
            print("\n".join(map(visible, ended.words.split("\n"))), file=sys.stderr)
        return ended.code
    except BrokenPipeError:
        # The reader of our output has gone, as with `| head`: that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return COULD_NOT
    except Exception as error:
        print(_refusal_words(error) or _crash_words(error), file=sys.stderr)
        return COULD_NOT
    return code


def _refusal_words(error: Exception) -> str:
    """What the machine, or the shop's own layouts, refused, and what helps; "" for our own fault.

    The system's errors (a full disk, a folder that may not be written) name the file.
    """
    from concurrent.futures.process import BrokenProcessPool

    from buildsheets.print.engine import NativeLibrariesMissing
    from buildsheets.print.layouts import LayoutMissing
    from buildsheets.views.words import UnknownWord

    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    if isinstance(error, ModuleNotFoundError) and not str(error.name).startswith("buildsheets"):
        return f"the package {error.name} is missing; install buildsheets again, with all it needs"
    if isinstance(error, BrokenProcessPool):
        return "a worker was ended from outside, as when memory runs short; try --workers 1"
    if isinstance(error, NativeLibrariesMissing | LayoutMissing | UnknownWord):
        return str(error.args[0])
    return ""


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
