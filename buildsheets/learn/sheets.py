"""Questions or dry runs go in; practice sheets and their answer keys come out as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from buildsheets.learn.dry_runs import RIGHT_MM, DryRun
from buildsheets.learn.questions import Question, answer, mark
from buildsheets.menu.model import Menu
from buildsheets.print.cup_drawing import INK, DrawnCup, cup_at_true_size
from buildsheets.print.layouts import Layouts
from buildsheets.print.running import at_full_size, running_pages
from buildsheets.views import rounding
from buildsheets.views.paper import Paper, neighbour, sheet_mm
from buildsheets.views.types import DrawnLine
from buildsheets.views.words import Words

Made = tuple[bytes, tuple[str, ...], str]
"""A PDF, the families it may be set in, and why it cannot be printed, where it cannot."""

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
    draft: str = ""  # the mark of a draft, where its cards have it

    def pdf(self, template: str, paper: Paper, **given: object) -> Made:
        """Pages of a template of ours; as :func:`running_pages`."""
        words, menu = self.words, self.menu
        pdf, families, why = running_pages(
            self.layouts, f"learn/{template}.html", "learn/style.css", words, paper=paper,
            shop=words.name(menu.shop), edition=words.name(menu.edition),
            draft=self.draft, **given,
        )  # fmt: skip
        if pdf:
            pdf = at_full_size(pdf, words.language, words("learn_sheet"), words.name(menu.shop))
        return pdf, families, why

    @property
    def paper(self) -> Paper:
        """The paper of the shop's sheets, upright."""
        return Paper("", *sheet_mm(self.menu.shop.card_mm))


def practice(office: Office, sheets: Sequence[Sheet], key: bool) -> Made:
    """The sheets, or the keys to them, one after the other, each beginning a page."""
    template = "key" if key else "sheet"
    return office.pdf(template, office.paper, sheets=sheets, marks=MARKS)


LABELS_MM, MARGIN_MM = 40.0, 12.0
HEAD_MM, FOOT_MM = 85.0, 32.0  # above and below the cup, with the margins: the ticket; the counter
LABEL_MM = 4.8  # how high a label is


def cups(office: Office, runs: Sequence[DryRun], key: bool) -> Made:
    """A page for each dry run, or its key: the same page with the lines on it, to be laid over.

    Where the largest cup is larger than the shop's paper allows, all are on the next size.
    """
    outlines = [run.cup.outline_mm for run in runs]
    high = max(run.cup.rim_mm + run.cup.floor_mm for run in runs)
    wide = max(width for outline in outlines for _, width in outline)
    paper: Paper | None = office.paper
    while paper is not None and (
        high + HEAD_MM + FOOT_MM > paper.height_mm
        or wide + LABELS_MM + 2 * MARGIN_MM > paper.width_mm
    ):
        paper = neighbour(paper.width_mm, paper.height_mm, 1)
    if paper is None:
        return b"", (), f"a cup {high:.0f} mm high and {wide:.0f} mm wide is on no sheet"
    drawn = [(run, _drawn(run, key)) for run in runs]
    words, pouch_mm = office.words, office.menu.shop.pouch_border_mm
    return office.pdf(
        "cup",
        paper,
        drawn=drawn,
        key=key,
        label_mm=LABEL_MM,
        within=words("learn_dry_right", **rounding.height(words, RIGHT_MM)),
        pouch=words("learn_dry_pouch", **rounding.height(words, pouch_mm)) if pouch_mm else "",
    )


def _drawn(run: DryRun, key: bool) -> DrawnCup:
    lines = run.lines if key else ()
    marks = (DrawnLine(x.height_mm - run.cup.floor_mm, x.label, x.kind) for x in lines)
    return cup_at_true_size(replace(run.cup, lines=tuple(marks)), INK, lambda _: LABEL_MM)
