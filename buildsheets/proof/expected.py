"""Views and the pages they were printed on in; what the file has to be, out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from buildsheets.print.checks import texts_of
from buildsheets.print.fonts import families
from buildsheets.print.gauge import POUCH_BORDER_MM, pen_mm
from buildsheets.print.render import PageInfo
from buildsheets.proof.legible import ExpectedTexts
from buildsheets.proof.raster import Stretch
from buildsheets.proof.tables import Cell, ExpectedBands, ExpectedTable
from buildsheets.views.gauge import labels_of
from buildsheets.views.grids import grids
from buildsheets.views.paper import SERIES
from buildsheets.views.types import (
    AllergenMatrixView,
    Allergens,
    BatchCardView,
    BuildCardView,
    CupView,
    GaugeLine,
    GaugeStripView,
    LabelSheetView,
    SheetView,
    StationCardView,
    StationRow,
    StepView,
    Table,
)

# Cards keep 5 mm clear; a blade may stray by 2 mm.
SAFE_MM = 3.0


@dataclass(frozen=True, slots=True)
class ExpectedMark:
    """A mark of the edge gauge: what it says, its middle down from the top, its thickness."""

    label: str
    y_mm: float
    pen_mm: float

    @property
    def stretch(self) -> Stretch:
        """From where to where down the page its ink goes."""
        return self.y_mm - self.pen_mm / 2, self.y_mm + self.pen_mm / 2


@dataclass(frozen=True, slots=True)
class ExpectedCard:
    """What stands on a card, be it on one page or several."""

    texts: ExpectedTexts
    tables: tuple[ExpectedTable, ...] = ()
    bands: tuple[ExpectedBands, ...] = ()


@dataclass(frozen=True, slots=True)
class ExpectedPage:
    """What a page has to be: its card's code, title and size, its gauge marks, and the card."""

    code: str
    width_mm: float
    height_mm: float
    title: str = ""
    gauge: tuple[ExpectedMark, ...] = ()
    card: ExpectedCard | None = None
    every_mark: bool = True  # else those that are named beside the edge


def _series() -> tuple[tuple[float, float], ...]:
    stocks = [stock for series in SERIES.values() for stock in series]
    return tuple((s.width_mm, s.height_mm) for stock in stocks for s in (stock, stock.turned()))


@dataclass(frozen=True, slots=True)
class Expectations:
    """What a file has to be.

    Without ``pages`` the file's own bookmarks say which card is on which page, and sizes may be
    any of ``sizes_mm`` (the ISO and US series, unless told).
    """

    pages: tuple[ExpectedPage, ...] = ()
    sizes_mm: tuple[tuple[float, float], ...] = field(default_factory=_series)
    families: tuple[str, ...] = field(default_factory=families)
    safe_mm: float = SAFE_MM


def expect(
    pages: Sequence[PageInfo], views: Sequence[Any], pouch_border_mm: float = POUCH_BORDER_MM,
    capitals_em: float = 0.0,
) -> Expectations:  # fmt: skip
    """What the cards of these views have to be when printed. ``capitals_em`` is how high the
    capitals of their typeface are, if it is not ours."""
    gauges = {view.code: getattr(view, "gauge", ()) for view in views}
    # A mark of a strip is told from another of the same levels by its height.
    strips = {
        view.code: {row.line: f"{row.line.label} · {row.height}" for row in view.rows}
        for view in views
        if isinstance(view, GaugeStripView)
    }
    # Of these, a card of several has the marks of what stands on it.
    split = {v.code for v in views if isinstance(v, GaugeStripView | StationCardView)}
    stations = {view.code for view in views if isinstance(view, StationCardView)}

    def names(page: PageInfo, line: GaugeLine) -> list[str]:
        if page.parts > 1 and page.code in stations:  # of the lines that it has, whichever
            return labels_of(line.label)
        return [strips.get(page.code, {}).get(line, line.label)]

    cards = {view.code: expected_card(view, capitals_em) for view in views}
    return Expectations(
        tuple(
            ExpectedPage(
                page.code,
                page.width_mm,
                page.height_mm,
                page.title,
                tuple(
                    ExpectedMark(
                        name,
                        page.height_mm - (line.height_mm - pouch_border_mm),
                        pen_mm(line),
                    )
                    for line in gauges.get(page.code, ())
                    for name in names(page, line)
                ),
                cards.get(page.code),
                page.parts == 1 or page.code not in split,
            )
            for page in pages
        )
    )


def expected_card(view: Any, capitals_em: float = 0.0) -> ExpectedCard:
    """What the card of a view must show, and its tables."""
    foot = tuple(texts_of(view.foot))
    texts = ExpectedTexts(
        each=tuple(filter(None, _each(view))),
        once=tuple(filter(None, _once(view))),
        view=tuple(text for text in dict.fromkeys(texts_of(view)) if text and text not in foot),
        foot=foot,
        watermark=view.watermark,
        distance_mm=view.reading_distance_mm,
        capitals_em=capitals_em,
    )
    bands = (_station_bands(view),) if isinstance(view, StationCardView) else ()
    return ExpectedCard(texts, tuple(_tables(view)), bands)


def _each(view: Any) -> Iterator[str]:
    """What no card may be without: allergens and cautions. Its code is looked for by itself."""
    allergens = getattr(view, "allergens", None)
    if isinstance(allergens, Allergens):
        yield from (
            *allergens.contains,
            *allergens.may_contain,
            allergens.statement,
            allergens.others,
        )
    elif isinstance(view, AllergenMatrixView):
        yield from view.allergens
    yield from getattr(view, "cautions", ())


def _once(view: Any) -> Iterator[str]:
    """What goes in, lines and levels, and the allergens of rows; amounts stand in the tables."""
    match view:
        case BuildCardView():
            for step in view.steps:
                yield from (step.what, step.line)
                yield from (one.name for one in step.swaps)
            yield from (one.allergens for one in view.swaps)
        case StationCardView():
            for row in view.rows:
                yield row.allergens
                yield from (step.what for step in row.adds)
                yield from (one.name for step in row.adds for one in step.swaps)
                yield from (one.allergens for one in row.swaps)
        case BatchCardView():
            yield from (one.what for one in view.parts)
            yield from (one.what for one in view.steps)
            yield view.gives
        case AllergenMatrixView():
            yield from (row.name for row in view.rows)
        case LabelSheetView():
            for label in view.labels:
                yield from (label.name, label.discard, label.allergens)
        case GaugeStripView() | CupView():
            yield from (row.line.label for row in view.rows)
        case SheetView():
            yield from (text for table in view.tables for row in table.rows for text in row[:1])


def _tables(view: Any) -> Iterator[ExpectedTable]:
    match view:
        case BuildCardView():
            yield ExpectedTable((), tuple(_step(step) for step in view.steps))
            for grid in grids(view.amounts):
                yield from _small(grid)
        case StationCardView():
            # The words over the columns are the layout's own; rows tell what must stand level.
            levels = tuple((_drink(row), (row.arrives_at,), (row.leaves_at,)) for row in view.rows)
            yield ExpectedTable((), levels)
            adds = tuple(_step(step)[:3:2] for row in view.rows for step in row.adds)
            yield ExpectedTable((), adds)
            for grid in (grid for row in view.rows for grid in _large(row)):
                yield from _small(grid)
        case BatchCardView():
            parts = tuple(((one.what, one.note), (one.amount, one.unit)) for one in view.parts)
            yield ExpectedTable((), parts)
            yield ExpectedTable(
                (), tuple(((one.what, one.setting), (str(one.number),)) for one in view.steps)
            )
            yield from _small(view.portions)
            yield from _small(view.scaling)
        case AllergenMatrixView():
            signs = {"contains": view.letters[0], "may-contain": view.letters[1],
                     "undeclared": "?", "none-declared": "–"}  # fmt: skip
            rows = tuple(
                ((row.name,), *((signs[mark],) for mark in row.marks)) for row in view.rows
            )
            yield ExpectedTable(("", *view.allergens), rows)
        case SheetView():
            for table in view.tables:
                rows = tuple(tuple((text,) for text in row) for row in table.rows)
                yield ExpectedTable(table.header, rows)


def _large(row: StationRow) -> Iterator[Table]:
    """The tables under the steps of a row; one of a swap at a step says whose amounts it has."""
    what = {step.number: step.what for step in row.adds}
    for table in row.amounts:
        if not table.in_line:
            yield from grids([table], titled=what.get(table.step, table.what) != table.what)


def _step(step: StepView) -> tuple[Cell, ...]:
    swaps = (text for one in step.swaps for text in (one.name, one.tool, one.note))
    what = (step.what, step.vessel, step.tool, step.note, *swaps)
    return what, (str(step.number),), (step.amount, step.unit), (step.line,)


def _small(table: Table | None) -> Iterator[ExpectedTable]:
    if table and table.rows:
        rows = tuple(tuple((text,) for text in row) for row in table.rows)
        yield ExpectedTable(("", *table.header[1:]), rows)


def _drink(row: StationRow) -> Cell:
    """A row's name: the drink, which visit of it, when it is sold, and its allergens."""
    return (*row.drink.split(" · "), row.sold, row.allergens)


def _station_bands(view: StationCardView) -> ExpectedBands:
    return ExpectedBands(
        tuple(
            (
                *_drink(row),
                *(text for add in row.adds for text in (add.amount, add.what)),
                *(" ".join(chosen) for table in row.amounts for chosen in table.in_line),
                *(add_on.name for add_on in row.add_ons),
                row.check,
            )
            for row in view.rows
        )
    )
