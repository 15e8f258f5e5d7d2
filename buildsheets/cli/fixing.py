"""A menu's texts and findings go in; the texts with fixes written, and each change, come out.

A fix is written where its finding offers no other and speaks neither of safety nor of how much goes
into a cup: a choice, what an allergen or a time was meant to be, and what a guest gets, is left to
whoever knows the shop. Nothing else of a text is touched.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from buildsheets.findings.finding import LINE_BREAK, Finding, Source, Span
from buildsheets.findings.report import visible
from buildsheets.pipeline import check_sources
from buildsheets.rules.run import SAFETY

MOST_ROUNDS = 20
"""Fixing one slip brings others to light; a menu that needs more rounds is left as it is then."""

LEFT_TO_THE_OWNER = (*SAFETY, "FIT")
"""Codes whose fixes are offered and never written begin so; FIT ones change a recipe's amounts."""


@dataclass(frozen=True, slots=True)
class Change:
    """One fix that was written: where, what stood there, what stands there now, and for what."""

    span: Span
    before: str
    after: str
    code: str

    def __str__(self) -> str:
        if self.span.line != self.span.end_line:  # too long to be told word by word
            return f"{self.span}: lines {self.span.line} to {self.span.end_line} ({self.code})"
        return f"{self.span}: {visible(self.before)} is now {visible(self.after)} ({self.code})"


def fixed(sources: Mapping[str, Source]) -> tuple[dict[str, Source], list[Change]]:
    """The sources with every fix that leaves no choice, and what was changed."""
    now, changes = dict(sources), list[Change]()
    tried: set[tuple[str, str, Span]] = set()
    for _ in range(MOST_ROUNDS):
        fixes = []
        for finding, fix in _without_choice(check_sources(now).findings):
            known = (finding.code, finding.message, fix[0])
            if known not in tried:
                tried.add(known)
                fixes.append((fix, finding.code))
        if not fixes:
            break
        for name in {span.file for (span, _), _ in fixes}:
            mine = [(fix, code) for fix, code in fixes if fix[0].file == name]
            text, made = _written(now[name].text, mine)
            now[name] = replace(now[name], text=text)
            changes += made
    return now, changes


def _without_choice(findings: Sequence[Finding]) -> Iterator[tuple[Finding, tuple[Span, str]]]:
    """Findings whose one fix may be written, and that fix's place and text."""
    for finding in findings:
        if len(finding.fixes) == 1 and not finding.code.startswith(LEFT_TO_THE_OWNER):
            (fix,) = finding.fixes
            if fix.span is not None and fix.replacement is not None:
                yield finding, (fix.span, fix.replacement)


def _written(text: str, fixes: Sequence[tuple[tuple[Span, str], str]]) -> tuple[str, list[Change]]:
    """A text with fixes written from its end to its start; of two that overlap, the later one."""
    starts = [0, *(match.end() for match in LINE_BREAK.finditer(text))]
    changes: list[Change] = []
    free_until = len(text)
    for (span, after), code in sorted(fixes, key=lambda one: one[0][0], reverse=True):
        start = starts[span.line - 1] + span.column - 1
        end = starts[span.end_line - 1] + span.end_column - 1
        if end <= free_until:
            changes.append(Change(span, text[start:end], after, code))
            text = text[:start] + after + text[end:]
            free_until = start
    return text, changes[::-1]


def left_to_choose(findings: Sequence[Finding]) -> int:
    """How many findings have a fix that nobody but the owner can choose."""
    return sum(any(fix.replacement is not None for fix in one.fixes) for one in findings)


def diff(before: Mapping[str, Source], after: Mapping[str, Source]) -> str:
    """The changes as a unified diff."""
    lines: list[str] = []
    for name, source in before.items():
        old, new = (one.text.splitlines(keepends=True) for one in (source, after[name]))
        lines += difflib.unified_diff(old, new, name, name)
    return "".join(line if line.endswith("\n") else f"{line}\n" for line in lines)
