"""What the prep station's cards and sheets show: frozen views of shown strings, nothing computed.

As in :mod:`buildsheets.views.views`: every string is final, rounded and in the reader's language.
"""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.views.cup_views import GaugeStripView
from buildsheets.views.views import Allergens, CardView, Foot, Table


@dataclass(frozen=True, slots=True)
class PartView:
    """One ingredient of a batch: grams largest, then what it is, then packs and how written."""

    amount: str
    unit: str
    what: str
    note: str


@dataclass(frozen=True, slots=True)
class PrepStepView:
    """One step of prep: what to do; ``setting`` is time, temperature, speed and tool."""

    number: int
    what: str
    setting: str


@dataclass(frozen=True, slots=True)
class BatchCardView:
    """A batch at one scale."""

    kind: str  # "batch"
    language: str
    code: str
    title: str
    scale: str  # "half"
    factor: str  # "× 0.5"
    parts: tuple[PartView, ...]
    steps: tuple[PrepStepView, ...]
    gives: str  # the yield, largest of the figures: "1.55 l · 1470 g"
    figures: tuple[str, ...]  # loss, basis, brew ratio, Brix
    portions: Table | None
    scaling: Table | None
    equipment: tuple[str, ...]
    allergens: Allergens
    paths: tuple[str, ...]  # "milk: cream, condensed milk"
    cautions: tuple[str, ...]
    keeps: tuple[str, ...]
    foot: Foot
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One drink or add-on: a mark per allergen.

    Marks: "contains", "may-contain", "undeclared", "none-declared".
    """

    name: str
    marks: tuple[str, ...]
    group: str = ""  # heading printed before the first row of a group


@dataclass(frozen=True, slots=True)
class AllergenMatrixView:
    """Everything sold against every allergen of the list followed, for the wall."""

    kind: str  # "allergens"
    language: str
    code: str
    title: str
    allergens: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    letters: tuple[str, str]  # of "contains" and "may contain", printed inside the marks
    legend: tuple[str, str, str, str]  # words for the four marks, in the order of MatrixRow
    notes: tuple[str, ...]
    foot: Foot
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""


@dataclass(frozen=True, slots=True)
class LabelView:
    """One date label: what it is, when made, and the moment it has to be gone, largest."""

    name: str
    made: str
    discard: str
    because: str
    keep: str
    allergens: str


@dataclass(frozen=True, slots=True)
class LabelSheetView:
    """Date labels on a sheet whose places are given in mm; ``first`` places are skipped.

    ``code`` only names the sheet in findings and bookmarks; nothing but labels is printed.
    """

    kind: str  # "labels"
    language: str
    code: str
    title: str
    labels: tuple[LabelView, ...]
    label_width_mm: float
    label_height_mm: float
    places_mm: tuple[tuple[float, float], ...]  # left and top of each label, in reading order
    foot: Foot
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A table that may run over several pages; ``align`` is "l" or "r" for each column.

    ``tick`` draws a box to tick at the start of every row; ``strong`` columns print bold.
    """

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str
    weights: tuple[float, ...]
    tick: bool = False
    strong: tuple[int, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class SheetView:
    """A sheet of tables: the prep sheet of a day, the owner's cost sheet, a discard calendar."""

    kind: str  # "prepsheet", "costs" or "facts"
    language: str
    code: str
    title: str
    subtitle: str
    tables: tuple[SheetTable, ...]
    notes: tuple[str, ...]
    foot: Foot
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""
    size_name: str = ""  # of the cup an add-on card is for: what people call the card by, in lists


PrepView = BatchCardView | AllergenMatrixView | LabelSheetView | SheetView

AnyView = CardView | PrepView | GaugeStripView
"""Every view that can be laid out and printed."""
