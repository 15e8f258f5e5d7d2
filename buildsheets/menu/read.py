"""Menu texts to nodes: sources go in, one mapping of all their sections and findings come out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import LINE_BREAK, Finding, Fix, Label, Source, Span
from buildsheets.menu import yaml_slips
from buildsheets.menu.files import BEGIN
from buildsheets.menu.nodes import Mapping, Node, Pair, Scalar, Sequence
from buildsheets.menu.values import without_comma

SYNTAX = Path(__file__).with_name("syntax.yaml")
MAX_DEPTH = 20
MAX_CHARACTERS_REPORTED = 5

# libyaml when PyYAML was built with it, else the same parser in Python; tests compare the two.
LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# What YAML 1.1 does not count as printable (section 5.1), and the line breaks and the invisible
# mark it would accept but that editors do not show: U+0085, U+2028, U+2029, U+FEFF. Nor what turns
# the direction of all text after it (UAX #9: embeddings, overrides, isolates), which would make a
# card read another way than the file.
_UNSEEN = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffd"
    "\U00010000-\U0010ffff]"
)

_NULLS = {"", "~", "null", "Null", "NULL"}

_WORD = re.compile(r"\S+")

# Blanks behind a text and lines of blanks: PyYAML's parsers differ over tabs there, and no card
# has tabs, so they count as spaces. A tab before a text is left for the parser to refuse.
_HARMLESS_TABS = re.compile(r"(?<=\S)[ \t]+|(?<![^\r\n])[ \t]+(?=[\r\n]|\Z)")

_WRITE_OUT = "Write the entries out where they are wanted: a menu is read by people."
_START_HINT = "Write sections such as `shop:` and `drinks:`, each with its entries below."


def read(sources: dict[str, Source]) -> tuple[Mapping | None, list[Finding]]:
    """Read all files of a menu into one mapping of sections.

    A section in two files has the entries of both. None where no file could be read to any
    section. The mapping is ``broken`` when some file could not be read: fit to be decoded for
    more findings, but names that it lacks may stand in that file. Never raises for what is in a
    text.
    """
    findings: list[Finding] = []
    roots: list[Mapping] = []
    empty: list[Source] = []
    for source in sources.values():
        root = _read_source(source, findings)
        if isinstance(root, Mapping):
            roots.append(root)
        elif isinstance(root, Scalar) and root.absent:
            empty.append(source)
    if sources and len(empty) == len(sources):
        findings.append(
            finding("TXT18", _start(empty[0]), f"the menu is empty; {BEGIN}", hint=_START_HINT)
        )
    else:
        findings.extend(finding("TXT07", _start(s), f"{s.name} has no entries") for s in empty)
    if not roots:
        return None, findings
    root = _merged(roots, findings)
    unread = len(roots) + len(empty) < len(sources)
    return replace(root, broken=root.broken or unread), findings


def _read_source(source: Source, findings: list[Finding]) -> Node | None:
    """The root of one file: absent for an empty file, None when it could not be read."""
    lines = LINE_BREAK.split(source.text)
    text = _cleaned(source, lines, findings)
    try:
        root = _Builder(source, lines, yaml.parse(text, Loader=LOADER), findings).document()
    except yaml.MarkedYAMLError as error:
        findings.append(_syntax_fault(source, lines, error))
        return None
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        # PyYAML's own slips, such as an escape beyond Unicode in its parser written in Python
        findings.append(finding("TXT08", _start(source), f"this is not YAML: {error}"))
        return None
    except _TooDeep as error:
        message = f"the nesting is deeper than the {MAX_DEPTH} levels that are read"
        findings.append(finding("TXT17", error.span, message))
        return None
    if isinstance(root, Mapping) or (isinstance(root, Scalar) and root.absent):
        return root
    found = "a list" if isinstance(root, Sequence) else "a text"
    message = f"{source.name} is {found}; sections are wanted"
    findings.append(finding("TXT10", root.span, message, hint=_START_HINT))
    return None


class _TooDeep(Exception):
    def __init__(self, span: Span) -> None:
        self.span = span


@dataclass(slots=True)
class _Builder:
    """Builds the nodes of one file from the parser's events."""

    source: Source
    lines: list[str]
    events: Iterator[Any]
    findings: list[Finding]

    def document(self) -> Node:
        """The file's one document; further ones are read for their findings only."""
        root: Node | None = None
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents == 2:
                    message = "a second document starts here; a file is one document"
                    hint = "Leave out the `---`, or put what follows into a file of its own."
                    self.report("TXT15", self.span(event.start_mark, event.end_mark), message, hint)
            elif isinstance(event, yaml.NodeEvent):
                node = self.node(event, 1)
                root = root or node
        return root or Scalar("", False, _start(self.source))

    def node(self, event: Any, depth: int) -> Node:
        span = self.span(event.start_mark, event.end_mark)
        if depth > MAX_DEPTH:
            raise _TooDeep(span)
        if isinstance(event, yaml.AliasEvent):
            message = f"the alias *{event.anchor} stands for a text written elsewhere"
            hint = "Write the text out here; quote a text that starts with a *."
            self.report("TXT12", span, message, hint)
            return Scalar("", False, span, broken=True)
        self.properties(event)
        if isinstance(event, yaml.ScalarEvent):
            return self.scalar(event, span)
        if isinstance(event, yaml.SequenceStartEvent):
            items = []
            while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
                items.append(self.node(event, depth + 1))
            return Sequence(tuple(items), self.until(span, event, items))
        return self.mapping(span, depth)

    def scalar(self, event: Any, span: Span) -> Scalar:
        quoted = bool(event.style)
        text: str = event.value
        if not quoted and text in _NULLS:
            text = ""
        if match := _UNSEEN.search(text):
            self.report("TXT06", span, f"the text holds the control character {_name(match[0])}")
            text = _UNSEEN.sub("�", text)
        return Scalar(text, quoted, span)

    def mapping(self, start: Span, depth: int) -> Mapping:
        entries: dict[str, Pair] = {}
        broken = False
        last: list[Node] = []
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self.node(event, depth + 1)
            value = self.node(next(self.events), depth + 1)
            if entries and (whole := self.comma(last[0], key, value)):
                name, pair = entries.popitem()
                entries[name] = Pair(pair.key, whole)
                last = [whole]
                continue
            key, value = self.spaced(key, value)
            last = [value]
            if not isinstance(key, Scalar) or key.absent:
                broken = True
                if not (isinstance(key, Scalar) and key.broken):
                    self.report("TXT16", key.span, "the key of this entry is not a text")
            elif key.text == "<<" and not key.quoted:
                broken = True
                if not (isinstance(value, Scalar) and value.broken):
                    self.report("TXT14", key.span, "the merge key << copies entries", _WRITE_OUT)
            elif key.text in entries:
                self.findings.append(_duplicate(key, entries[key.text].key))
            else:
                entries[key.text] = Pair(key, value)
        return Mapping(tuple(entries.values()), self.until(start, event, last), broken)

    def comma(self, before: Node, key: Node, value: Node) -> Scalar | None:
        """Report a number that its comma has cut in two, as in {small: 4,50}; a stand-in for it."""
        if not (
            isinstance(before, Scalar) and isinstance(key, Scalar) and isinstance(value, Scalar)
        ):
            return None
        start, end = before.span, key.span
        touching = (start.end_line, start.end_column + 1) == (end.line, end.column)
        if before.quoted or key.quoted or not value.absent or not touching:
            return None
        text = f"{before.text},{key.text}"
        span = replace(start, end_line=end.end_line, end_column=end.end_column)
        fixes = without_comma(text, span)
        if not fixes:
            return None
        hint = "In curly brackets a comma begins the next entry. Write decimals with a point."
        message = f"“{text}” has a comma in its number"
        self.findings.append(finding("VAL03", span, message, hint, fixes=fixes))
        return Scalar("", False, span, broken=True)

    def spaced(self, key: Node, value: Node) -> tuple[Node, Node]:
        """Report a colon without a space behind it, as in {do:stir}; the two that were meant."""
        if not (isinstance(key, Scalar) and isinstance(value, Scalar) and value.absent):
            return key, value
        found = None if key.quoted else re.fullmatch(r"([a-z_]+):(\S.*)", key.text)
        if found is None:
            return key, value
        text = f"{found[1]}: {found[2]}"
        message, fix = "a space is missing behind the colon", Fix(f"write {text}", key.span, text)
        self.findings.append(finding("TXT08", key.span, message, fixes=(fix,)))
        return replace(key, text=found[1]), Scalar(found[2], False, key.span)

    def properties(self, event: Any) -> None:
        """Report the anchor and the tag of a node."""
        if not event.anchor and not event.tag:
            return
        line, column = event.start_mark.line, event.start_mark.column
        for word in _WORD.finditer(self.lines[line], column):
            start, end = word.start() + 1, word.end() + 1
            span = Span(self.source.name, line + 1, start, line + 1, end)
            if event.anchor and word[0] == f"&{event.anchor}":
                self.report("TXT12", span, f"the anchor {word[0]} names a text", _WRITE_OUT)
            elif event.tag and word[0].startswith("!"):
                message = f"the tag {word[0]} says how to read a value"
                self.report("TXT13", span, message, "Leave it out, or quote the text.")
            else:
                break

    def until(self, start: Span, end_event: Any, items: list[Node]) -> Span:
        """A collection's span: in block style up to its last item, not up to what follows."""
        end = self.span(end_event.start_mark, end_event.end_mark)
        if end_event.end_mark.index == end_event.start_mark.index and items:
            end = items[-1].span
        return replace(start, end_line=end.end_line, end_column=end.end_column)

    def span(self, start: Any, end: Any) -> Span:
        line, column = self.place(start)
        end_line, end_column = self.place(end)
        while end_column == 0 and end_line > line:  # a block text ends where the next line starts
            end_line -= 1
            end_column = len(self.lines[end_line].rstrip())
        return Span(self.source.name, line + 1, column + 1, end_line + 1, end_column + 1)

    def place(self, mark: Any) -> tuple[int, int]:
        """A mark's line and column; libyaml puts the end of a file on a line of its own."""
        if mark.line >= len(self.lines):
            return len(self.lines) - 1, len(self.lines[-1])
        return mark.line, mark.column

    def report(self, code: str, span: Span, message: str, hint: str = "") -> None:
        self.findings.append(finding(code, span, message, hint))


def _start(source: Source) -> Span:
    return Span(source.name, 1, 1, 1, 1)


def _name(char: str) -> str:
    return f"U+{ord(char):04X}"


def _cleaned(source: Source, lines: list[str], findings: list[Finding]) -> str:
    """The text with a stand-in for each character that may not be there, after reporting them.

    No character moves.
    """
    found = 0
    for number, line in enumerate(lines, 1):
        for match in _UNSEEN.finditer(line):
            found += 1
            if found > MAX_CHARACTERS_REPORTED:
                break
            span = Span(source.name, number, match.start() + 1, number, match.end() + 1)
            more = ", and there are more after it" if found == MAX_CHARACTERS_REPORTED else ""
            message = f"the control character {_name(match[0])} stands here{more}"
            findings.append(finding("TXT06", span, message, hint="Delete it."))
    text = _UNSEEN.sub("�", source.text) if found else source.text
    return _HARMLESS_TABS.sub(lambda blank: " " * len(blank[0]), text) if "\t" in text else text


def _duplicate(second: Scalar, first: Scalar) -> Finding:
    message = f"the key {second.text} stands here a second time"
    hint = "Keep one of the two, or give one another name."
    first_here = Label(first.span, "it stands here first")
    return finding("TXT11", second.span, message, hint, labels=(first_here,))


def _merged(parts: list[Mapping], findings: list[Finding], divided: bool = True) -> Mapping:
    """One mapping of the entries of all; of a section that is ``divided`` over files, of each."""
    entries: dict[str, Pair] = {}
    for entry in (pair for part in parts for pair in part.pairs):
        name = entry.key.text
        first = entries.setdefault(name, entry)
        if first is entry:
            continue
        if divided and isinstance(first.value, Mapping) and isinstance(entry.value, Mapping):
            whole = _merged([first.value, entry.value], findings, divided=False)
            entries[name] = Pair(first.key, whole)
        else:
            findings.append(_duplicate(entry.key, first.key))
    return Mapping(tuple(entries.values()), parts[0].span, any(part.broken for part in parts))


def _syntax_fault(source: Source, lines: list[str], error: yaml.MarkedYAMLError) -> Finding:
    """The finding for an error of PyYAML's parser, in plain words."""
    mark: Any = error.problem_mark or error.context_mark
    context: Any = error.context_mark
    problem = " ".join(f"{error.problem or ''}; {error.context or ''}".split())
    file, text = source.name, source.text
    span = _point(file, lines, mark)
    line = lines[span.line - 1]
    if "cannot start any token" in problem and line[span.column - 1 : span.column] == "\t":
        others = sum(1 for one in lines if re.match(r" *\t", one)) - 1
        more = f"; lines with one: {others + 1}" if others > 0 else ""
        message = f"a tab stands where spaces are wanted{more}"
        hint = "Indent with spaces; most editors can turn all tabs of a file into spaces."
        spaces = yaml_slips.without_tabs(text, file, LOADER)
        return finding("TXT09", span, message, hint, fixes=(spaces,) if spaces else ())
    begun = _point(file, lines, context).line if context else span.line
    if slip := yaml_slips.slip(text, file, span.line, begun, LOADER):
        message, fix = slip
        return finding("TXT08", fix.span, message, fixes=(fix,))
    unknown = {"message": f"this is not YAML: {problem.strip('; ')}", "hint": ""}
    words = next((one for one in _plain_words() if re.search(one["problem"], problem)), unknown)
    message, hint = words["message"], words["hint"]
    if context and "at" in words:
        return finding("TXT08", _point(file, lines, context), message, hint)
    labels: tuple[Label, ...] = ()
    if context and (context.line, context.column) != (mark.line, mark.column):
        labels = (Label(_point(file, lines, context), "in what starts here"),)
    return finding("TXT08", span, message, hint, labels=labels)


@cache
def _plain_words() -> list[dict[str, str]]:
    words: list[dict[str, str]] = yaml.load(SYNTAX.read_text("utf-8"), LOADER)
    return words


def _point(file: str, lines: list[str], mark: Any) -> Span:
    """A mark as the one character it points at; after the last line, the end of that line."""
    line, column = mark.line, mark.column
    if line >= len(lines):
        line, column = len(lines) - 1, len(lines[-1])
    while line > 0 and column == 0 and not lines[line].strip():
        line -= 1
        column = len(lines[line])
    return Span(file, line + 1, column + 1, line + 1, column + 2)
