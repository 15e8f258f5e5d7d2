"""The one catalogue of codes: a code and what was seen go in, the finding under its name comes out.

``catalogue.yaml`` has every code but those of rules, which enter theirs with their docstrings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from buildsheets.findings.finding import Finding, Fix, Label, Severity, Span


@dataclass(frozen=True, slots=True)
class Entry:
    """What is said of a code: its name in words, its severity and what it is about."""

    name: str
    severity: Severity
    documentation: str


_RULES: dict[str, Entry] = {}


def enter(code: str, name: str, severity: Severity, documentation: str) -> None:
    """Enter a rule under its code. Raises ``ValueError`` for a code that is there already."""
    if code in _RULES:
        raise ValueError(f"code {code} is taken by {_RULES[code].name}")
    _RULES[code] = Entry(name, severity, documentation)


@lru_cache(maxsize=1)
def _written() -> dict[str, Entry]:
    """What ``catalogue.yaml`` holds; read with the first finding, not at import."""
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    text = Path(__file__).with_suffix(".yaml").read_text("utf-8")
    written: dict[str, Entry] = {}
    for key, documentation in yaml.load(text, Loader=loader).items():
        code, severity, name = key.split()
        written[code] = Entry(name, Severity(severity), documentation)
    return written


def catalogue() -> dict[str, Entry]:
    """Every code with what is said of it. Raises ``ValueError`` for a code that stands twice."""
    if twice := _RULES.keys() & _written().keys():
        raise ValueError(f"codes of rules stand in the catalogue too: {', '.join(sorted(twice))}")
    return _written() | _RULES


def finding(
    code: str,
    span: Span | None,
    message: str,
    hint: str = "",
    *,
    labels: tuple[Label, ...] = (),
    fixes: tuple[Fix, ...] = (),
    subject: Iterable[str] = (),
) -> Finding:
    """A finding of ``code``; ``subject`` names what is concerned: drink, cup, cards."""
    known = _RULES.get(code) or _written()[code]
    return Finding(
        code, known.name, known.severity, span, message, labels, (), fixes, hint, tuple(subject)
    )
