"""YAML's own complaints in plain words: a parser's error goes in, a finding comes out."""

from __future__ import annotations

import re
from typing import Any

import yaml

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Label, Span

# Pattern over PyYAML's "problem; context" (its C and Python parsers word some differently), what
# is wrong, what to do. The first that matches is taken.
_PLAIN_WORDS = [
    (
        r"mapping values are not allowed",
        "a colon starts a value here, where no value can stand",
        'Quote a text that holds ": ", and check the indentation of this line.',
    ),
    (
        r"(end of stream|document (indicator|separator)).*quoted scalar",
        "a quotation mark is opened and never closed",
        "Close the quotation mark, or quote a text that starts with one.",
    ),
    (
        r"directive|incompatible YAML",
        "a line that starts with % says how to read the file; a menu has none",
        "Delete the line.",
    ),
    (
        r"escape",
        "a backslash stands in double quotes before something that cannot follow it",
        "Write two backslashes, or use single quotes.",
    ),
    (
        r"node content.*flow node",
        "a bracket is opened and never closed, or a comma has nothing behind it",
        "Close it, and write lists as [one, two] and mappings as {key: value}.",
    ),
    (
        r"could not find expected ':'",
        "a key without a colon",
        "Write `key: value`, with a space after the colon.",
    ),
    (
        r"(',' or '[\\]]'|flow sequence)",
        "a list in square brackets is not closed, or lacks a comma",
        "Write the list as [one, two].",
    ),
    (
        r"(',' or '[}]'|flow mapping)",
        "a mapping in curly brackets is not closed, or lacks a comma",
        "Write it as {key: value, key: value}, or quote a text that starts with a bracket.",
    ),
    (
        r"block sequence entries are not allowed|sequence entries are not allowed",
        "a list item (-) stands where none can stand",
        "Put the list on lines of its own below its key.",
    ),
    (
        r"cannot start any token|node content.*block node|scanning a (block scalar|tag)",
        "a text cannot start with this character",
        "Put the text in quotation marks.",
    ),
    (
        r"(anchor|alias)",
        "a text that starts with & or * is taken for an anchor or alias",
        "Put the text in quotation marks.",
    ),
    (
        r"block (mapping|collection|sequence)|<block end>|document start",
        "the indentation of this line fits no line above it",
        "Indent it like the other lines of the same list or mapping.",
    ),
]


# The parser notices these only further down; the place to fix is where they start.
_SEEN_AT_ITS_START = {"a quotation mark is opened and never closed", "a key without a colon"}


def syntax_fault(file: str, lines: list[str], error: yaml.MarkedYAMLError) -> Finding:
    """The finding for an error of PyYAML's parser; ``lines`` are the file's."""
    mark: Any = error.problem_mark or error.context_mark
    context: Any = error.context_mark
    problem = " ".join(f"{error.problem or ''}; {error.context or ''}".split())
    span = _point(file, lines, mark)
    line = lines[span.line - 1]
    if "cannot start any token" in problem and line[span.column - 1 : span.column] == "\t":
        others = sum(1 for text in lines if re.match(r" *\t", text)) - 1
        more = f"; lines with one: {others + 1}" if others > 0 else ""
        return finding(
            "TXT09",
            span,
            f"a tab stands where spaces are wanted{more}",
            hint="Indent with spaces; most editors can turn all tabs of a file into spaces.",
        )
    for pattern, message, hint in _PLAIN_WORDS:
        if re.search(pattern, problem):
            if context and message in _SEEN_AT_ITS_START:
                return finding("TXT08", _point(file, lines, context), message, hint=hint)
            break
    else:
        message, hint = f"this is not YAML: {problem.strip('; ')}", ""
    labels: tuple[Label, ...] = ()
    if context and (context.line, context.column) != (mark.line, mark.column):
        labels = (Label(_point(file, lines, context), "in what starts here"),)
    return finding("TXT08", span, message, labels=labels, hint=hint)


def _point(file: str, lines: list[str], mark: Any) -> Span:
    """A mark as the one character it points at; after the last line, the end of that line."""
    line, column = mark.line, mark.column
    if line >= len(lines):
        line, column = len(lines) - 1, len(lines[-1])
    while line > 0 and column == 0 and not lines[line].strip():
        line -= 1
        column = len(lines[line])
    return Span(file, line + 1, column + 1, line + 1, column + 2)
