"""What a card shows: frozen views of strings and drawings in, nothing computed or rounded after.

Every value is final: rounded to the tool's step on the safe side, in the reader's language and
formatted. Templates only place them; two views that are equal print the same card, and the digest
of a view decides whether a card's revision goes up.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class GaugeLine:
    """One mark of the 1:1 edge gauge: height above the counter, and what the mark says."""

    height_mm: float
    label: str
    kind: str  # "line" (fill line), "level" (a check), "bed", "cap", "working", "rim"
    step: int = 0  # number of the step that reaches it, 0 for none

    @property
    def of_cup(self) -> bool:
        """Whether it is the cup's and no drink's: the limit or the rim."""
        return self.kind in ("working", "rim")


@dataclass(frozen=True, slots=True)
class Layer:
    """One band of the cup drawing, from and to in mm above the inner floor.

    ``pattern`` is the form of its marks: of a bed what ``drawn`` of a topping may say; "ice";
    "grain" and "wave" of caps; "dust"; "plain" of liquids. ``variant`` tells apart what has one
    pattern: how many others of the menu, or liquids lower in this cup, come before it.
    """

    kind: str  # "liquid", "bed", "ice", "pieces" that swim, "wall" (slices there), "cap", "dusted"
    from_mm: float
    to_mm: float
    name: str
    pattern: str
    variant: int = 0


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One level marked on the cup drawing, mm above the inner floor."""

    height_mm: float
    label: str
    kind: str  # as GaugeLine.kind


@dataclass(frozen=True, slots=True)
class CupDrawing:
    """A cup in true proportion: inner outline as (height, diameter) in mm, floor, layers, lines.

    Liquids come first, the lowest first, and run behind the beds whose gaps they fill. ``room_mm``
    is the width and height that the largest cup of the shop takes, so that all cups are drawn at
    one scale; at (0, 0) the cup is drawn as large as the picture may be. ``dome_mm`` is the inside
    of a dome over the rim, as points like those of the outline.
    """

    outline_mm: tuple[tuple[float, float], ...]
    floor_mm: float
    rim_mm: float
    working_mm: float
    layers: tuple[Layer, ...]
    lines: tuple[DrawnLine, ...]
    alt: str
    room_mm: tuple[float, float] = (0.0, 0.0)
    dome_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class StepSwap:
    """What a guest may have at a step instead: "" where it is as the step prints it."""

    name: str
    amount: str = ""
    unit: str = ""
    tool: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class StepView:
    """One step: ``amount`` and ``unit`` print largest, then what, tool count, and line reached."""

    number: int
    amount: str  # "120", "2", "½"; "" for an action
    unit: str  # "ml", "g", "pumps"
    what: str  # "Black tea", "Shake with ice"
    tool: str  # "jigger 2 × 60 ml", "2 scoops"; "" when the amount says it
    line: str  # "to 250 ml", "" if none
    note: str  # timing, temperature, "level off"
    station: str
    kind: str  # "liquid", "settled", "ice", "floated", "dusted", "line", "action"
    vessel: str = ""  # "" = the cup; else the shaker's name
    swaps: tuple[StepSwap, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """A small table: header cells, then rows of cells; the first column names the row."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class AmountRow:
    """The amounts of a step for these sets of add-ons and this ice, a cell for each sweetness.

    ``add_ons`` are sets of printed names, each joined by " + ", swaps at other steps before the
    add-ons, and a word for the set without any; ``()`` is whatever no other row names. ``ice`` ""
    is whatever ice. "–" is a choice that is not made.
    """

    add_ons: tuple[str, ...]
    ice: str
    amounts: tuple[str, ...]

    @property
    def either(self) -> str:
        """Its sets, any one of them: "Pearls / Pearls + Cream"."""
        return " / ".join(self.add_ons)


@dataclass(frozen=True, slots=True)
class AmountTable:
    """How the amount of one step changes with what a guest chooses; absolute amounts.

    ``header`` names the sweetness of each cell of a row, and is ``()`` where it does not matter.
    A choice that no row of a step's tables is for is made as the step is printed.
    """

    step: int  # its number on the build card
    what: str  # as the step prints it, or the swap that has amounts of its own there
    unit: str  # "pumps", "ml", "ml line"
    header: tuple[str, ...]
    rows: tuple[AmountRow, ...]
    choice: str = ""  # the word over the choices: "Sweetness", "Ice"
    others: str = ""  # what a row with no ``add_ons`` is called where other rows have some

    @property
    def title(self) -> str:
        """What the amounts are of."""
        return f"{self.what} ({self.unit})"

    @property
    def in_line(self) -> tuple[tuple[str, str], ...]:
        """Each choice with its amount, of a table that needs but one line; else nothing."""
        if any(row.add_ons for row in self.rows):
            return ()
        if not self.header and all(row.ice for row in self.rows):
            return tuple((row.ice, row.amounts[0]) for row in self.rows)
        if self.header and len(self.rows) == 1 and not self.rows[0].ice:
            return tuple(zip(self.header, self.rows[0].amounts, strict=True))
        return ()


@dataclass(frozen=True, slots=True)
class AddOnView:
    """One add-on of a drink: how much, where it goes in, and what it asks for at the lid.

    What the base does with it stands in the base's ``AmountTable``.
    """

    name: str
    amount: str  # "2"
    unit: str  # "scoops"
    tool: str  # what helps to measure it: "60 ml"
    station: str  # letter of the station that adds it
    after_step: int  # number of the step it goes in after, 0 before all
    place: str  # the same in words: "after step 5, before the lid"
    finish: str = ""  # the straw it asks for
    allergens: str = ""
    fits: bool = True
    verdict: str = ""  # why it is not made, where it does not fit
    note: str = ""  # how it goes in: "pour over the back of a spoon"


@dataclass(frozen=True, slots=True)
class SwapView:
    """What a guest may have in the place of something in a drink."""

    name: str
    replaced: str  # "instead of Whole milk"
    allergens: str  # what it brings, what it takes away, and what of that is in the drink even so
    verdict: str = ""  # why it is not made, where it does not fit


@dataclass(frozen=True, slots=True)
class Allergens:
    """Contains and may contain, each a tuple of names; never blank and never a promise.

    ``statement`` says so when both are empty ("none of the 14 declared; ask before serving") or
    when something in it declares nothing. ``others`` says that this is of the usual order,
    and what swaps and add-ons bring besides.
    """

    contains: tuple[str, ...]
    may_contain: tuple[str, ...]
    statement: str
    others: str = ""


@dataclass(frozen=True, slots=True)
class Foot:
    """The printed identity of a card."""

    code: str = ""
    revision: str = ""
    edition: str = ""
    valid: str = ""
    qr_payload: str = ""
    local_code_note: str = ""
    shop: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFields:
    """What every view has: what it is, its printed identity, and the card asked for."""

    kind: str
    language: str
    code: str = ""
    foot: Foot = field(default_factory=Foot)
    reading_distance_mm: float
    width_mm: float
    height_mm: float
    watermark: str = ""


@dataclass(frozen=True, slots=True)
class StationMark:
    """How a station is told apart without colour: a letter in a shape, and its accent colour."""

    name: str
    letter: str
    accent: str  # "#rrggbb", contrast-checked against white
    ink: str  # text colour on the accent, "#rrggbb"
    shape: str = "disc"  # "disc", "square", "hexagon", "diamond", "shield", "house"


@dataclass(frozen=True, slots=True)
class BuildCardView(CardFields):
    """A drink in one size: the whole build."""

    title: str
    subtitle: str
    cup_name: str
    stations: tuple[StationMark, ...]
    gauge: tuple[GaugeLine, ...]
    gauge_floor_mm: float
    drawing: CupDrawing
    steps: tuple[StepView, ...]
    amounts: tuple[AmountTable, ...]
    add_ons: tuple[AddOnView, ...]
    allergens: Allergens
    cautions: tuple[str, ...]
    keeps: tuple[str, ...]
    finish: str  # lid verdict in words, headspace in mm
    options_note: str = ""  # what stays the same for every choice
    sold: str = ""  # when, where that is not always: "sold until December 14, 07:00 to 11:00"
    sold_days: tuple[str, ...] = ()  # its first and last day for programs: ("", "2026-12-14")
    size_name: str = ""  # "Medium": what people call the card by, in lists
    swaps: tuple[SwapView, ...] = ()


@dataclass(frozen=True, slots=True)
class StationRow:
    """What one station does for one drink: arrives at, the adds, leaves at, the check.

    A drink that passes only with an add-on has a row of its add-ons alone.
    """

    drink: str
    arrives_at: str
    adds: tuple[StepView, ...]
    leaves_at: str
    check: str
    allergens: str
    amounts: tuple[AmountTable, ...] = ()
    add_ons: tuple[AddOnView, ...] = ()  # those that go in here, ``place`` said by this row's adds
    comes_from: str = ""  # letter of the station before: "T"
    goes_to: str = ""  # letter of the next station; "" hands over
    sold: str = ""  # when, where that is not always
    swaps: tuple[SwapView, ...] = ()  # those that go in here, and all where the cup is handed over
    levels: tuple[str, ...] = ()  # what its drink comes to here, each line by itself


@dataclass(frozen=True, slots=True)
class StationCardView(CardFields):
    """One station and one size: every drink that passes this station in this cup."""

    station: StationMark
    cup_name: str
    rows: tuple[StationRow, ...]
    gauge: tuple[GaugeLine, ...]
    gauge_floor_mm: float
    cautions: tuple[str, ...]
    part: int = 1
    parts: int = 1
    size_name: str = ""  # "Medium", as loud as the station's name; "" prints ``cup_name`` there
    marks: tuple[StationMark, ...] = ()  # of the stations its cups come from and go to
    keeps: tuple[str, ...] = ()  # of what stands open there


@dataclass(frozen=True, slots=True)
class RackLine:
    """One mark of the strip: the line, its height in words, and the drinks poured to it."""

    line: GaugeLine
    height: str  # "82 mm up"
    drinks: tuple[str, ...]  # none for the fill limit and the rim


@dataclass(frozen=True, slots=True)
class GaugeStripView(CardFields):
    """All fill lines of one cup at 1:1, to stand in the rack beside its cups."""

    title: str  # what it is, in lists: "Edge gauge"
    size_name: str  # the cup, printed largest
    subtitle: str
    rows: tuple[RackLine, ...]
    gauge_floor_mm: float
    # Each drink in the menu's order: its name, then how the rows name it and its choices.
    by_drink: tuple[tuple[str, ...], ...] = ()

    @property
    def gauge(self) -> tuple[GaugeLine, ...]:
        """The marks, lowest first."""
        return tuple(row.line for row in self.rows)


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
class BatchCardView(CardFields):
    """A batch at one scale."""

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


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One drink or add-on: a mark per allergen.

    Marks: "contains", "may-contain", "undeclared", "none-declared".
    """

    name: str
    marks: tuple[str, ...]
    group: str = ""  # heading printed before the first row of a group


@dataclass(frozen=True, slots=True)
class AllergenMatrixView(CardFields):
    """Everything sold against every allergen of the list followed, for the wall."""

    title: str
    allergens: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    letters: tuple[str, str]  # of "contains" and "may contain", printed inside the marks
    legend: tuple[str, str, str, str]  # words for the four marks, in the order of MatrixRow
    notes: tuple[str, ...]


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
class LabelSheetView(CardFields):
    """Date labels on a sheet, and nothing else: ``code`` is for findings and bookmarks."""

    title: str
    labels: tuple[LabelView, ...]
    label_width_mm: float
    label_height_mm: float
    places_mm: tuple[tuple[float, float], ...]  # left and top of each label, in reading order


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
    drinks: tuple[str, ...] = ()  # of one table of several for so many drinks: its first and last


@dataclass(frozen=True, slots=True)
class SheetView(CardFields):
    """Tables on a sheet or card; its kind is "prepsheet", "costs", "facts", "addons", "words",
    "pack" or "signoff"."""

    title: str
    subtitle: str
    tables: tuple[SheetTable, ...]
    notes: tuple[str, ...]
    size_name: str = ""  # of the cup an add-on card is for: what people call the card by, in lists
    marks: tuple[StationMark, ...] = ()  # of the stations that its rows are about


@dataclass(frozen=True, slots=True)
class CupView(CardFields):
    """An empty cup at true size with the lines of its drinks, which ``rows`` name, highest first;
    each has a line of ``drawing`` of the same label."""

    title: str
    subtitle: str
    drawing: CupDrawing
    rows: tuple[RackLine, ...]
    notes: tuple[str, ...]


PrepView = BatchCardView | AllergenMatrixView | LabelSheetView | SheetView
View = BuildCardView | StationCardView | PrepView | GaugeStripView | CupView
"""Every view that can be laid out and printed."""
