"""The one catalogue of codes: a code and what was seen go in, the finding under its name comes out.

``catalogue.yaml`` has every code but those of rules, which enter theirs with their docstrings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from buildsheets.findings.finding import Finding, Fix, Label, Severity, Span, SumLine


@dataclass(frozen=True, slots=True)
class Entry:
    """What is said of a code: its name in words, its severity and what it is about."""

    name: str
    severity: Severity
    documentation: str


CATALOGUE: dict[str, Entry] = {}


def enter(code: str, name: str, severity: Severity, documentation: str) -> None:
    """Put a code into the catalogue. Raises ``ValueError`` for a code that is there already."""
    if code in CATALOGUE:
        raise ValueError(f"code {code} is taken by {CATALOGUE[code].name}")
    CATALOGUE[code] = Entry(name, severity, documentation)


def finding(
    code: str,
    span: Span | None,
    message: str,
    hint: str = "",
    *,
    labels: tuple[Label, ...] = (),
    sums: tuple[SumLine, ...] = (),
    fixes: tuple[Fix, ...] = (),
    subject: Iterable[str] = (),
) -> Finding:
    """A finding of ``code``; ``subject`` names what is concerned: drink, cup, cards."""
    known = CATALOGUE[code]
    return Finding(
        code, known.name, known.severity, span, message, labels, sums, fixes, hint, tuple(subject)
    )


def _load() -> None:
    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    text = Path(__file__).with_suffix(".yaml").read_text("utf-8")
    for key, documentation in yaml.load(text, Loader=loader).items():
        code, severity, name = key.split()
        enter(code, name, Severity(severity), documentation)


_load()
