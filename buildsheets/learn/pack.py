"""A shop's cards in a language go in; the pages of a hire's first-day pack, in their strings, out.

Nothing is figured here: what a page says, a card of the shop says in the same words. The names that
the shop's first language has otherwise stand beside those of the hire's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from buildsheets.menu.model import CupSize, Drink, Menu, Station
from buildsheets.views.build import station_marks
from buildsheets.views.card import office_foot
from buildsheets.views.paper import BENCH_MM, neighbour, sheet_mm
from buildsheets.views.sheets import sheet
from buildsheets.views.types import (
    AllergenMatrixView,
    BatchCardView,
    BuildCardView,
    CupView,
    DrawnLine,
    Foot,
    GaugeLine,
    GaugeStripView,
    RackLine,
    SheetTable,
    SheetView,
    StationCardView,
    View,
)
from buildsheets.views.words import Named, Words
from buildsheets.wall.strings import readings

Compose = Callable[[], View | None]
Cards = Mapping[tuple[str, str, str], Compose]
"""What composes each card of a language, by its kind, subject and cup."""

V = TypeVar("V", bound=View)

MOST_SOLD = 6
"""So many drinks are what most guests of a day ask for; common practice, no source."""

AROUND_MM = 64.0
"""Above and below the cup on its page: title, notes and foot, measured on the demo. A cup that is
higher than this leaves of the paper is on the next larger one."""

COUNTER_MM = 600.0
"""From the eye of who stands to a page that lies on the counter; common practice, no source."""


@dataclass(frozen=True)
class BothNames(Words):
    """The words of a language, with the name that another one has beside each name."""

    beside: Words = field(kw_only=True)

    def name(self, entry: Named) -> str:
        own, other = super().name(entry), self.beside.name(entry)
        return own if own == other else f"{own} ({other})"


def pack(menu: Menu, cards: Cards, words: Words) -> tuple[View, ...]:
    """The pages: counter, cards, cups, tools, the drinks most sold, cautions, allergens, words."""
    told = next(of_kind(cards, "words", SheetView))
    tables = {table.header[0]: table for table in told.tables}
    measures = tables.pop(words("words_measures"), None)
    tables.pop(words("words_stations"), None)
    orders = tables.pop(words("words_orders"), None)
    allergens = next(of_kind(cards, "allergens", AllergenMatrixView))
    pages: list[View] = [
        _counter(menu, cards, words),
        _cards(menu, cards, words),
        *_cups(menu, cards, words),
        page(menu, words, "pack-tools", words("pack_tools"), filter(None, (measures, orders))),
        *_drinks(menu, cards, words),
        _cautions(menu, cards, words),
        replace(allergens, code="pack-allergens", foot=foot(menu, words, "pack-allergens")),
        page(menu, words, "pack-words", told.title, tables.values(), distance_mm=BENCH_MM),
    ]
    return tuple(
        replace(one, foot=replace(one.foot, revision=f"{number}/{len(pages)}"))
        for number, one in enumerate(pages, 1)
    )


def of_kind(cards: Cards, kind: str, type_: type[V], cup: str | None = None) -> Iterator[V]:
    """The cards of a kind, of one cup or of all, in the order of the menu."""
    for (its_kind, _, its_cup), compose in cards.items():
        if its_kind == kind and cup in (None, its_cup) and isinstance(view := compose(), type_):
            yield view


def foot(menu: Menu, words: Words, code: str) -> Foot:
    """The foot of a page: with the code of the edition, which tells a pack that is out of date."""
    edition = words.text(menu.edition.name)
    own = office_foot(words, menu, code)
    return replace(own, edition=f"{menu.edition.code} ({edition})", shop=words.text(menu.shop.name))


def page(
    menu: Menu,
    words: Words,
    code: str,
    title: str,
    tables: Iterable[SheetTable],
    notes: Sequence[str] = (),
    *,
    kind: str = "pack",
    subtitle: str = "",
    distance_mm: float = COUNTER_MM,
) -> SheetView:
    """A page of tables, on the paper of the shop's sheets; with the marks of stations that it names
    in a title or by their letter."""
    made = sheet(menu, words, kind, code, title, tables, notes, distance_mm, subtitle=subtitle)
    rows = (row for table in made.tables for row in table.rows)
    named = {title, *(table.title for table in made.tables), *(row[0] for row in rows)}
    marks = station_marks(menu, words).values()
    return replace(
        made,
        foot=foot(menu, words, code),
        marks=tuple(mark for mark in marks if named & {mark.letter, mark.name}),
    )


# the counter ------------------------------------------------------------------------------------

CARDS = ("build", "station", "gauge", "addons", "batch", "allergens", "words")
"""The kinds of cards, as a hire needs them."""


def _counter(menu: Menu, cards: Cards, words: Words) -> SheetView:
    header = ("", words("pack_station"), words("pack_does"), words("pack_next"))
    passed = _as_passed(menu, cards)
    stations = tuple(
        (
            one.letter,
            words.name(one),
            _doings(menu, cards, one),
            _next(passed, menu, cards, one, words),
        )
        for one in passed
    )
    ask = words.text(menu.shop.ask) if menu.shop.ask else ""
    people = ((words("pack_ask"), ask), (words("pack_name"), ""), (words("pack_began"), ""))
    tables = (
        SheetTable("", header, stations, "llll", (1.0, 3.4, 8.0, 3.8), strong=(1,)),
        SheetTable("", (words("pack_people"), ""), people, "ll", (2.0, 6.0), strong=(0,)),
    )
    notes = words("pack_cards_are_right"), words("pack_never_guess")
    title = words("pack_title", shop=words.text(menu.shop.name))
    return page(menu, words, "pack-counter", title, tables, notes, subtitle=words("pack_counter"))


def _cards(menu: Menu, cards: Cards, words: Words) -> SheetView:
    """Which cards the shop has, what each is for, and what the pack means by the usual order."""
    there = {kind for (kind, _, _), compose in cards.items() if compose() is not None}
    told = tuple(
        (words(f"pack_card_{kind}"), words(f"pack_card_{kind}_for"))
        for kind in CARDS
        if kind in there
    )
    header = (words("pack_card"), words("pack_card_for"))
    table = SheetTable("", header, told, "ll", (2.0, 6.0), strong=(0,))
    notes = words("learn_usual_means"), words("pack_cards_are_right")
    return page(menu, words, "pack-cards", words("pack_cards"), [table], notes)


def _as_passed(menu: Menu, cards: Cards) -> list[Station]:
    """The stations in the order that most drinks pass them."""
    routes = [
        [mark.letter for mark in build.stations]
        for build in of_kind(cards, "build", BuildCardView)
    ]  # fmt: skip

    def before(one: Station, other: Station) -> bool:
        first = Counter(
            route.index(other.letter) < route.index(one.letter)
            for route in routes
            if {one.letter, other.letter} <= {*route}
        )
        return first[True] > first[False]

    stations = menu.stations.values()
    return sorted(stations, key=lambda one: sum(before(one, other) for other in stations))


def at_station(menu: Menu, cards: Cards, station: Station) -> list[StationCardView]:
    """The cards of a station, one a cup."""
    found = (cards.get(("station", station.id, cup), lambda: None)() for cup in menu.cups)
    return [view for view in found if isinstance(view, StationCardView)]


def _doings(menu: Menu, cards: Cards, station: Station) -> str:
    """All that goes in at a station and all that is done there, each once, and its add-ons."""
    rows = [row for view in at_station(menu, cards, station) for row in view.rows]
    steps = [step for row in rows for step in row.adds]
    whats = [step.what for step in steps if step.kind != "action"]
    whats += [swap.name for step in steps for swap in step.swaps]
    whats += [one.name for row in rows for one in row.add_ons if one.station == station.letter]
    whats += [step.what for step in steps if step.kind == "action"]
    return " · ".join(dict.fromkeys(whats))


def _next(
    passed: Sequence[Station], menu: Menu, cards: Cards, station: Station, words: Words
) -> str:
    """The stations that cups go to from here, the guest where any is handed over here, and which
    drinks go back to a station before."""
    to: dict[str, dict[str, None]] = {}
    for row in (row for view in at_station(menu, cards, station) for row in view.rows):
        to.setdefault(row.goes_to, {})[row.drink.partition(" · ")[0]] = None
    place = passed.index(station)
    on = [words.name(one) for one in passed[place:] if one.letter in to]
    guest = [words("pack_guest")] if "" in to else []
    back = [
        words("pack_back", station=words.name(one), drinks=", ".join(to[one.letter]))
        for one in passed[:place]
        if one.letter in to
    ]
    return "\n".join([*([", ".join([*on, *guest])] if on or guest else []), *back])


# cups -------------------------------------------------------------------------------------------


def _cups(menu: Menu, cards: Cards, words: Words) -> Iterator[CupView]:
    """A page for each cup that a drink is sold in, with the lines of drinks in their usual order;
    those that a guest's choice asks for stand on the cards."""
    short_mm, long_mm = sheet_mm(menu.shop.card_mm)
    for size in menu.cups.values():
        gauge = next(of_kind(cards, "gauge", GaugeStripView, size.id), None)
        builds = [*of_kind(cards, "build", BuildCardView, size.id)]
        if gauge is None or not builds:
            continue
        code, floor_mm = f"pack-cup-{size.id}", size.floor_mm
        frame = [row for row in gauge.rows if row.line.kind != "line"]
        high_mm = max(row.line.height_mm for row in gauge.rows) + AROUND_MM
        larger = neighbour(short_mm, long_mm, 1) if high_mm > long_mm else None
        rows = tuple(
            sorted(
                (*frame, *_usual_lines(builds, gauge, floor_mm, words)),
                key=lambda row: -row.line.height_mm,
            )
        )
        lines = (DrawnLine(r.line.height_mm - floor_mm, r.line.label, r.line.kind) for r in rows)
        yield CupView(
            kind="pack_cup",
            language=words.language,
            code=code,
            title=gauge.size_name,
            subtitle=builds[0].cup_name,
            drawing=replace(
                builds[0].drawing, lines=tuple(lines), layers=(), dome_mm=(), alt=gauge.size_name
            ),
            rows=rows,
            notes=(
                words("pack_cup_note"),
                *([words("pack_lines_note")] if len(rows) > len(frame) else []),
                *_without_line(builds, words),
            ),
            foot=foot(menu, words, code),
            reading_distance_mm=COUNTER_MM,
            width_mm=larger.width_mm if larger else short_mm,
            height_mm=larger.height_mm if larger else long_mm,
        )


def _lines(build: BuildCardView) -> list[DrawnLine]:
    """The lines that a drink in its usual order is poured to."""
    return [line for line in build.drawing.lines if line.kind == "line"]


def _usual_lines(
    builds: Sequence[BuildCardView], gauge: GaugeStripView, floor_mm: float, words: Words
) -> Iterator[RackLine]:
    """The lines of drinks in their usual order, each with its own level, at the height of the
    gauge's mark for it: of near levels, the gauge has one mark."""
    marks: dict[str, list[RackLine]] = {}
    for row in gauge.rows:
        for text in readings(row.line.label, words):
            marks.setdefault(words(words.volumes.word, n=text), []).append(row)
    found: dict[RackLine, dict[str, None]] = {}
    poured = [(line, build.title) for build in builds for line in _lines(build)]
    for line, drink in sorted(poured, key=lambda one: -one[0].height_mm):
        up_mm = line.height_mm + floor_mm
        mark = min(marks[line.label], key=lambda row: abs(row.line.height_mm - up_mm))
        own = RackLine(GaugeLine(mark.line.height_mm, line.label, "line"), mark.height, ())
        found.setdefault(own, {})[drink] = None
    yield from (replace(own, drinks=tuple(drinks)) for own, drinks in found.items())


def _without_line(builds: Sequence[BuildCardView], words: Words) -> Iterator[str]:
    """Which drinks have no line, by the vessel that they are made in."""
    found: dict[str, list[str]] = {}
    for build in builds:
        if not _lines(build):
            vessel = next((step.vessel for step in build.steps if step.vessel), "")
            found.setdefault(vessel, []).append(build.title)
    for vessel, drinks in found.items():
        key = "pack_no_line_in" if vessel else "pack_no_line"
        yield words(key, vessel=vessel, drinks=", ".join(drinks))


# drinks -----------------------------------------------------------------------------------------


def most_sold(menu: Menu) -> list[tuple[Drink, CupSize]]:
    """The drinks that most are sold of by the menu's days, where they name any, else its first
    ones; each in the cup that most of it are sold in."""
    counts = _sold(menu)
    total = {id_: sum(counts[id_, cup.id] for cup in one.cups) for id_, one in menu.drinks.items()}
    every = [drink for drink in menu.drinks.values() if menu.sells(drink) and drink.cups]
    sold = sorted((one for one in every if total[one.id]), key=lambda one: -total[one.id])
    first = (sold or every)[:MOST_SOLD]
    return [(one, max(one.cups, key=lambda cup: counts[one.id, cup.id])) for one in first]


def _sold(menu: Menu) -> Counter[tuple[str, str]]:
    """How many of each drink and cup are sold on the menu's days together."""
    counts: Counter[tuple[str, str]] = Counter()
    for line in (line for day in menu.days.values() for line in day.lines):
        counts[line.drink.id, line.cup.id] += line.count
    return counts


def _drinks(menu: Menu, cards: Cards, words: Words) -> Iterator[BuildCardView]:
    """A page for each drink that is sold most: its card, larger."""
    width_mm, height_mm = sheet_mm(menu.shop.card_mm)
    chosen, counts = most_sold(menu), _sold(menu)
    sold = any(counts[drink.id, size.id] for drink, size in chosen)
    which = "pack_most_sold" if sold else "pack_first_drinks"
    for number, (drink, size) in enumerate(chosen, 1):
        view = cards.get(("build", drink.id, size.id), lambda: None)()
        if not isinstance(view, BuildCardView):
            continue
        code = f"pack-{drink.id}"
        rank = words(which, count=len(chosen), number=number)
        yield replace(
            view,
            kind="pack_drink",
            code=code,
            subtitle=f"{view.subtitle} · {rank}",
            foot=foot(menu, words, code),
            gauge=(),
            keeps=(),
            reading_distance_mm=COUNTER_MM,
            width_mm=width_mm,
            height_mm=height_mm,
        )


# cautions ---------------------------------------------------------------------------------------


def _cautions(menu: Menu, cards: Cards, words: Words) -> SheetView:
    """Each caution of the cards once, with the drinks and batches that it is for."""
    builds = [*of_kind(cards, "build", BuildCardView)]
    drinks = dict.fromkeys(build.title for build in builds)
    whom: dict[str, dict[str, None]] = {}
    for build in builds:
        for caution in build.cautions:
            whom.setdefault(caution, {})[build.title] = None
    every = {words("pack_every_drink"): None}
    whom = {told: every if len(names) == len(drinks) else names for told, names in whom.items()}
    batches = [*of_kind(cards, "batch", BatchCardView)]
    for batch in batches:
        for caution in batch.cautions:
            made = {words("pack_making", batch=batch.title): None}
            whom[caution] = {**whom.get(caution, {}), **made}
    rows = tuple((caution, ", ".join(names)) for caution, names in whom.items())
    header = (words("pack_caution"), words("pack_for"))
    table = SheetTable("", header, rows, "ll", (1.0, 1.0), strong=(0,))
    notes = [words("pack_allergy")]
    if any(build.add_ons or build.swaps for build in builds):
        notes.append(words("pack_both_rows"))
    if any(words("prep_day_one") in batch.keeps for batch in batches):
        notes.append(words("prep_day_one_of_all"))
    notes.append(words("prep_no_date"))
    return page(menu, words, "pack-cautions", words("cautions"), [table], notes)
