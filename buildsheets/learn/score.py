"""Results typed in, a row a sheet, and the questions that were on it go in; which steps of which
drinks are missed most comes out. Nobody is named."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Span
from buildsheets.findings.spelling import listed, nearest, shortened
from buildsheets.learn.questions import Point, Question, mark, points
from buildsheets.learn.sheets import SheetCode

GAPS = tuple(map(mark, range(100)))
HEAD = ("sheet", "missed")
LONGEST_LINE = 100_000
"""Characters, that no row of results comes near (common practice, no source)."""
EXAMPLE = "sheet,missed\nen.all.1.7.1.K4,7QX2M 9ZT4C/b"


@dataclass(frozen=True, slots=True)
class Typed:
    """A row: the sheet's code, and the short names of the questions missed, with "/B" behind one
    where only its second gap was."""

    place: Span
    sheet: str
    missed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Missed:
    """How often something was asked on the sheets, and how often it was missed."""

    point: Point
    asked: int
    missed: int

    @property
    def share(self) -> float:
        """Of those asked."""
        return self.missed / self.asked


def typed_in(text: str, file: str) -> list[Typed]:
    """The rows of a table of results. Raises ``ValueError`` where its first line does not say what
    stands in which column."""
    lines = text.removeprefix("\ufeff").splitlines()
    first = lines[0] if lines else ""
    rows = csv.reader(lines, delimiter=max(",;\t", key=first.count))
    if len(max(lines, key=len, default="")) > LONGEST_LINE:
        raise ValueError(f"{file} has a line of more than {LONGEST_LINE} characters: no table")
    head = [cell.strip().lower() for cell in next(rows, [])]
    if not {*HEAD} <= {*head}:
        raise ValueError(f"{file}:1: the first line has to be {','.join(HEAD)}:\n{EXAMPLE}")
    found = []
    for cells in rows:
        row = dict(zip(head, cells, strict=False))
        if any(cell.strip() for cell in cells):
            line = rows.line_num
            place = Span(file, line, 1, line, 1 + len(lines[line - 1]))
            names = re.split(r"[\s,;]+", row.get("missed", "").strip().upper())
            found.append(Typed(place, row["sheet"].strip(), tuple(filter(None, names))))
    return found


def sheet_code(text: str) -> SheetCode | None:
    """The code of a sheet as it was typed; ``None`` for what is none."""
    parts = text.split(".")
    if len(parts) != 6 or not all(part.isascii() and part.isdigit() for part in parts[2:5]):
        return None
    language, station, level, seed, number, mark = parts
    if max(map(len, parts[2:5])) > 9 or not int(number):
        return None
    return SheetCode(language, station, int(level), int(seed), int(number), mark.upper())


def score(
    rows: Sequence[Typed], on_sheet: Callable[[SheetCode], Sequence[Question] | str]
) -> tuple[list[Missed], int, list[Finding]]:
    """What was missed, the most often missed share first; the sheets that counted; and what of the
    table did not.

    ``on_sheet`` gives the questions of a sheet, or says why there is none of that code.
    """
    asked, missed, findings, counted = Counter[Point](), Counter[Point](), list[Finding](), 0
    for row in rows:
        code = sheet_code(row.sheet)
        found = on_sheet(code) if code else "a sheet's code is at its top right: en.all.1.7.1.K4"
        if isinstance(found, str):
            message = f"'{shortened(row.sheet)}' is no sheet of this menu: its row is left out"
            findings.append(finding("LEARN01", row.place, message, hint=found))
            continue
        counted += 1
        for question in found:
            asked.update({*points(question)})
        missed.update(point for _, point in {*_missed(row, found, findings)})
    all_of_them = [Missed(point, asked[point], n) for point, n in missed.items()]
    return sorted(all_of_them, key=lambda one: (-one.share, -one.missed)), counted, findings


def _missed(
    row: Typed, found: Sequence[Question], findings: list[Finding]
) -> Iterator[tuple[str, Point]]:
    """What was missed of which question."""
    known = {one.id: points(one) for one in found}
    for name in row.missed:
        short, _, gap = name.partition("/")
        own = dict(zip(GAPS, known.get(short, ()), strict=False))
        if gap in own or (own and not gap):
            yield from ((short, one) for one in ([own[gap]] if gap else own.values()))
            continue
        near = nearest(short, known, 3)
        if own:
            hint = f"it has {listed(own, 'and')}"
        else:
            hint = f"did you mean {listed(near)}?" if near else f"it has {listed(known, 'and')}"
        message = f"'{shortened(name)}' is no question of sheet {shortened(row.sheet)}: not counted"
        findings.append(finding("LEARN02", row.place, message, hint=hint))
