"""A checked menu in; its findings as a page tells them, the gravest first, out."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Finding, Severity, gravity
from buildsheets.findings.report import marked_line, summed_up, visible
from buildsheets.pipeline import Checked


@dataclass(frozen=True, slots=True)
class Told:
    """A finding, where it is, and the line there in three parts, the middle one meant.

    ``alike`` are others of its kind that it stands for.
    """

    finding: Finding
    place: str
    line: tuple[str, str, str] | None
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToldFindings:
    """All of them, and how many of each severity."""

    told: tuple[Told, ...]
    counts: tuple[tuple[Severity, int], ...]

    @property
    def first_error(self) -> str:
        """Where the first error is; "" where none is or it has no place."""
        errors = (one for one in self.told if one.finding.severity is Severity.ERROR)
        return next((one.place for one in errors if one.place), "")


def findings_told(checked: Checked) -> ToldFindings:
    """The findings by gravity, then by place; texts are safe to show."""
    ordered = sorted(checked.findings, key=gravity)
    counts = ((one, sum(f.severity is one for f in ordered)) for one in Severity)
    return ToldFindings(
        tuple(
            Told(one, _place(one), _line(one, checked), tuple(map(_short, alike)))
            for one, alike in summed_up(ordered)
        ),
        tuple((severity, count) for severity, count in counts if count),
    )


def _place(one: Finding) -> str:
    return visible(f"{one.span.file}:{one.span.line}") if one.span else ""


def _line(one: Finding, checked: Checked) -> tuple[str, str, str] | None:
    parts = marked_line(one.span, checked.sources) if one.span else None
    if parts is None:
        return None
    before, meant, after = map(visible, parts)
    return before.lstrip(), meant, after


def _short(one: Finding) -> str:
    place = _place(one)
    return f"{place}: {visible(one.message)}" if place else visible(one.message)
