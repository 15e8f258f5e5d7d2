"""What a check found: a code and a place in, one frozen record that every report prints out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Generic, TypeVar

T_co = TypeVar("T_co", covariant=True)


class Severity(StrEnum):
    """How much a finding matters: an error stops printing, a warning does not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


LINE_BREAK = re.compile("\r\n|\r|\n")
"""What ends a line of a menu file, on any system; spans count by it."""


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of a menu file; lines and columns count from 1, columns in characters.

    The end is exclusive. ``file`` is shown to people as it stands here.
    """

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Located(Generic[T_co]):
    """A value with the place it was written at and its text as written."""

    value: T_co
    span: Span
    raw: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """Another place that takes part in a finding, with what it contributes."""

    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class SumLine:
    """One line of a shown sum: the part, what was written, what it takes up, and why."""

    part: str
    written: str
    takes_up: str
    because: str = ""
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Fix:
    """One change that makes the finding go away.

    Where ``span`` is given, writing ``replacement`` there fixes it; tests apply each one.
    """

    text: str
    span: Span | None = None
    replacement: str | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """The result of one check: what is wrong, where, the sum behind it and ways to fix it.

    ``code`` is area letters plus a number ("FIT01"); ``name`` is the fault in words
    ("cup-overfull"). ``message`` stands alone and carries both numbers. ``subject`` names the
    drink, size and options concerned so that later stages can leave them out.
    """

    code: str
    name: str
    severity: Severity
    span: Span | None
    message: str
    labels: tuple[Label, ...] = ()
    sums: tuple[SumLine, ...] = ()
    fixes: tuple[Fix, ...] = ()
    hint: str = ""
    subject: tuple[str, ...] = ()


def sort_key(finding: Finding) -> tuple[str, int, int, str, str]:
    """Order of a report: by file, then place, then code; findings without a place come last."""
    span = finding.span
    if span is None:
        return ("￿", 0, 0, finding.code, finding.message)
    return (span.file, span.line, span.column, finding.code, finding.message)


def gravity(finding: Finding) -> int:
    """Smaller for what matters more: errors, then warnings, then notes."""
    return [*Severity].index(finding.severity)


def any_error(findings: Iterable[Finding]) -> bool:
    """Whether one of the findings is an error."""
    return any(finding.severity is Severity.ERROR for finding in findings)


def strict(findings: Iterable[Finding]) -> list[Finding]:
    """The same findings with warnings raised to errors."""
    return [
        replace(f, severity=Severity.ERROR) if f.severity is Severity.WARNING else f
        for f in findings
    ]


@dataclass(frozen=True, slots=True)
class Source:
    """A menu file: its name as shown to people, and its text without a byte order mark."""

    name: str
    text: str
