"""The files of a menu go in; what they broke of the promises made for any input comes out.

No crash and no fault of our own; an end within bounds of time; findings that lie inside their
files, sorted, the same a second time; fixes that work and make nothing worse; and no crash in
what else is worked out of a menu without errors.
"""

from __future__ import annotations

import contextlib
import io
import re
import signal
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from types import FrameType

from fuzz_changes import Files

from buildsheets.cli.fixing import fixed
from buildsheets.cli.main import main
from buildsheets.findings.finding import Finding, Fix, Severity, Source, Span, sort_key
from buildsheets.findings.report import render
from buildsheets.output import cards
from buildsheets.pipeline import Checked, check_sources
from buildsheets.print.layouts import Layouts

MOST_S = 10.0
"""Of processor time for one check of a small menu; they take some ms."""

LINE_BREAK = re.compile("\r\n|\r|\n")
READ_OF_FILE = ("TXT", "VAL", "KEY", "REF")
"""What codes begin with that say how a file is written."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A promise that was broken: which, and what of."""

    law: str
    what: str

    def __str__(self) -> str:
        return f"{self.law}: {self.what}"

    @property
    def kind(self) -> str:
        """The same for what is most likely the same fault."""
        return f"{self.law}: {re.sub(r'[0-9]+', '0', re.sub(r'“[^”]*”', '“”', self.what))[:160]}"


class TooSlow(Exception):
    """More processor time was taken than is allowed."""


def _too_slow(number: int, frame: FrameType | None) -> None:
    raise TooSlow(f"more than {MOST_S} s")


@contextlib.contextmanager
def within(seconds: float = MOST_S) -> Iterator[None]:
    """Break off what takes more processor time; only in the main thread."""
    before = signal.signal(signal.SIGVTALRM, _too_slow)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def checked(files: Files) -> Checked:
    """All stages over texts, each file named as it is."""
    return check_sources({name: Source(name, text) for name, text in files.items()})


def broken_by(files: Files, random: Random, often: float = 1.0) -> list[Broken]:
    """What a menu breaks; what takes long is tried for the share ``often`` of menus."""
    try:
        with within():
            first = checked(files)
    except (Exception, RecursionError) as crash:
        return [Broken("crash", _where(crash))]
    found = [*_own_faults(first), *_places(first, files)]
    if list(first.findings) != sorted(first.findings, key=sort_key):
        found.append(Broken("sorted", "the findings are not in their order"))
    for name, law, share in LAWS:
        if random.random() < share * often:
            try:
                with within(2 * MOST_S):
                    found += law(first, files, random)
            except (Exception, RecursionError) as crash:
                found.append(Broken(name, _where(crash)))
    return found


def _where(crash: BaseException) -> str:
    last = traceback.extract_tb(crash.__traceback__)[-1]
    return f"{type(crash).__name__} in {Path(last.filename).name} {last.name}: {crash}"


def _own_faults(first: Checked) -> list[Broken]:
    return [Broken("BUG01", one.message) for one in first.findings if one.code == "BUG01"]


def _places(first: Checked, files: Files) -> Iterator[Broken]:
    lines = {name: LINE_BREAK.split(text) for name, text in files.items()}
    for one in first.findings:
        if not one.message:
            yield Broken("message", f"{one.code} says nothing")
        spans = [one.span, *(label.span for label in one.labels)]
        spans += [line.span for line in one.sums] + [fix.span for fix in one.fixes]
        for span in spans:
            if span is not None and not _inside(span, lines):
                yield Broken("place", f"{one.code} {one.message} is at {span!r}")


def _inside(span: Span, lines: dict[str, list[str]]) -> bool:
    """Whether both ends lie in the file, the end no further than one behind its line."""
    if span.file not in lines:
        return False
    text = lines[span.file]
    start, end = (span.line, span.column), (span.end_line, span.end_column)
    return start <= end and all(
        1 <= line <= len(text) and 1 <= column <= len(text[line - 1]) + 2
        for line, column in (start, end)
    )


def _stable(first: Checked, files: Files, random: Random) -> list[Broken]:
    return (
        []
        if checked(files).findings == first.findings
        else [Broken("stable", "not the same twice")]
    )


def _reports(first: Checked, files: Files, random: Random) -> list[Broken]:
    for form in ("full", "short", "sarif", "github"):
        text = render(first.findings, first.sources, form)
        if any(char in text for char in "\x1b\u202e\x07"):
            return [Broken("report", f"{form} lets a character act")]
    return []


def _fixes(first: Checked, files: Files, random: Random) -> Iterator[Broken]:
    """One fix, applied: its finding goes, what it wrote can be read, and where all of the menu
    could be read no error comes that was not there."""
    offered = [
        (one, fix) for one in first.findings for fix in one.fixes if fix.replacement is not None
    ]
    if not offered:
        return
    one, fix = random.choice(offered)
    assert fix.span is not None
    after = checked(written(files, fix))
    what = f"{one.code} “{one.message}” by “{fix.text}”"
    if _mark(one) in {_mark(other) for other in after.findings}:
        yield Broken("fix", f"{what} stays")
    there = Counter(map(_but_for_figures, _errors(first)))
    new = []
    for other in _errors(after):
        there.subtract([_but_for_figures(other)])
        if there[_but_for_figures(other)] < 0:
            new.append(other)
    unread = any(e.code.startswith(READ_OF_FILE) for e in _errors(first))
    for other in new:
        if (
            # What cannot be parsed hides the slips behind it: mended, it shows the next.
            (other.code.startswith("TXT") and not one.code.startswith("TXT"))
            or (not unread and other.code.startswith(READ_OF_FILE))
            or (not unread and not one.code.startswith(READ_OF_FILE))
        ):
            yield Broken("worse", f"{what} brings {other.code} {other.message}")


def _errors(of: Checked) -> list[Finding]:
    return [one for one in of.findings if one.severity is Severity.ERROR]


def _but_for_figures(one: Finding) -> tuple[str, str]:
    """An error, whatever its figures: a line passed already is passed at another level when less is
    poured before it."""
    return one.code, re.sub(r"[0-9]+(?:\.[0-9]+)?", "#", one.message)


def _mark(one: Finding) -> tuple[object, ...]:
    return (one.code, one.message, one.span and (one.span.file, one.span.line, one.span.column))


def written(files: Files, fix: Fix) -> Files:
    """The files with a fix's text at its place."""
    span = fix.span
    assert span is not None
    assert fix.replacement is not None
    text = files[span.file]
    starts = [0, *(match.end() for match in LINE_BREAK.finditer(text))]
    start = starts[span.line - 1] + span.column - 1
    end = starts[span.end_line - 1] + span.end_column - 1
    return {**files, span.file: text[:start] + fix.replacement + text[end:]}


def _all_fixed(first: Checked, files: Files, random: Random) -> Iterator[Broken]:
    """What `check --fix` writes can be read again where it could before, and is written once."""
    sources, changes = fixed(first.sources)
    if not changes:
        return
    after = check_sources(dict(sources))
    if after.menu is None and first.menu is not None:
        yield Broken("fixed", "a menu that was read is not read any more")
    if any(e.code.startswith("TXT") for e in _errors(after)) and not any(
        e.code.startswith("TXT") for e in _errors(first)
    ):
        yield Broken("fixed", "what was written is no YAML")


def _other_commands(first: Checked, files: Files, random: Random) -> Iterator[Broken]:
    """Cards, plan, costs, purchases and an order, of a menu without errors."""
    menu = first.menu
    if menu is None or first.stopped:
        return
    cards(menu, first.servings, Layouts(None))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "menu.yaml")
        path.write_text("\n".join(files.values()), "utf-8", newline="")
        words = [
            ["costs", "--options", "--format", "csv"],
            ["facts", "--format", "json"],
            ["allergens"],
        ]
        words += [[verb, day] for verb in ("plan", "buy") for day in menu.days]
        words += [["explain", drink] for drink in menu.drinks]
        words += [["batch", batch] for batch in menu.batches]
        said = io.StringIO()
        for one in words:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                main([*one, "--menu", str(path)])
            if "BUG01" in said.getvalue():
                yield Broken(one[0], said.getvalue().partition("BUG01")[2].split("\n")[0])
                return


Law = Callable[[Checked, Files, Random], "list[Broken] | Iterator[Broken]"]

LAWS: tuple[tuple[str, Law, float], ...] = (
    ("stable", _stable, 0.1),
    ("report", _reports, 0.05),
    ("fixes", _fixes, 0.5),
    ("fixed", _all_fixed, 0.02),
    ("other commands", _other_commands, 0.05),
)
"""What costs more than the check itself, and the share of menus it is tried on in a long run."""
