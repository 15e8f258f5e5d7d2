"""Views in; each laid out on as few and as small cards as can be read from its distance, out.

The engine lays cards out; this module chooses stock, type size and number of cards. The best choice
that may do by what is known of a card is laid out, which tells more of it, until the best choice is
one that was laid out and fits. Nothing is shrunk below the legible floor or cut off: what does not
fit is set in smaller type down to the floor, then on a larger stock, then on further cards, then on
the widest stock, and what still does not fit is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise, product
from math import inf

from buildsheets.print import kinds, strips
from buildsheets.print.bounds import bounded
from buildsheets.print.document import Maker, Section, Setting, level_unit
from buildsheets.print.engine import Box, LaidOut, Page, lay_out
from buildsheets.print.gauge import OffCard, TooCrowded, mark_y_mm
from buildsheets.print.heights import Heights, guessed
from buildsheets.print.parts import Kept, Parts, first_page, laid_parts
from buildsheets.print.sizes import ARCMINS
from buildsheets.views.paper import DEFAULT_LARGEST, WIDEST, Paper, papers_from
from buildsheets.views.types import (
    GaugeStripView,
    LabelSheetView,
    StationCardView,
    View,
)

# Measured over the demo's cards: what a card takes grows with this power of the type's size (second
# lines keep the floor, so it grows less than in proportion) and falls with this power of the width.
# They only spare hopeless tries.
SIZE_POWER = {"station": 1.0}
USUAL_SIZE_POWER, WIDTH_POWER = 0.5, 0.6
HOPELESS = 1.03
CLOSER = 0.97


class Misfit(Exception):
    """The card does not fit; the message says what takes how much."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A view as it was laid out: stock, type size, its sections, and its pages in a document."""

    view: View
    stock: Paper
    arcmin: float
    sections: tuple[Section, ...]
    laid_out: LaidOut | Parts
    first_page: int
    first_section: int
    reason: str = ""  # why one card of the declared size did not do; "" if it did

    def pdf(self) -> bytes:
        """Its pages. Raises ``EngineComplaint``."""
        return self.laid_out.pdf(self.first_page, self.first_page + len(self.sections))


@dataclass(frozen=True, slots=True)
class Choice:
    """A stock, a type size, and the first row of each card."""

    setting: Setting
    starts: tuple[int, ...] = (0,)


def fit(views: Sequence[View], maker: Maker, border_mm: float, kept: Kept) -> list[Fitted | Misfit]:
    """Views of one kind, language, size and distance: for each its cards, or why there are none.

    What is chosen alike is laid out in one document. What comes of a view does not depend on the
    others, nor on what is kept. Raises what :meth:`Maker.html` and :func:`lay_out` raise.
    """
    searches = [_Search(view, maker, border_mm) for view in views]
    while True:
        together: dict[tuple[Choice, int], list[_Search]] = {}
        for place, search in enumerate(searches):
            if choice := search.to_lay_out():
                own = place if len(choice.starts) > 1 else -1  # enough pages for a document
                together.setdefault((choice, own), []).append(search)
        if not together and not any(search.widened() for search in searches):
            return [search.result() for search in searches]
        for (choice, _), alike in together.items():
            _lay_out(alike, choice, maker, kept)


def _settings(
    view: View, maker: Maker, border_mm: float, largest: Sequence[str]
) -> tuple[Setting, ...]:
    """How a view may be set: as declared first, then in smaller type, then on larger stock."""
    reach_mm = max((line.height_mm - border_mm for line in getattr(view, "gauge", ())), default=0.0)
    stocks = papers_from(view.width_mm, view.height_mm, largest, reach_mm)
    if isinstance(view, LabelSheetView):
        stocks = stocks[:1]  # labels are printed on the sheet they were measured on
    return tuple(
        Setting(
            maker.layouts, view.kind, view.language, stock, view.reading_distance_mm, arcmin,
            border_mm, level_unit(view),
        )
        for stock, arcmin in product(stocks, ARCMINS)
    )  # fmt: skip


def _off_card(view: View, setting: Setting) -> str:
    """Which line of a view's edge gauge a card misses; "" where it shows all of them."""
    try:
        for line in getattr(view, "gauge", ()):
            mark_y_mm(line, setting.stock.height_mm, setting.pouch_border_mm)
    except OffCard as off:
        return str(off)
    return ""


class _Search:
    """What is known of a view: what it takes, which choices do not hold it, and how those that do
    were laid out."""

    def __init__(self, view: View, maker: Maker, border_mm: float) -> None:
        self.view, self._maker, self._border_mm = view, maker, border_mm
        self._is_widest = False
        settings = _settings(view, maker, border_mm, DEFAULT_LARGEST)
        # Where no stock shows every line, the layout says so.
        self._settings = [one for one in settings if not _off_card(view, one)] or settings
        self._declared, self._off_card = settings[0], _off_card(view, settings[0])
        self._takes: dict[Setting, Heights] = {}
        self._runs = kinds.runs(view)
        self._latest, self._guess = settings[0], guessed(view)
        self._misfits: dict[Choice, Misfit] = {}
        self._room_mm: dict[Setting, float] = {}  # of a gauge strip's labels, once they had none
        self._fitted: dict[tuple[Setting, int], Fitted] = {}

    def takes(self, setting: Setting) -> Heights:
        """What the view takes: as it was laid out, or as what was laid out last leads to expect."""
        if setting in self._takes:
            return self._takes[setting]
        latest = self._takes.get(self._latest, self._guess)
        return latest.times(_growth(self._latest, setting))

    def best(self) -> Choice | None:
        """The best choice that may do: one card before several, then as declared before smaller
        type before larger stock; of several, larger type before fewer cards before smaller stock.
        """
        for setting in self._settings:
            full = self.takes(setting).total_mm / setting.stock.height_mm
            hopeful = full <= HOPELESS and Choice(setting) not in self._misfits
            if hopeful or (setting, 1) in self._fitted:
                return Choice(setting)
        tries = [
            (ARCMINS.index(setting.arcmin), len(starts), place, Choice(setting, starts))
            for place, setting in enumerate(self._settings)
            if not kinds.is_one_card(self.view)
            and (starts := self._starts(setting))
            and self._untried(setting, starts)
        ]
        if tries:
            return min(tries, key=lambda one: one[:3])[-1]
        # Nothing is refused for what is only expected of it.
        left = [
            (ARCMINS.index(setting.arcmin), -place, Choice(setting))
            for place, setting in enumerate(self._settings)
            if setting not in self._takes and Choice(setting) not in self._misfits
        ]
        return min(left, key=lambda one: one[:2])[-1] if left else self._each_alone()

    def _each_alone(self) -> Choice | None:
        """The last resort of a station: each row on a card of its own, smallest on the largest
        stock; what then does not fit is that row's drink."""
        starts = tuple(range(kinds.rows(self.view)))
        alone = Choice(self._settings[-1], starts)
        may = isinstance(self.view, StationCardView) and len(starts) > 1
        return alone if may and alone not in self._misfits else None

    def _starts(self, setting: Setting) -> tuple[int, ...] | None:
        """The first row of each of several cards, as they were not tried yet.

        Where they do not quite do, it is tried too. What stands over a table is not read where it
        begins a page: cards may hold less than is reckoned, and then are filled less.
        """
        if isinstance(self.view, GaugeStripView):
            room_mm = self._room_mm.get(setting)
            label_mm = partial(self._maker.strip_label_mm, setting=setting)
            return strips.starts(self.view, label_mm, room_mm) if room_mm else None
        takes, room_mm = self.takes(setting), setting.stock.height_mm
        shares = (1.0, HOPELESS, *(CLOSER**n for n in range(1, 10)))
        found = (takes.starts(share * room_mm, self._runs) for share in shares)
        return next((one for one in found if one and self._untried(setting, one)), None)

    def _untried(self, setting: Setting, starts: tuple[int, ...]) -> bool:
        return Choice(setting, starts) not in self._misfits

    def to_lay_out(self) -> Choice | None:
        """The best choice, until it is one that was laid out and fits."""
        choice = self.best()
        if choice and (choice.setting, len(choice.starts)) in self._fitted:
            return None
        return choice

    def widened(self) -> bool:
        """Whether it now takes the widest stock too, as no other holds the view on any cards."""
        if self._is_widest or self.best() is not None:
            return False
        self._is_widest, known = True, self._settings
        every = _settings(self.view, self._maker, self._border_mm, WIDEST)
        wider = [one for one in every if one not in known and not _off_card(self.view, one)]
        self._settings = [*known, *wider]
        return bool(wider)

    def sections(self, starts: Sequence[int]) -> tuple[Section, ...]:
        """A section for each card, which begins with these rows."""
        if len(starts) == 1:
            return (Section(self.view),)
        bounds = [*pairwise([*starts, kinds.rows(self.view)])]
        names = kinds.row_names(self.view)
        ends = bounds if names else []
        spans = tuple((names[start][0], names[end - 1][1]) for start, end in ends)
        return tuple(
            Section(kinds.some_rows(self.view, start, end), part, len(starts), spans)
            for part, (start, end) in enumerate(bounds, 1)
        )

    def learn(
        self, choice: Choice, laid: LaidOut | Parts, first: int, sections: Sequence[Section]
    ) -> None:
        """Read what came of a choice from its cards, the sections from ``first`` on."""
        cards = [_laid_card(laid, first + n, one.view) for n, one in enumerate(sections)]
        setting = choice.setting
        self._takes[setting] = _all_take(cards)
        self._latest = setting
        misfits = [(one, card.misfit) for one, card in zip(sections, cards, strict=True)]
        wrong = next((_whose(one, misfit) for one, misfit in misfits if misfit), "")
        if wrong:
            self.refuse(choice, wrong)
            return
        self._fitted[setting, len(cards)] = Fitted(
            self.view, setting.stock, setting.arcmin, tuple(sections), laid, cards[0].page, first
        )

    def refuse(self, choice: Choice, why: str, sections: Sequence[Section] = ()) -> None:
        """A choice does not hold the view: labels have too little room on one of its cards."""
        self._misfits[choice] = Misfit(why)
        rooms_mm = [end - start for one in sections if one.room_mm for start, end in [one.room_mm]]
        if rooms_mm:
            # A card that should have done has longer labels than was reckoned.
            before_mm = self._room_mm.get(choice.setting, inf)
            self._room_mm[choice.setting] = min(*rooms_mm, CLOSER * before_mm)

    def result(self) -> Fitted | Misfit:
        """The cards, once nothing better is left to lay out, or why there are none."""
        declared = self._declared
        high = self.takes(declared).total_mm
        why = self._misfits.get(Choice(declared)) or Misfit(
            self._off_card or _too_high(high, declared.stock)
        )
        choice = self.best()
        if choice is None:
            may_split = kinds.rows(self.view) and not kinds.is_one_card(self.view)
            if may_split and not self.takes(declared).rows_mm:
                raise ValueError(f"the layout of {self.view.kind} cards does not mark its rows")
            # Of all that was tried: several cards before one, small type before large.
            tried = sorted(self._misfits, key=lambda one: (-len(one.starts), one.setting.arcmin))
            return self._misfits[tried[0]] if tried and not self._off_card else why
        fitted = self._fitted[choice.setting, len(choice.starts)]
        as_declared = fitted.stock == declared.stock and len(fitted.sections) == 1
        return fitted if as_declared else replace(fitted, reason=str(why))


def _growth(one: Setting, other: Setting) -> float:
    """About how much higher a card is set at another setting."""
    larger = (other.arcmin / one.arcmin) ** SIZE_POWER.get(one.kind, USUAL_SIZE_POWER)
    narrower = (one.stock.width_mm / other.stock.width_mm) ** WIDTH_POWER
    return float(larger * narrower)


def _lay_out(searches: Sequence[_Search], choice: Choice, maker: Maker, kept: Kept) -> None:
    """The cards of views that chose alike, in one document."""
    held = [search.sections(choice.starts) for search in searches]
    sections = [section for of_one in held for section in of_one]
    try:
        laid = _laid_out(sections, choice.setting, maker, kept)
        if isinstance(sections[0].view, GaugeStripView):
            sections = [_with_labels(n, one, laid) for n, one in enumerate(sections)]
            cards = len(choice.starts)
            held = [(*sections[n : n + cards],) for n in range(0, len(sections), cards)]
            laid = _laid_out(sections, choice.setting, maker, kept)
    except TooCrowded as crowded:
        if len(searches) > 1:
            raise  # each alone tells whose labels they are
        searches[0].refuse(choice, str(crowded), sections)
        return
    for place, (search, of_one) in enumerate(zip(searches, held, strict=True)):
        search.learn(choice, laid, place * len(choice.starts), of_one)


def _laid_out(
    sections: Sequence[Section], setting: Setting, maker: Maker, kept: Kept
) -> LaidOut | Parts:
    def document(some: Sequence[Section]) -> LaidOut:
        # A shop's own templates may be HTML that is not XML.
        xml = maker.layouts.own is None
        with bounded(maker.layouts):
            html = maker.html(some, setting)
            return lay_out(html, maker.style(setting), maker.layouts, well_formed=xml)

    if sections[0].parts > 1:  # all are of one view
        return laid_parts(sections, setting, document, kept)
    return document(sections)


def _with_labels(place: int, section: Section, laid: LaidOut | Parts) -> Section:
    """A gauge strip that knows how high its labels are and where they may stand."""
    # A label higher than a card makes more pages than cards.
    boxes = next(page.boxes for page in laid.pages if f"c{place}" in page.boxes)
    assert isinstance(section.view, GaugeStripView)
    heights = tuple(boxes[f"c{place}-r{row}"].height_mm for row in range(len(section.view.rows)))
    room = (boxes[f"c{place}-end"].top_mm, boxes[f"c{place}-bottom"].top_mm)
    return replace(section, label_heights_mm=heights, room_mm=room)


@dataclass(frozen=True, slots=True)
class _Card:
    """A card as it was laid out: its page, what its rows, what is beside them and what follows
    them take, and what does not fit."""

    page: int
    rows_mm: tuple[float, ...]
    beside_mm: float
    after_mm: float
    misfit: str


def _laid_card(laid: LaidOut | Parts, place: int, view: View) -> _Card:
    name = f"c{place}"
    at, end_at = (first_page(laid.pages, one, view) for one in (name, f"{name}-end"))
    pages = laid.pages[at : end_at + 1]
    boxes = {key: box for page in reversed(pages) for key, box in page.boxes.items()}
    height, end = pages[0].height_mm, boxes[f"{name}-end"].top_mm
    below = height - boxes[f"{name}-bottom"].top_mm if f"{name}-bottom" in boxes else 0.0
    taken = (len(pages) - 1) * height + end + below
    misfit = _too_high(taken, pages[0]) if taken > height else _label_misfit(view, boxes, name)
    ids = [f"{name}-r{row}" for row in range(kinds.rows(view))]
    no_rows = isinstance(view, GaugeStripView | LabelSheetView)  # in the flow, one below another
    if not ids or no_rows or not all(one in boxes for one in ids):
        return _Card(at, (), taken, 0.0, misfit)
    rows = [boxes[one] for one in ids]
    # From row to row, so that what stands between them counts; over a page's end, its own height.
    tops = [*(box.top_mm for box in rows[1:]), rows[-1].bottom_mm]
    heights = tuple(
        max(box.height_mm, below_mm - box.top_mm) for box, below_mm in zip(rows, tops, strict=True)
    )
    # A shop's own template may have its rows in another order.
    first, last = ([page.boxes[one] for one in ids if one in page.boxes]
                   for page in (pages[0], pages[-1]))  # fmt: skip
    beside = min((box.top_mm for box in first), default=0.0) + below
    after = taken - beside - sum(heights)
    if ids[-1] in pages[-1].boxes:
        after = end - max(box.bottom_mm for box in last)
    return _Card(at, heights, beside, max(0.0, after), misfit)


def _whose(section: Section, misfit: str) -> str:
    """What does not fit on one of several cards, and of which drink, where it holds one alone."""
    names = {name for row in kinds.row_names(section.view) for name in row}
    alone = section.parts > 1 and len(names) == 1
    return f"{names.pop()} alone: {misfit}" if alone else misfit


def _too_high(taken_mm: float, room: Paper | Page) -> str:
    return f"it takes {taken_mm:.0f} mm, the card is {room.height_mm:g} mm high"


def _label_misfit(view: View, boxes: Mapping[str, Box], name: str) -> str:
    """Which label of a sheet is higher than its place."""
    if isinstance(view, LabelSheetView):
        for number, label in enumerate(view.labels):
            high = boxes[f"{name}-r{number}"].height_mm
            if high > view.label_height_mm:
                what = f"the label {label.name!r} takes {high:.1f} mm"
                return f"{what}, has {view.label_height_mm:g}"
    return ""


def _all_take(cards: Sequence[_Card]) -> Heights:
    """What a view takes, from its cards: what follows rows on any but the last stands on each."""
    *others, last = cards
    after = max((card.after_mm for card in others), default=0.0)
    rows = tuple(height for card in cards for height in card.rows_mm)
    every = max(card.beside_mm for card in cards) + after
    return Heights(rows, every, max(0.0, last.after_mm - after))
