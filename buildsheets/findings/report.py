"""Findings for a reader: findings and the menu's sources go in, the text of a report comes out."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Any, Literal, TextIO

from buildsheets import __version__
from buildsheets.findings.finding import (
    LINE_BREAK,
    Finding,
    Severity,
    Source,
    Span,
    SumLine,
    gravity,
    sort_key,
)
from buildsheets.findings.spelling import count_of

Form = Literal["full", "short", "sarif", "github"]

TAB_WIDTH = 4
MOST_IN_FULL = 3
"""More findings of one kind than that are summed up."""

MOST_TOLD = 5_000
"""Of more, the gravest: nobody reads on, and a file of slips must not fill a disk."""

LONGEST_LINE = 120
KEPT_BEFORE_FAULT = 40

TOTAL = "total"
"""The part of a sum line that is the total; a rule is drawn above it."""

# Marks that turn the direction of text round (Unicode, UAX #9): they could make a terminal show
# another text than the file holds.
_TURNING = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067")
_ISOLATES = str.maketrans(dict.fromkeys("\u2068\u2069"))  # set by ``Words``; refused in menus

_ANSI = {Severity.ERROR: "\x1b[1;31m", Severity.WARNING: "\x1b[1;33m", Severity.NOTE: "\x1b[1;36m"}
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
    * ``github``: one workflow command each, which a GitHub run shows beside the line.
    * ``sarif``: SARIF 2.1.0 (OASIS standard), columns counted in characters.

    ``colour`` only touches ``full``; see :func:`wants_colour`.
    """
    every = list(findings)
    told = gravest(every)
    untold = len(every) - len(told)
    more = f"{count_of(untold, 'more finding')} {'is' if untold == 1 else 'are'} not shown"
    if form == "full":
        blocks = [_block(one, sources, colour, alike) for one, alike in summed_up(told)]
        blocks += [more] if untold else []
        return "\n\n".join([*blocks, count_line(every)]) + "\n"
    if form in ("short", "github"):
        lines = [*map(_short if form == "short" else _github, told), *([more] if untold else [])]
        return "".join(f"{line}\n" for line in lines)
    import json  # a report for people is quicker without it

    return json.dumps(_sarif(told), indent=2) + "\n"


def gravest(findings: Iterable[Finding]) -> list[Finding]:
    """The findings that are told, in order: all, unless they are more than anybody reads."""
    ordered = sorted(findings, key=sort_key)
    return sorted(sorted(ordered, key=gravity)[:MOST_TOLD], key=sort_key)


def wants_colour(stream: TextIO, environment: Mapping[str, str]) -> bool:
    """Whether to colour: on a terminal, or where FORCE_COLOR is set to anything; never where
    NO_COLOR is."""
    if environment.get("NO_COLOR"):
        return False
    return bool(environment.get("FORCE_COLOR")) or stream.isatty()


def count_line(findings: Iterable[Finding]) -> str:
    """How many findings of each severity, in words: ``2 errors, 1 warning``."""
    counts = Counter(finding.severity for finding in findings)
    words = (count_of(counts[severity], severity) for severity in Severity if counts[severity])
    return ", ".join(words) or "no findings"


def visible(text: str) -> str:
    """Text that is safe on a terminal: characters that act unseen are spelt out (``<U+001B>``),
    those that keep a card's words together are left out."""
    plain = text.translate(_ISOLATES)
    return "".join(f"<U+{ord(char):04X}>" if _acts(char) else char for char in plain)


def _acts(char: str) -> bool:
    category = unicodedata.category(char)
    return category in ("Cc", "Cs", "Zl", "Zp") or char == "\ufeff" or char in _TURNING


def width(text: str) -> int:
    """Columns a visible text takes on a terminal: wide characters two, combining marks none."""
    if max(text, default="") < "\u0300":  # Latin letters: one column each
        return len(text)
    from wcwidth import wcswidth  # few reports need it

    return max(0, wcswidth(text))


def _short(finding: Finding) -> str:
    place = f"{visible(str(finding.span))}: " if finding.span else ""
    message = visible(_one_line(finding.message))
    return f"{place}{finding.severity} {finding.code} {finding.name}: {message}"


def _github(finding: Finding) -> str:
    """A workflow command of GitHub Actions ("Workflow commands", docs.github.com): values are
    escaped as its toolkit reads them."""
    level = "notice" if finding.severity is Severity.NOTE else str(finding.severity)
    said = {"title": f"{finding.code} {finding.name}"}
    if span := finding.span:
        place = {"file": span.file, "line": span.line, "col": span.column}
        place |= {"endLine": span.end_line, "endColumn": span.end_column}
        said = {**{name: str(value) for name, value in place.items()}, **said}
    text = f"{finding.message}. {finding.hint}" if finding.hint else finding.message
    properties = ",".join(f"{name}={_escaped(value, ':,')}" for name, value in said.items())
    return f"::{level} {properties}::{_escaped(text)}"


def _escaped(text: str, more: str = "") -> str:
    return "".join(f"%{ord(one):02X}" if one in f"%\r\n{more}" else one for one in text)


def _one_line(text: str) -> str:
    return " ".join(LINE_BREAK.split(text))


def summed_up(ordered: Sequence[Finding]) -> list[tuple[Finding, list[Finding]]]:
    """The findings, each with those it stands for: of many of one kind, without figures or fixes of
    their own, the first stands for all."""
    kinds: dict[tuple[object, ...], list[Finding]] = {}
    for number, one in enumerate(ordered):
        own = (number,) if one.sums or one.fixes else ()
        kinds.setdefault((one.code, one.severity, *own), []).append(one)
    many = {id(group[0]): group[1:] for group in kinds.values() if len(group) > MOST_IN_FULL}
    told = {id(one) for group in many.values() for one in group}
    return [(one, many.get(id(one), [])) for one in ordered if id(one) not in told]


def _block(
    finding: Finding, sources: Mapping[str, Source], colour: bool, alike: Sequence[Finding] = ()
) -> str:
    """The full form of one finding, and where there are more of its kind."""
    head = f"{finding.severity} {finding.code} {finding.name}"
    if colour:
        head = f"{_ANSI[finding.severity]}{head}{_ANSI_END}"
    out = [f"{head}: {visible(_one_line(finding.message))}"]
    if finding.subject:
        out.append(f"  for {visible(', '.join(finding.subject))}")
    if finding.span:
        out += _quote(finding.span, sources, "^")
    for label in finding.labels:
        out += _quote(label.span, sources, "-", label.text)
    if finding.sums:
        out += _table(finding.sums)
    out += [f"  fix: {visible(_one_line(fix.text))}" for fix in finding.fixes]
    if finding.hint:
        out.append(f"  hint: {visible(_one_line(finding.hint))}")
    if alike:
        out.append(f"  and {len(alike)} more of this kind:")
    for one in alike:
        place = f"{visible(str(one.span))}: " if one.span else ""
        out.append(f"    {place}{visible(_one_line(one.message))}")
    return "\n".join(out)


def _quote(span: Span, sources: Mapping[str, Source], mark: str, text: str = "") -> list[str]:
    """The place, and the line of the file there with the stretch underlined."""
    place = f"  {visible(str(span))}" + (f": {visible(_one_line(text))}" if text else "")
    parts = marked_line(span, sources)
    if parts is None:
        return [place]
    before, marked, after = parts
    left = _drawn(before, 0)
    middle = _drawn(marked, width(left))
    right = _drawn(after, width(left) + width(middle))
    gutter = " " * len(str(span.line))
    underline = " " * width(left) + mark * max(1, width(middle))
    more = f" (to line {span.end_line})" if span.end_line > span.line else ""
    return [
        place,
        f"    {span.line} | {left}{middle}{right}".rstrip(),
        f"    {gutter} | {underline}{more}",
    ]


def marked_line(span: Span, sources: Mapping[str, Source]) -> tuple[str, str, str] | None:
    """The line of the file at a place in three parts, the stretch that is meant in the middle."""
    lines = _lines(sources[span.file].text) if span.file in sources else []
    if span.line > len(lines):
        return None
    line = lines[span.line - 1]
    start = min(span.column - 1, len(line))
    several = span.end_line > span.line
    end = len(line.rstrip()) if several else min(span.end_column - 1, len(line))
    return _clipped(line, start, max(end, start))


@cache
def _lines(text: str) -> list[str]:
    return LINE_BREAK.split(text)


def _clipped(line: str, start: int, end: int) -> tuple[str, str, str]:
    """A line in three parts around a stretch; long ones are cut on both sides."""
    if len(line) <= LONGEST_LINE:
        return line[:start], line[start:end], line[end:]
    first = max(0, start - KEPT_BEFORE_FAULT)
    last = min(len(line), first + LONGEST_LINE)
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
    from tabulate import tabulate

    rows = [("part", "written", "takes up", "because")]
    rows += [(s.part, s.written, s.takes_up, s.because) for s in sums]
    cells = [[visible(_one_line(cell)) for cell in row] for row in rows]
    flush = ("left", "right", "right", "left")
    drawn = tabulate(cells, tablefmt="plain", colalign=flush, disable_numparse=True)
    lines = [f"    {line.rstrip()}" for line in drawn.splitlines()]
    rule = "    " + "-" * (lines[0].index("because") - 6)  # up to two spaces before that column
    for number, one in reversed(list(enumerate(sums, 1))):
        if one.part == TOTAL:
            lines.insert(number, rule)
    return lines


_SARIF_SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)


def _sarif(findings: Sequence[Finding]) -> dict[str, Any]:
    rules = {finding.code: finding for finding in findings}
    codes = sorted(rules)
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
            for code in codes
        ],
    }
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "results": [_sarif_result(finding, codes.index(finding.code)) for finding in findings],
    }
    return {"$schema": _SARIF_SCHEMA, "version": "2.1.0", "runs": [run]}


def _sarif_result(finding: Finding, rule_index: int) -> dict[str, Any]:
    text = f"{finding.message}. {finding.hint}" if finding.hint else finding.message
    result: dict[str, Any] = {
        "ruleId": finding.code,
        "ruleIndex": rule_index,
        "level": str(finding.severity),
        "message": {"text": text},
        "locations": [_sarif_location(finding.span)] if finding.span else [],
        "relatedLocations": [
            {"id": number, **_sarif_location(label.span), "message": {"text": label.text}}
            for number, label in enumerate(finding.labels)
        ],
        "fixes": [
            {
                "description": {"text": fix.text},
                "artifactChanges": [_sarif_change(fix.span, fix.replacement)],
            }
            for fix in finding.fixes
            if fix.span is not None and fix.replacement is not None
        ],
    }
    return {name: value for name, value in result.items() if value != []}


def _sarif_change(span: Span, replacement: str) -> dict[str, Any]:
    inserted = {"deletedRegion": _region(span), "insertedContent": {"text": replacement}}
    return {"artifactLocation": {"uri": _uri(span.file)}, "replacements": [inserted]}


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
    from urllib.parse import quote

    path = quote(file.encode("utf-8", "surrogateescape"), safe="/")
    return f"file://{path}" if file.startswith("/") else path
