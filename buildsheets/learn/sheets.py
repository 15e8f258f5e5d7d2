"""Questions or dry runs go in; practice sheets and their answer keys come out as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from buildsheets.learn.dry_runs import DryRun
from buildsheets.learn.questions import Question, answer, mark
from buildsheets.menu.model import Menu
from buildsheets.print.drawing import Pen, Shape, number, polygon, svg
from buildsheets.print.layouts import Layouts
from buildsheets.print.running import at_full_size, running_pages
from buildsheets.views.paper import Paper, neighbour, sheet_mm
from buildsheets.views.types import GaugeLine
from buildsheets.views.words import Words

A_SHEET = 6
"""Questions on a sheet: what fills about a page; common practice, no source."""


MARKS = tuple(map(mark, range(1000)))
"""What options are called: more than any drink has steps."""


class SheetCode(NamedTuple):
    """What a sheet is called by whoever types in how it went: "en.brew.1.7.3.K4".

    ``mark`` is another where the menu asks something else.
    """

    language: str
    station: str  # "all" for the whole shop
    level: int
    seed: int
    number: int
    mark: str

    def __str__(self) -> str:
        return ".".join(map(str, self))


@dataclass(frozen=True, slots=True)
class Sheet:
    """A practice sheet: its code, whom it is for, its questions; ``used_up`` once they repeat."""

    code: str
    station: str
    level: str
    questions: tuple[Question, ...]
    used_up: bool

    @property
    def answers(self) -> tuple[tuple[Question, tuple[tuple[str, str], ...]], ...]:
        """Each question with its answer."""
        return tuple((one, tuple(answer(one))) for one in self.questions)


@dataclass(frozen=True, slots=True)
class Office:
    """What all sheets of a shop share."""

    menu: Menu
    words: Words
    layouts: Layouts

    def pdf(
        self, template: str, paper: Paper, **given: object
    ) -> tuple[bytes, tuple[str, ...], str]:
        """Pages of a template of ours; as :func:`running_pages`."""
        words, menu = self.words, self.menu
        pdf, families, why = running_pages(
            self.layouts, f"learn/{template}.html", "learn/style.css", w=words, paper=paper,
            shop=words.name(menu.shop), edition=words.name(menu.edition), **given,
        )  # fmt: skip
        if pdf:
            pdf = at_full_size(pdf, words.language, words("learn_sheet"), words.name(menu.shop))
        return pdf, families, why

    @property
    def paper(self) -> Paper:
        """The paper of the shop's sheets, upright."""
        return Paper("", *sheet_mm(self.menu.shop.card_mm))


def practice(
    office: Office, sheets: Sequence[Sheet], key: bool
) -> tuple[bytes, tuple[str, ...], str]:
    """The sheets, or the keys to them, one after the other, each beginning a page."""
    template = "key" if key else "sheet"
    return office.pdf(template, office.paper, sheets=sheets, marks=MARKS)


LABELS_MM, MARGIN_MM = 40.0, 12.0
HEAD_MM, FOOT_MM = 62.0, 32.0  # above and below the cup, with the margins: the ticket; the counter
WALL_MM = 0.5
LINE_MM = 0.3  # as thin as a mark is drawn with a pencil; common practice, no source


@dataclass(frozen=True, slots=True)
class Drawn:
    """A cup at true size as a picture, its size in mm, and where its labels stand, down from its
    top."""

    run: DryRun
    picture: str
    width_mm: float
    height_mm: float
    labels: tuple[tuple[str, float], ...]


def cups(office: Office, runs: Sequence[DryRun], key: bool) -> tuple[bytes, tuple[str, ...], str]:
    """A page for each dry run, or its key: the same page with the lines on it, to be laid over.

    Where the largest cup is larger than the shop's paper allows, all are on the next size.
    """
    high = max(run.outline_mm[-1][0] + run.floor_mm for run in runs)
    wide = max(width for run in runs for _, width in run.outline_mm)
    paper = office.paper
    while high + HEAD_MM + FOOT_MM > paper.height_mm or (
        wide + LABELS_MM + 2 * MARGIN_MM > paper.width_mm
    ):
        larger = neighbour(paper.width_mm, paper.height_mm, 1)
        if larger is None:
            return b"", (), f"a cup {high:.0f} mm high and {wide:.0f} mm wide is on no sheet"
        paper = larger
    drawn = [drawn_cup(run, key) for run in runs]
    return office.pdf("cup", paper, drawn=drawn, key=key)


def drawn_cup(run: DryRun, key: bool) -> Drawn:
    """The cup from the counter to the rim, empty or with its lines, at true size."""
    ink, half_wall = "#111111", WALL_MM / 2
    wide = max(width for _, width in run.outline_mm)
    middle, high = wide / 2 + WALL_MM, run.outline_mm[-1][0] + run.floor_mm

    def y(height_mm: float) -> float:
        return high - height_mm + half_wall

    base = run.outline_mm[0][1] / 2
    right = [(middle + width / 2, y(run.floor_mm + up)) for up, width in run.outline_mm]
    left = [(2 * middle - x, down) for x, down in right]
    foot = [(middle - base, y(0)), (middle + base, y(0))]
    wall = Pen(stroke=ink, width_mm=WALL_MM)
    floor = Shape(wall, middle - base, y(run.floor_mm), f"h{number(2 * base)}")
    shapes = [polygon(wall, [*reversed(left), *foot, *right], closed=False), floor]
    labels = []
    for line in run.lines if key else ():
        half = _half_mm(run, line)
        shapes.append(
            Shape(
                Pen(stroke=ink, width_mm=LINE_MM),
                middle - half,
                y(line.height_mm),
                f"h{number(2 * half + 6)}",
            )
        )
        labels.append((line.label, y(line.height_mm)))
    width = 2 * middle + 6
    return Drawn(run, svg(shapes, width, high + WALL_MM), width, high + WALL_MM, tuple(labels))


def _half_mm(run: DryRun, line: GaugeLine) -> float:
    """Half the inner width of a cup at a line."""
    from buildsheets.print.cup_drawing import diameter_at

    return diameter_at(run.outline_mm, line.height_mm - run.floor_mm) / 2
