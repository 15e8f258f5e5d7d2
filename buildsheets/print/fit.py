"""Views in; each laid out on as few and as small cards as can be read from its distance, out.

The engine lays cards out; this module chooses stock, type size and number of cards, reads from the
laid-out pages what did not fit, and tries that again. Nothing is shrunk below the legible floor or
cut off: what does not fit is set in smaller type down to the floor, then on a larger stock, then on
further cards, and what still does not fit is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import accumulate, pairwise

from buildsheets.print import kinds
from buildsheets.print.document import Maker, Section, Setting
from buildsheets.print.engine import Box, LaidOut, lay_out
from buildsheets.print.gauge import TooCrowded
from buildsheets.print.sizes import ARCMINS, PREFERRED_ARCMIN
from buildsheets.views.paper import Paper, papers_from
from buildsheets.views.types import GaugeStripView, LabelSheetView, View

MOST_CARDS = 9
# How high a page is on which a card is laid out to see how much room its rows take.
TALL_MM = 3000.0
# Measured over the demo's cards: the height of text grows with this power of its size (words wrap
# more often too), and falls with this power of the width. They only spare hopeless tries.
SIZE_POWER, WIDTH_POWER = 0.7, 0.8
HOPELESS = 1.05


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


def lay_out_together(
    views: Sequence[View], maker: Maker, border_mm: float
) -> list[Fitted | Misfit]:
    """Views of one kind, language, stock and distance at the preferred size, in one document.

    For each what came of it. Raises what :meth:`Maker.html` and :func:`lay_out` raise.
    """
    view = views[0]
    stock = papers_from(view.width_mm, view.height_mm)[0]
    setting = _setting(view, maker, stock, PREFERRED_ARCMIN, border_mm)
    sections = [Section(view) for view in views]
    laid = _laid_out(sections, setting, maker)
    found: list[Fitted | Misfit] = []
    for place, section in enumerate(sections):
        try:
            page = _page(laid, place, section.view)
            one = (section,)
            found.append(Fitted(section.view, stock, PREFERRED_ARCMIN, one, laid, page, place))
        except Misfit as misfit:
            found.append(misfit)
    return found


def fit(view: View, maker: Maker, border_mm: float, first: Misfit | None = None) -> Fitted:
    """A view alone: one card on the declared stock, smaller type, larger stock, more cards.

    ``first`` is why the preferred size on the declared stock did not do, where it was tried.
    Raises ``Misfit`` with the first reason if nothing does.
    """
    stocks = papers_from(view.width_mm, view.height_mm)
    if isinstance(view, LabelSheetView):
        stocks = stocks[:1]  # labels are printed on the sheet they were measured on
    reason = first
    for stock in stocks:
        for arcmin in ARCMINS:
            if reason and _hopeless(reason.ratio, stocks[0], stock, arcmin):
                continue
            try:
                fitted = _one(view, maker, _setting(view, maker, stock, arcmin, border_mm))
            except Misfit as misfit:
                reason = reason or misfit
            else:
                return replace(fitted, reason=str(reason) if reason and stock != stocks[0] else "")
    assert reason is not None
    if kinds.is_one_card(view):
        raise reason
    return replace(_split(view, maker, stocks, border_mm, reason), reason=str(reason))


def _hopeless(ratio: float, declared: Paper, stock: Paper, arcmin: float) -> bool:
    """Whether what took ``ratio`` of the declared card's height cannot fit this one."""
    if (stock, arcmin) == (declared, PREFERRED_ARCMIN):
        return True
    expected: float = (
        ratio
        * (arcmin / PREFERRED_ARCMIN) ** SIZE_POWER
        * (declared.width_mm / stock.width_mm) ** WIDTH_POWER
        * declared.height_mm
        / stock.height_mm
    )
    return expected > HOPELESS


def _setting(view: View, maker: Maker, stock: Paper, arcmin: float, border_mm: float) -> Setting:
    return Setting(
        maker.layouts, view.kind, view.language, stock, view.reading_distance_mm, arcmin, border_mm
    )


def _laid_out(sections: Sequence[Section], setting: Setting, maker: Maker) -> LaidOut:
    html = maker.html(sections, setting)
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


def _one(view: View, maker: Maker, setting: Setting) -> Fitted:
    """The view on one card. Raises ``Misfit``."""
    section = Section(view)
    laid = _laid_out([section], setting, maker)
    page = _page(laid, 0, view)
    if isinstance(view, GaugeStripView):
        section = _with_labels(view, laid.pages[page].boxes)
        try:
            laid = _laid_out([section], setting, maker)
        except TooCrowded as crowded:
            raise Misfit(str(crowded), 1.0, 1.0) from crowded
    return Fitted(view, setting.stock, setting.arcmin, (section,), laid, page)


def _with_labels(view: GaugeStripView, boxes: Mapping[str, Box]) -> Section:
    """A gauge strip that knows how high its labels are and where they may stand."""
    heights = tuple(boxes[f"c0-r{row}"].height_mm for row in range(len(view.rows)))
    room = (boxes["c0-end"].top_mm, boxes["c0-bottom"].top_mm)
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
        reach = [0.0, *accumulate(self.rows_mm)]
        rows = len(self.rows_mm)

        def taken(start: int, end: int) -> float:
            return reach[end] - reach[start] + self.every_mm + (self.last_mm if end == rows else 0)

        @cache
        def best(start: int, left: int) -> tuple[float, tuple[int, ...]]:
            if left == 1:
                return taken(start, rows), (start,)
            ends = range(start + 1, rows - left + 2)
            tried = ((end, best(end, left - 1)) for end in ends)
            return min((max(taken(start, end), rest), (start, *cut)) for end, (rest, cut) in tried)

        if cards > rows:
            return None
        fullest, starts = best(0, cards)
        return starts if fullest <= self.room_mm else None

    def fewest(self) -> int:
        """The least number of cards that do; one more than the most there may be if none does."""
        enough = (n for n in range(2, MOST_CARDS + 1) if self.starts(n) is not None)
        return next(enough, MOST_CARDS + 1)

    def smaller(self, factor: float) -> _Measured:
        """What smaller type may take at least."""
        rows = tuple(height * factor for height in self.rows_mm)
        return _Measured(rows, self.every_mm * factor, self.last_mm * factor, self.room_mm)


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
    heights = tuple(box.height_mm for box in found)
    return _Measured(heights, found[0].top_mm + below, tail, page.height_mm)


def _measured(view: View, maker: Maker, setting: Setting) -> _Measured:
    """Lay the view out on a very high card, to see what its rows take."""
    tall = replace(setting, stock=replace(setting.stock, height_mm=TALL_MM))
    laid = _laid_out([Section(view, 2, 2)], tall, maker)
    seen = _seen(laid, 0, 0, "c0", kinds.rows(view))
    if seen is None:
        raise ValueError(f"the layout of {view.kind} cards does not mark its rows")
    return replace(seen, room_mm=setting.stock.height_mm)


def _split(
    view: View, maker: Maker, stocks: Sequence[Paper], border_mm: float, reason: Misfit
) -> Fitted:
    """The view over as few cards as do on any stock at any size, on the smallest such stock, set
    as large as that many hold."""
    tries: list[tuple[int, int, int, Setting, _Measured]] = []
    for place, stock in enumerate(stocks):
        seen: _Measured | None = reason.measured if stock == stocks[0] else None
        for rank, arcmin in enumerate(ARCMINS):
            setting = _setting(view, maker, stock, arcmin, border_mm)
            if seen and rank and seen.smaller(arcmin / ARCMINS[rank - 1]).fewest() >= seen.fewest():
                continue  # smaller type would not save a card
            if seen is None or rank:
                seen = _measured(view, maker, setting)
            tries.append((seen.fewest(), place, rank, setting, seen))
    for cards, _, _, setting, seen in sorted(tries, key=lambda one: one[:3]):
        starts = seen.starts(cards)
        if starts is not None:
            try:
                return _cards(view, maker, setting, starts)
            except Misfit:
                continue
    raise reason


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
