"""A crash of our own in; words for the person at the keyboard out, with what to report."""

from __future__ import annotations

import os
import traceback

DETAILS = "BUILDSHEETS_DETAILS"
"""Set this in the environment to see where a crash happened."""


def crash_words(crash: Exception) -> str:
    """What to tell about a crash: that it is ours, what it was, and how to see more."""
    kind = type(crash).__name__
    said = f"BUG01 our-own-crash: buildsheets itself failed ({kind}: {crash})"
    more = "nothing that was published is lost; please report this with the menu that led to it"
    if os.environ.get(DETAILS):
        return f"{said}\n{more}\n\n{''.join(traceback.format_exception(crash))}"
    return f"{said}\n{more}\nset {DETAILS}=1 to see where it happened"
