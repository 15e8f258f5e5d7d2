"""The catalogue with every rule entered goes in; every code with what is said of it comes out."""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.findings.catalogue import Entry, catalogue
from buildsheets.rules import run  # noqa: F401  its import enters the rules


def rulebook() -> Mapping[str, Entry]:
    """Every code a finding can carry, with its name, severity and documentation."""
    return catalogue()
