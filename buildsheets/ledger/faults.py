"""A code and a message in; the finding, with the name and weight that every code here has, out."""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.findings.finding import Finding, Mend, Severity, Span

FAULTS: Mapping[str, tuple[str, Severity, str]] = {
    "PUB01": (
        "edition-published-already",
        Severity.ERROR,
        "A published edition is never rewritten: it is the record of what hangs on the wall. "
        "Give the changed edition a new code.",
    ),
    "PUB02": (
        "edition-file-altered",
        Severity.ERROR,
        "A file of a published edition was changed, renamed, taken away or put in by hand. "
        "Codes and revisions cannot be trusted until it is brought back.",
    ),
    "PUB03": (
        "publishing-elsewhere",
        Severity.ERROR,
        "Another run is publishing at the same moment. Nothing was written; run it again.",
    ),
    "PUB04": (
        "later-edition-made-before",
        Severity.WARNING,
        "An edition that begins later was published before this one and lacks its changes. "
        "Publish it again under a new code.",
    ),
    "PUB05": (
        "edition-unchanged",
        Severity.NOTE,
        "The edition is published already and nothing has changed since.",
    ),
    "PUB06": (
        "change-sheet-broken",
        Severity.ERROR,
        "The sheet of changes cannot be printed as its layout stands.",
    ),
    "PUB07": (
        "edition-unknown",
        Severity.ERROR,
        "No edition of that code was published.",
    ),
    "OUT01": (
        "manifest-unreadable",
        Severity.ERROR,
        "The output folder has no manifest that can be read: what is in it cannot be vouched for.",
    ),
    "OUT02": ("file-missing", Severity.ERROR, "A file that was built is no longer there."),
    "OUT03": (
        "file-differs",
        Severity.ERROR,
        "A file is not the one that was built. Do not print it.",
    ),
    "OUT04": (
        "file-unknown",
        Severity.WARNING,
        "A file lies among the built ones that was not built with them, perhaps an old card.",
    ),
}
"""Every code of this room: its name, its weight and what it means."""


def finding(
    code: str,
    span: Span | None,
    message: str,
    *,
    mends: tuple[Mend, ...] = (),
    hint: str = "",
) -> Finding:
    """The finding of a code in :data:`FAULTS`."""
    name, severity, _ = FAULTS[code]
    return Finding(code, name, severity, span, message, mends=mends, hint=hint)
