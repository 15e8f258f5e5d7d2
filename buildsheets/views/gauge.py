"""A serving goes in; its edge gauge and its cup's gauge strip come out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from itertools import combinations

from buildsheets.cup.serving import Serving, Used
from buildsheets.menu.model import CupSize, Menu
from buildsheets.views import rounding
from buildsheets.views.amounts import choices_of, keys_of, order_sets
from buildsheets.views.once import once
from buildsheets.views.paper import SERIES
from buildsheets.views.types import GaugeLine, GaugeStripView, RackLine
from buildsheets.views.words import Words


def gauge_lines(serving: Serving, words: Words) -> tuple[GaugeLine, ...]:
    """The levels a barista checks, in mm above the counter: lines, bed, cap, limit and rim."""
    floor, cup = serving.cup.floor_mm, serving.final.cup

    def line(height_mm: float, label: str, kind: str, step: int = 0) -> GaugeLine:
        return GaugeLine(round(height_mm + floor, 2), label, kind, step)

    found = []
    for figure in serving.steps:
        state, used = figure.state, figure.used
        behaves = used.component.behaves if used else ""
        if used and used.to_line_ml is not None:
            height, reading_ml, kind = used.to_line_mm, used.to_line_ml, "line"
        elif behaves == "settled":
            height, reading_ml, kind = state.bed_top_mm, state.bed_top_ml, "bed"
        elif behaves == "floated":
            height, reading_ml, kind = state.cap_top_mm, state.cap_top_ml or 0.0, "cap"
        else:
            continue
        if height is not None:
            label = rounding.level(words, reading_ml)
            label = label if kind == "line" else words(f"gauge_{kind}_at", level=label)
            found.append(line(height, label, kind, figure.number))
    limit = line(cup.height_mm(serving.working_ml), words("gauge_limit"), "working")
    return (*found, limit, line(cup.rim_height_mm, words("gauge_rim"), "rim"))


STRIP_HEADROOM_MM = 26.0
"""Above the rim's mark on a gauge strip, for the name of the cup: where it reached down to the
marks it would push their labels away from them."""


NEAR_MM = 1.5
"""Lines nearer to each other than a hand pours are one mark; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Poured:
    """A line the base is poured to, and for whom: "Marsh Milk Tea + Coconut jelly"."""

    reading_ml: float
    height_mm: float  # above the counter
    step: int
    drink: str


@once
def lines_poured(serving: Serving, words: Words) -> Sequence[Poured]:
    """Every line that some step is poured to for some choice; swaps and add-ons are named where it
    is another with them."""
    drink, floor = words.name(serving.drink), serving.cup.floor_mm

    def poured(used: Used, step: int, whom: str) -> Poured:
        return Poured(
            used.to_line_ml or 0.0, round((used.to_line_mm or 0.0) + floor, 2), step, whom
        )

    found: dict[tuple[float, str], Poured] = {}
    for figure in serving.steps:
        if figure.used is not None and figure.used.to_line_ml is not None:
            found[figure.used.to_line_ml, drink] = poured(figure.used, figure.number, drink)
    body = serving.body
    if body.used is None or body.used.to_line_ml is None:
        return list(found.values())
    told: dict[frozenset[str], set[float]] = {}
    for chosen in order_sets(serving):
        ids = keys_of(chosen)
        every = (serving.choices[choice] for row in choices_of(serving, chosen) for choice in row)
        bodies = [one.body.used for one in every if one.verdict != "too-much"]
        lines = {used.to_line_ml: used for used in bodies if used and used.to_line_ml is not None}
        told[ids] = {*lines}
        if ids and _is_told(ids, told):
            continue
        name = " + ".join((drink, *map(words.name, chosen)))
        for reading, used in lines.items():
            own = reading == body.used.to_line_ml or len(lines) == 1
            whom = name if own else words("some_choices", drink=name)
            found.setdefault((reading, whom), poured(used, body.number, whom))
    return list(found.values())


def _is_told(ids: frozenset[str], told: Mapping[frozenset[str], set[float]]) -> bool:
    """Whether what is told of smaller sets, or of none, is true of this one: nobody who looks for
    it finds another line first."""
    plain = told[frozenset()]
    within = [lines for part, lines in told.items() if part < ids and lines != plain]
    return all(lines == told[ids] for lines in within or [plain])


def marks_of(poured: Sequence[Poured], words: Words) -> list[tuple[GaugeLine, tuple[str, ...]]]:
    """A mark for each line, with those poured to it; near ones together at the lowest of them."""
    groups: list[list[Poured]] = []
    for one in sorted(poured, key=lambda one: one.height_mm):
        if groups and one.height_mm - groups[-1][0].height_mm <= NEAR_MM:
            groups[-1].append(one)
        else:
            groups.append([one])
    found = []
    for group in groups:
        levels = dict.fromkeys(rounding.line_number(words, one.reading_ml) for one in group)
        label = words(words.volumes.word, n=BETWEEN_LINES.join(levels))
        line = GaugeLine(group[0].height_mm, label, "line", group[0].step)
        found.append((line, tuple(dict.fromkeys(one.drink for one in group))))
    return found


BETWEEN_LINES = " / "
_LISTED = re.compile(rf"[^ \u2066-\u2069]+(?:{BETWEEN_LINES}[^ \u2066-\u2069]+)+")


def labels_of(label: str) -> list[str]:
    """What a mark is called, and what it is where not all of its lines are used, one alone last:
    "380 / 385 ml", "380 ml", "385 ml"."""
    listed = _LISTED.search(label)
    if listed is None:
        return [label]
    numbers = listed[0].split(BETWEEN_LINES)
    return [
        label[: listed.start()] + BETWEEN_LINES.join(some) + label[listed.end() :]
        for count in range(len(numbers), 0, -1)
        for some in combinations(numbers, count)
    ]


def used_marks(marks: Sequence[GaugeLine], used: AbstractSet[str]) -> Iterator[GaugeLine]:
    """The marks of the lines and levels of these labels, each named by those alone; with them
    those of the cup."""
    for mark in marks:
        for label in [mark.label] if mark.of_cup else labels_of(mark.label):
            alone = [one for one in labels_of(label) if BETWEEN_LINES not in one]
            if mark.of_cup or used >= {*alone}:
                yield replace(mark, label=label)
                break


def all_lines(serving: Serving, words: Words) -> tuple[GaugeLine, ...]:
    """The levels a barista checks of a drink, whatever the guest chooses."""
    usual = gauge_lines(serving, words)
    lines = [line for line, _ in marks_of(lines_poured(serving, words), words)]
    others = [line for line in usual if line.kind != "line"]
    return tuple(sorted((*lines, *others), key=lambda line: line.height_mm))


def gauge_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> GaugeStripView | None:
    """Every line that drinks in a cup are poured to, at 1:1; ``None`` when there is no drink.

    The strip is on the smallest paper of the shop's series that is high enough for the rim.
    """
    here = [serving for serving in servings if serving.cup.id == size.id]
    if not here:
        return None
    by_drink = [(words.name(one.drink), lines_poured(one, words)) for one in here]
    poured = [one for _, lines in by_drink for one in lines]
    frame = [line for line in gauge_lines(here[0], words) if line.of_cup]
    marks = [*marks_of(poured, words), *((line, ()) for line in frame)]
    rows = [
        RackLine(line, words("step_height", **rounding.height(words, line.height_mm)), drinks)
        for line, drinks in sorted(marks, key=lambda mark: mark[0].height_mm)
    ]
    width_mm, height_mm = _strip_size(menu, rows[-1].line.height_mm)
    border_mm = menu.shop.pouch_border_mm
    return GaugeStripView(
        kind="gauge",
        language=words.language,
        title=words("gauge_title"),
        size_name=words.name(size),
        # Marks are drawn for a pouch, whose border stands below the paper.
        subtitle=words("gauge_pouch", **rounding.height(words, border_mm))
        if border_mm
        else words("gauge_strip"),
        rows=tuple(rows),
        gauge_floor_mm=size.floor_mm,
        by_drink=tuple(
            (drink, *dict.fromkeys(one.drink for one in lines))
            for drink, lines in by_drink
            if lines
        ),
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=width_mm,
        height_mm=height_mm,
    )


def _strip_size(menu: Menu, rim_mm: float) -> tuple[float, float]:
    """The smallest upright paper, of the series of the shop's cards, that reaches over the rim."""
    card = menu.shop.card_width_mm, menu.shop.card_height_mm
    for series in SERIES.values():
        sizes = [(paper.width_mm, paper.height_mm) for paper in series]
        if card in sizes or card[::-1] in sizes:
            for width_mm, height_mm in sizes:
                # Room beside the gauge for the 50 mm proof bar and its words takes 100 mm.
                if width_mm >= 100 and height_mm >= rim_mm + STRIP_HEADROOM_MM:
                    return width_mm, height_mm
    return card
