"""Findings for a reader: findings and the menu's sources go in, the text of a report comes out."""

from __future__ import annotations

import json
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal, TextIO
from urllib.parse import quote

from buildsheets import __version__
from buildsheets.findings.finding import Finding, Severity, Source, Span, SumLine, sort_key

Form = Literal["full", "short", "json", "sarif"]

TAB_WIDTH = 4
LONGEST_LINE_SHOWN = 120
SHOWN_BEFORE_FAULT = 40

TOTAL = "total"
"""The part of a sum line that is the total; a rule is drawn above it."""

_LINE_BREAK = re.compile("\r\n|\r|\n")

# Marks that turn the direction of text round (Unicode, UAX #9): they could make a terminal show
# another text than the file holds.
_TURNING = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

_ANSI = {
    Severity.ERROR: "\x1b[1;31m",
    Severity.WARNING: "\x1b[1;33m",
    Severity.NOTE: "\x1b[1;36m",
}
_ANSI_END = "\x1b[0m"


def render(
    findings: Iterable[Finding],
    sources: Mapping[str, Source],
    form: Form = "full",
    *,
    colour: bool = False,
) -> str:
    """The report of findings, ordered by place; ends with a line break unless it is empty.

    * ``full``: for reading, with the lines of the file, sums and fixes, and a closing count.
    * ``short``: one line each, ``file:line:column: severity CODE name: message``.
    * ``json``: ``{"version": 1, "counts": {...}, "findings": [...]}``, fields as in
      :class:`~buildsheets.findings.finding.Finding`.
    * ``sarif``: SARIF 2.1.0 (OASIS standard), columns counted in characters.

    ``colour`` only touches ``full``; see :func:`wants_colour`.
    """
    ordered = sorted(findings, key=sort_key)
    if form == "full":
        return _Full(sources, colour).report(ordered)
    if form == "short":
        return "".join(f"{_short(finding)}\n" for finding in ordered)
    data = _json(ordered) if form == "json" else _sarif(ordered)
    return json.dumps(data, indent=2) + "\n"


def wants_colour(stream: TextIO, environment: Mapping[str, str]) -> bool:
    """Whether to colour: only on a terminal, and not when NO_COLOR is set to anything."""
    return stream.isatty() and not environment.get("NO_COLOR")


def count_line(findings: Iterable[Finding]) -> str:
    """How many findings of each severity, in words: ``2 errors, 1 warning``."""
    counts = Counter(finding.severity for finding in findings)
    words = [
        f"{counts[severity]} {severity}{'' if counts[severity] == 1 else 's'}"
        for severity in Severity
        if counts[severity]
    ]
    return ", ".join(words) or "no findings"


def visible(text: str) -> str:
    """Text that is safe on a terminal: characters that act unseen are spelt out (``<U+001B>``)."""
    return "".join(f"<U+{ord(char):04X}>" if _acts(char) else char for char in text)


def _acts(char: str) -> bool:
    category = unicodedata.category(char)
    return category in ("Cc", "Cs", "Zl", "Zp") or char == "\ufeff" or char in _TURNING


def width(text: str) -> int:
    """Columns a text takes on a terminal (UAX #11): wide characters two, combining marks none."""
    columns = 0
    for char in text:
        if unicodedata.category(char) in ("Mn", "Me", "Cf"):
            continue
        columns += 2 if unicodedata.east_asian_width(char) in "WF" else 1
    return columns


def _short(finding: Finding) -> str:
    place = f"{visible(str(finding.span))}: " if finding.span else ""
    message = visible(_one_line(finding.message))
    return f"{place}{finding.severity} {finding.code} {finding.name}: {message}"


def _one_line(text: str) -> str:
    return " ".join(_LINE_BREAK.split(text))


@dataclass(slots=True)
class _Full:
    """Writes the full form; splits each source into lines once."""

    sources: Mapping[str, Source]
    colour: bool
    lines: dict[str, list[str]] = field(default_factory=dict)

    def report(self, findings: Sequence[Finding]) -> str:
        blocks = ["\n".join(self.block(finding)) for finding in findings]
        return "\n\n".join([*blocks, count_line(findings)]) + "\n"

    def block(self, finding: Finding) -> list[str]:
        head = f"{finding.severity} {finding.code} {finding.name}"
        if self.colour:
            head = f"{_ANSI[finding.severity]}{head}{_ANSI_END}"
        out = [f"{head}: {visible(_one_line(finding.message))}"]
        if finding.subject:
            out.append(f"  for {visible(', '.join(finding.subject))}")
        if finding.span:
            out += self.quote(finding.span, "^")
        for label in finding.labels:
            out += self.quote(label.span, "-", label.text)
        if finding.sums:
            out += _table(finding.sums)
        out += [f"  fix: {visible(_one_line(fix.text))}" for fix in finding.fixes]
        if finding.hint:
            out.append(f"  hint: {visible(_one_line(finding.hint))}")
        return out

    def quote(self, span: Span, mark: str, text: str = "") -> list[str]:
        """The place, and the line of the file there with the stretch underlined."""
        place = f"  {visible(str(span))}"
        said = f": {visible(_one_line(text))}" if text else ""
        line = self.line(span)
        if line is None:
            return [place + said]
        several = span.end_line > span.line
        start = min(span.column - 1, len(line))
        end = len(line.rstrip()) if several else min(span.end_column - 1, len(line))
        before, marked, after = _clipped(line, start, max(end, start))
        left = _drawn(before, 0)
        middle = _drawn(marked, width(left))
        right = _drawn(after, width(left) + width(middle))
        number = str(span.line)
        gutter = " " * len(number)
        underline = " " * width(left) + mark * max(1, width(middle))
        more = f" (to line {span.end_line})" if several else ""
        return [
            place + said,
            f"    {number} | {left}{middle}{right}".rstrip(),
            f"    {gutter} | {underline}{more}",
        ]

    def line(self, span: Span) -> str | None:
        source = self.sources.get(span.file)
        if source is None:
            return None
        if span.file not in self.lines:
            self.lines[span.file] = _LINE_BREAK.split(source.text)
        lines = self.lines[span.file]
        return lines[span.line - 1] if span.line <= len(lines) else None


def _clipped(line: str, start: int, end: int) -> tuple[str, str, str]:
    """A line in three parts around a stretch; long ones are cut on both sides."""
    if len(line) <= LONGEST_LINE_SHOWN:
        return line[:start], line[start:end], line[end:]
    first = max(0, start - SHOWN_BEFORE_FAULT)
    last = min(len(line), first + LONGEST_LINE_SHOWN)
    end = min(end, last)
    before = ("…" if first else "") + line[first:start]
    return before, line[start:end], line[end:last] + ("…" if last < len(line) else "")


def _drawn(text: str, column: int) -> str:
    """Text as it is printed from a column on: tabs become spaces, unseen characters are spelt."""
    out = ""
    for char in text:
        at = column + width(out)
        out += " " * (TAB_WIDTH - at % TAB_WIDTH) if char == "\t" else visible(char)
    return out


def _table(sums: Sequence[SumLine]) -> list[str]:
    """The shown sum, amounts flush right; the check gives the total as its own line."""
    heads = ("part", "written", "takes up", "because")
    rows = [
        tuple(visible(_one_line(cell)) for cell in (s.part, s.written, s.takes_up, s.because))
        for s in sums
    ]
    widths = [max(width(row[i]) for row in [heads, *rows]) for i in range(4)]

    def line(row: Sequence[str]) -> str:
        cells = [" " * (widths[i] - width(cell)) for i, cell in enumerate(row)]
        text = f"    {row[0]}{cells[0]}  {cells[1]}{row[1]}  {cells[2]}{row[2]}  {row[3]}"
        return text.rstrip()

    out = [line(heads)]
    for row, sum_line in zip(rows, sums, strict=True):
        if sum_line.part == TOTAL:
            out.append("    " + "-" * (sum(widths[:3]) + 4))
        out.append(line(row))
    return out


def _json(findings: Sequence[Finding]) -> dict[str, Any]:
    counts = Counter(finding.severity for finding in findings)
    return {
        "version": 1,
        "counts": {str(severity): counts[severity] for severity in Severity},
        "findings": [asdict(finding) for finding in findings],
    }


_SARIF_SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)


def _sarif(findings: Sequence[Finding]) -> dict[str, Any]:
    rules = {finding.code: finding for finding in findings}
    index = {code: number for number, code in enumerate(sorted(rules))}
    driver = {
        "name": "buildsheets",
        "version": __version__,
        "rules": [
            {
                "id": code,
                "name": rules[code].name,
                "shortDescription": {"text": rules[code].name.replace("-", " ")},
                "defaultConfiguration": {"level": str(rules[code].severity)},
            }
            for code in index
        ],
    }
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "results": [_sarif_result(finding, index[finding.code]) for finding in findings],
    }
    return {"$schema": _SARIF_SCHEMA, "version": "2.1.0", "runs": [run]}


def _sarif_result(finding: Finding, rule_index: int) -> dict[str, Any]:
    text = f"{finding.message}. {finding.hint}" if finding.hint else finding.message
    result: dict[str, Any] = {
        "ruleId": finding.code,
        "ruleIndex": rule_index,
        "level": str(finding.severity),
        "message": {"text": text},
    }
    if finding.span:
        result["locations"] = [_sarif_location(finding.span)]
    if finding.labels:
        result["relatedLocations"] = [
            {"id": number, **_sarif_location(label.span), "message": {"text": label.text}}
            for number, label in enumerate(finding.labels)
        ]
    fixes = [
        {
            "description": {"text": fix.text},
            "artifactChanges": [
                {
                    "artifactLocation": {"uri": _uri(fix.span.file)},
                    "replacements": [
                        {
                            "deletedRegion": _region(fix.span),
                            "insertedContent": {"text": fix.replacement},
                        }
                    ],
                }
            ],
        }
        for fix in finding.fixes
        if fix.span is not None and fix.replacement is not None
    ]
    if fixes:
        result["fixes"] = fixes
    return result


def _sarif_location(span: Span) -> dict[str, Any]:
    place = {"artifactLocation": {"uri": _uri(span.file)}, "region": _region(span)}
    return {"physicalLocation": place}


def _region(span: Span) -> dict[str, int]:
    return {
        "startLine": span.line,
        "startColumn": span.column,
        "endLine": span.end_line,
        "endColumn": span.end_column,
    }


def _uri(file: str) -> str:
    """A file name as a URI reference (RFC 3986), percent-encoded as UTF-8."""
    path = quote(file.encode("utf-8", "surrogateescape"), safe="/")
    return f"file://{path}" if file.startswith("/") else path
