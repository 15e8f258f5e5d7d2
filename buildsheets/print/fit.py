"""Views in; each laid out on as few and as small cards as can be read from its distance, out.

The engine lays cards out; this module chooses stock, type size and number of cards, reads from the
laid-out pages what did not fit, and tries that again. Nothing is shrunk below the legible floor or
cut off: what does not fit is set in smaller type down to the floor, then on a larger stock, then on
further cards, and what still does not fit is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import pairwise, product

from buildsheets.print import kinds
from buildsheets.print.document import Maker, Section, Setting
from buildsheets.print.engine import LaidOut, lay_out
from buildsheets.print.gauge import TooCrowded
from buildsheets.print.sizes import ARCMINS, PREFERRED_ARCMIN
from buildsheets.views.paper import Paper, papers_from
from buildsheets.views.types import (
    GaugeStripView,
    LabelSheetView,
    View,
)

# How high a page is on which a card is laid out to see how much room its rows take.
TALL_MM = 100_000.0
EVEN_MM = 0.1  # cards that share rows are as full as each other to this
# Measured over the demo's cards: what a card takes grows with this power of the type's size (second
# lines keep the floor, so it grows less than in proportion) and falls with this power of the width.
# They only spare hopeless tries.
SIZE_POWER = {"station": 1.0}
USUAL_SIZE_POWER, WIDTH_POWER = 0.5, 0.6
HOPELESS = 1.03


class Misfit(Exception):
    """The card does not fit this stock at this size; the message says what takes how much."""

    def __init__(
        self, message: str, taken_mm: float, room_mm: float, measured: _Measured | None = None
    ) -> None:
        super().__init__(message)
        self.ratio = taken_mm / room_mm
        self.measured = measured  # what its rows take, where the layout shows it


@dataclass(frozen=True, slots=True)
class Fitted:
    """A view as it was laid out: stock, type size, its sections, and its pages in a document."""

    view: View
    stock: Paper
    arcmin: float
    sections: tuple[Section, ...]
    laid_out: LaidOut
    first_page: int
    first_section: int = 0
    reason: str = ""  # why one card of the declared size did not do; "" if it did

    def pdf(self) -> bytes:
        """Its pages. Raises ``EngineComplaint``."""
        return self.laid_out.pdf(self.first_page, self.first_page + len(self.sections))


def fit(views: Sequence[View], maker: Maker, border_mm: float) -> list[Fitted | Misfit]:
    """Views of one kind, language, size and distance: for each its cards, or why there are none.

    Each is tried on the declared stock at the preferred size, in smaller type, on larger stock,
    then on more cards; what is tried alike is laid out in one document. What comes of a view does
    not depend on the others. Raises what :meth:`Maker.html` and :func:`lay_out` raise.
    """
    view = views[0]
    stocks = papers_from(view.width_mm, view.height_mm)
    if isinstance(view, LabelSheetView):
        stocks = stocks[:1]  # labels are printed on the sheet they were measured on
    found: dict[int, Fitted | Misfit] = {}
    for stock, arcmin in product(stocks, ARCMINS):
        places = [
            place
            for place in range(len(views))
            if not isinstance(found.get(place), Fitted)
            and not _hopeless(found.get(place), view.kind, stocks[0], stock, arcmin)
        ]
        if not places:
            continue
        setting = _setting(view, maker, stock, arcmin, border_mm)
        made = _together([views[place] for place in places], maker, setting)
        for place, one in zip(places, made, strict=True):
            if isinstance(one, Fitted):
                reason = str(found[place]) if stock != stocks[0] else ""
                found[place] = replace(one, reason=reason)
            else:
                found.setdefault(place, one)
    for place, one in found.items():
        if isinstance(one, Misfit) and not kinds.is_one_card(view):
            found[place] = _split(views[place], maker, stocks, border_mm, one)
    return [found[place] for place in range(len(views))]


def _together(views: Sequence[View], maker: Maker, setting: Setting) -> list[Fitted | Misfit]:
    """Each view on one card, all in one document."""
    sections = [Section(view) for view in views]
    try:
        laid = _laid_out(sections, setting, maker)
        if isinstance(views[0], GaugeStripView):
            sections = [_with_labels(place, view, laid) for place, view in enumerate(views)]
            laid = _laid_out(sections, setting, maker)
    except Misfit as crowded:
        if len(views) > 1:
            raise  # each alone tells whose labels they are
        return [crowded]
    made: list[Fitted | Misfit] = []
    for place, section in enumerate(sections):
        try:
            page = _page(laid, place, section.view)
        except Misfit as misfit:
            made.append(misfit)
        else:
            view, stock = section.view, setting.stock
            made.append(Fitted(view, stock, setting.arcmin, (section,), laid, page, place))
    return made


def _hopeless(
    first: Fitted | Misfit | None, kind: str, declared: Paper, stock: Paper, arcmin: float
) -> bool:
    """Whether what did not fit the declared card at the preferred size cannot fit this one."""
    if not isinstance(first, Misfit):
        return False
    growth = _growth(kind, declared, stock, arcmin)
    return first.ratio * growth * declared.height_mm / stock.height_mm > HOPELESS


def _growth(kind: str, declared: Paper, stock: Paper, arcmin: float) -> float:
    """About how much higher a card is set on a stock at a size than on the declared one at the
    preferred size."""
    larger = (arcmin / PREFERRED_ARCMIN) ** SIZE_POWER.get(kind, USUAL_SIZE_POWER)
    narrower = (declared.width_mm / stock.width_mm) ** WIDTH_POWER
    return float(larger * narrower)


def _setting(view: View, maker: Maker, stock: Paper, arcmin: float, border_mm: float) -> Setting:
    return Setting(
        maker.layouts, view.kind, view.language, stock, view.reading_distance_mm, arcmin, border_mm
    )


def _laid_out(sections: Sequence[Section], setting: Setting, maker: Maker) -> LaidOut:
    try:
        html = maker.html(sections, setting)
    except TooCrowded as crowded:
        raise Misfit(str(crowded), 1.0, 1.0) from crowded
    # A shop's own templates may be HTML that is not XML.
    xml = maker.layouts.own is None
    return lay_out(html, maker.style(setting), maker.layouts, well_formed=xml)


def _page(laid: LaidOut, place: int, view: View) -> int:
    """The page of a card that stands whole on it. Raises ``Misfit``."""
    name = f"c{place}"
    at = [number for number, page in enumerate(laid.pages) if name in page.boxes]
    ends = [number for number, page in enumerate(laid.pages) if f"{name}-end" in page.boxes]
    if not at or not ends:
        raise ValueError(f"the layout of {view.kind} cards leaves out the frame of the card")
    page = laid.pages[ends[0]]
    end = page.boxes[f"{name}-end"].top_mm
    bottom = page.boxes.get(f"{name}-bottom")
    below = page.height_mm - bottom.top_mm if bottom else 0.0
    taken = (ends[0] - at[0]) * page.height_mm + end + below
    if taken > page.height_mm:
        raise Misfit(
            f"it takes {taken:.0f} mm, the card is {page.height_mm:g} mm high",
            taken, page.height_mm, _seen(laid, at[0], ends[0], name, kinds.rows(view)),
        )  # fmt: skip
    if isinstance(view, LabelSheetView):
        for number, label in enumerate(view.labels):
            high = page.boxes[f"{name}-r{number}"].height_mm
            if high > view.label_height_mm:
                what = f"the label {label.name!r} takes {high:.1f} mm"
                raise Misfit(f"{what}, has {view.label_height_mm:g}", high, view.label_height_mm)
    return at[0]


def _with_labels(place: int, view: View, laid: LaidOut) -> Section:
    """A gauge strip that knows how high its labels are and where they may stand."""
    boxes = laid.pages[place].boxes
    heights = tuple(boxes[f"c{place}-r{row}"].height_mm for row in range(kinds.rows(view)))
    room = (boxes[f"c{place}-end"].top_mm, boxes[f"c{place}-bottom"].top_mm)
    return Section(view, label_heights_mm=heights, room_mm=room)


@dataclass(frozen=True, slots=True)
class _Measured:
    """Heights of a view's rows, of what stands beside them on every card, and on the last."""

    rows_mm: tuple[float, ...]
    every_mm: float
    last_mm: float
    room_mm: float

    def starts(self, cards: int) -> tuple[int, ...] | None:
        """The first row of each of ``cards`` cards, the fullest as empty as can be; ``None`` if
        some card would be too full."""
        best, low, high = self._filled(self.room_mm), 0.0, self.room_mm
        if best is None or len(best) > cards:
            return None
        while high - low > EVEN_MM:
            middle = (low + high) / 2
            tried = self._filled(middle)
            if tried is not None and len(tried) <= cards:
                best, high = tried, middle
            else:
                low = middle
        return best

    def _filled(self, most_mm: float) -> tuple[int, ...] | None:
        """The first row of each card, all filled up to a height; ``None`` if a row is higher."""
        starts: list[int] = []
        used = most_mm
        for row, height in enumerate((*self.rows_mm[:-1], self.rows_mm[-1] + self.last_mm)):
            if self.every_mm + height > most_mm:
                return None
            if not starts or used + height > most_mm:
                starts.append(row)
                used = self.every_mm
            used += height
        return tuple(starts)

    def fewest(self) -> int:
        """The least number of cards that do; one more than there are rows if none does."""
        starts = self._filled(self.room_mm)
        return len(self.rows_mm) + 1 if starts is None else len(starts)

    def on(self, room_mm: float, growth: float) -> _Measured:
        """The same with heights times a factor, on a card of another height."""
        rows = tuple(height * growth for height in self.rows_mm)
        return _Measured(rows, self.every_mm * growth, self.last_mm * growth, room_mm)


def _seen(laid: LaidOut, first: int, last: int, name: str, rows: int) -> _Measured | None:
    """What the rows of a card that takes several pages take; ``None`` where it cannot be seen."""
    pages = laid.pages[first : last + 1]
    boxes = {key: box for page in reversed(pages) for key, box in page.boxes.items()}
    held = [boxes.get(f"{name}-r{row}") for row in range(rows)]
    found = [box for box in held if box is not None]
    if len(found) < rows or not rows or f"{name}-r{rows - 1}" not in pages[-1].boxes:
        return None
    page = pages[0]
    below = page.height_mm - boxes[f"{name}-bottom"].top_mm
    tail = boxes[f"{name}-end"].top_mm - found[-1].bottom_mm
    # From row to row, so that what stands between them counts; over a page's end, its own height.
    tops = [*(box.top_mm for box in found[1:]), found[-1].bottom_mm]
    heights = tuple(
        max(box.height_mm, below_mm - box.top_mm) for box, below_mm in zip(found, tops, strict=True)
    )
    return _Measured(heights, found[0].top_mm + below, tail, page.height_mm)


def _measured(view: View, maker: Maker, setting: Setting) -> _Measured:
    """Lay the view out on a very high card, to see what its rows take."""
    tall = replace(setting, stock=replace(setting.stock, height_mm=TALL_MM))
    laid = _laid_out([Section(view, 1, 2), Section(view, 2, 2)], tall, maker)
    rows = kinds.rows(view)
    first, last = _seen(laid, 0, 0, "c0", rows), _seen(laid, 1, 1, "c1", rows)
    if first is None or last is None:
        raise ValueError(f"the layout of {view.kind} cards does not mark its rows")
    # What follows the rows on a card that is not the last stands on every card.
    every_mm = first.every_mm + first.last_mm
    return replace(
        last,
        every_mm=every_mm,
        last_mm=max(0.0, last.every_mm + last.last_mm - every_mm),
        room_mm=setting.stock.height_mm,
    )


def _split(
    view: View, maker: Maker, stocks: Sequence[Paper], border_mm: float, reason: Misfit
) -> Fitted | Misfit:
    """The view over as few cards as do on any stock at the preferred size, on the smallest such
    stock; in smaller type only where that size does on none.

    What its rows take on another stock or in smaller type is guessed from what they took, and
    measured where cards laid out by the guess do not hold them.
    """
    first = _setting(view, maker, stocks[0], PREFERRED_ARCMIN, border_mm)
    try:
        seen = reason.measured or _measured(view, maker, first)
    except Misfit as misfit:
        return misfit
    tries = [
        (rank, guess.fewest(), place, False, guess)
        for (place, stock), (rank, arcmin) in product(enumerate(stocks), enumerate(ARCMINS))
        for guess in [seen.on(stock.height_mm, _growth(view.kind, stocks[0], stock, arcmin))]
    ]
    heapify(tries)
    while tries:
        rank, cards, place, is_exact, measured = heappop(tries)
        setting = _setting(view, maker, stocks[place], ARCMINS[rank], border_mm)
        starts = measured.starts(cards)
        try:
            if starts is not None:
                return replace(_cards(view, maker, setting, starts), reason=str(reason))
        except Misfit:
            pass  # the guess was too low
        if not is_exact:
            try:
                exact = _measured(view, maker, setting)
            except Misfit:
                continue
            heappush(tries, (rank, exact.fewest(), place, True, exact))
    return reason


def _cards(view: View, maker: Maker, setting: Setting, starts: Sequence[int]) -> Fitted:
    """The view over cards that begin with these rows. Raises ``Misfit``."""
    bounds = [*starts, kinds.rows(view)]
    sections = tuple(
        Section(kinds.some_rows(view, start, end), part, len(starts))
        for part, (start, end) in enumerate(pairwise(bounds), 1)
    )
    laid = _laid_out(sections, setting, maker)
    for place, section in enumerate(sections):
        _page(laid, place, section.view)
    return Fitted(view, setting.stock, setting.arcmin, sections, laid, 0)
