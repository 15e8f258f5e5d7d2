"""A text that is no YAML and the line where it breaks in; the usual slip that explains it, out.

A slip is tried, not guessed: what is offered makes the text readable beyond the line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import yaml

from buildsheets.findings.finding import Fix, Span

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|\Z)")
_KEY = r"[ ]*(?:- )?(?P<key>[a-z][a-z0-9_-]*):"
_TEXT_KEY = r"[ ]*(?:- )?(?P<key>name|reason|density_source|en|es|fr|de):"  # for people to read
_SLIPS = (
    (
        re.compile(_KEY + r"(?P<value>[^\s:].*)"),
        "a space is missing behind the colon",
        "{key}: {value}",
    ),
    (
        re.compile(_KEY + r""" (?P<value>(?P<quote>["'])[^"']*)"""),
        "a quotation mark is opened and never closed",
        "{value}{quote}",
    ),
    (
        re.compile(_TEXT_KEY + r""" (?P<value>[^\s"'\[{&*!|>#][^"#]*:(?: [^"#]*)?)"""),
        "a text with a colon in it stands without quotation marks",
        '"{value}"',
    ),
)
"""A line, what is wrong with it, and how what stands from its first named part on is meant."""


def slip(text: str, file: str, line: int, begun: int, loader: Any) -> tuple[str, Fix] | None:
    """What is wrong in a text that breaks at ``line``, in what began at line ``begun``, and what to
    write; None where none of the usual slips explains it."""
    lines = _LINE.findall(text)
    above = next((n for n in range(line - 1, 0, -1) if lines[n - 1].strip()), line)
    for number in dict.fromkeys((line, above, begun)):
        old = lines[number - 1].rstrip()
        for message, start, new in _mended(old):
            tried = [*lines[: number - 1], new + lines[number - 1][len(old) :], *lines[number:]]
            if _breaks_at("".join(tried), loader) > line:
                span = Span(file, number, start + 1, number, len(old) + 1)
                return message, Fix(f"write {new[start:]}", span, new[start:])
    return None


def _mended(line: str) -> Iterator[tuple[str, int, str]]:
    """(what is wrong, from which character on, the line as it was meant)."""
    for pattern, message, written in _SLIPS:
        if found := pattern.fullmatch(line):
            start = found.start(written.partition("}")[0].strip('{"'))
            yield message, start, line[:start] + written.format(**found.groupdict())


def without_tabs(text: str, file: str, loader: Any) -> Fix | None:
    """All indentation by tabs as spaces, as deep as the lines around, if the text is read so."""
    lines = _LINE.findall(text)
    depth_of: dict[str, int] = {}
    new, above, depth, tabbed = list[str](), "", 0, list[int]()
    for number, line in enumerate(lines, 1):
        indent = line[: len(line) - len(line.lstrip(" \t"))]
        if not line.strip():
            new.append(line)
            continue
        if "\t" in indent:
            deeper = depth + 2 if above.endswith(":") else depth
            depth = depth_of.setdefault(indent, deeper)
            tabbed.append(number)
            line = " " * depth + line[len(indent) :]
        else:
            depth = len(indent)
        new.append(line)
        above = line.split(" #")[0].rstrip()
    if not tabbed or _breaks_at("".join(new), loader) <= tabbed[-1]:
        return None
    first, last = tabbed[0], tabbed[-1]
    rest = lines[last - 1].lstrip(" \t")
    end = len(lines[last - 1]) - len(rest)
    span = Span(file, first, 1, last, end + 1)
    written = "".join(new[first - 1 : last]).removesuffix(rest)
    return Fix("indent with spaces", span, written)


def _breaks_at(text: str, loader: Any) -> int:
    """The line at which a text cannot be read on; beyond its end where it can."""
    try:
        for _ in yaml.parse(text, Loader=loader):
            pass
    except yaml.MarkedYAMLError as error:
        mark: Any = error.problem_mark or error.context_mark
        return int(mark.line) + 1
    except (yaml.YAMLError, ValueError, OverflowError):
        return 0
    return text.count("\n") + text.count("\r") + 2
