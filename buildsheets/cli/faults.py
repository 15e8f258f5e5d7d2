"""An error that ended a command in; words for the person at the keyboard out."""

from __future__ import annotations

import os
import traceback
from concurrent.futures.process import BrokenProcessPool

DETAILS = "BUILDSHEETS_DETAILS"
"""Set this in the environment to see where a crash happened."""


def refusal_words(error: Exception) -> str:
    """What the machine, or the shop's own layouts, refused, and what helps; "" for our own fault.

    The system's errors (a full disk, a folder that may not be written) name the file.
    """
    from buildsheets.print.engine import NativeLibrariesMissing
    from buildsheets.print.layouts import LayoutMissing
    from buildsheets.views.words import UnknownWord

    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    if isinstance(error, BrokenProcessPool):
        return "a worker was ended from outside, as when memory runs short; try --workers 1"
    if isinstance(error, NativeLibrariesMissing | LayoutMissing | UnknownWord):
        return str(error.args[0])
    return ""


def crash_words(crash: Exception) -> str:
    """What to tell about a crash: that it is ours, what it was, and how to see more."""
    kind = type(crash).__name__
    said = f"BUG01 our-own-crash: buildsheets itself failed ({kind}: {crash})"
    more = "nothing that was published is lost; please report this with the menu that led to it"
    if os.environ.get(DETAILS):
        return f"{said}\n{more}\n\n{''.join(traceback.format_exception(crash))}"
    return f"{said}\n{more}\nset {DETAILS}=1 to see where it happened"
