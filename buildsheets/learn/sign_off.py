"""A menu's stations go in; the sheet on which a hire is signed off comes out. What changed since an
edition goes in; what of it those who are signed off have to be told, station by station, comes out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from buildsheets.compare.change import Change, What, grouped, numbers_of
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sentences import capital, sentence
from buildsheets.compare.wall import of_portions
from buildsheets.cup.serving import Serving
from buildsheets.learn.pack import Cards, at_station, page
from buildsheets.menu.equipment import PULLS
from buildsheets.menu.model import AddStep, Batch, Component, Ingredient, Menu, Station, Tool
from buildsheets.views.paper import BENCH_MM
from buildsheets.views.types import SheetTable, SheetView, StationRow
from buildsheets.views.words import Words
from buildsheets.views.words_card import counted, gives

ChangedAt = Mapping[str, Mapping[str, tuple[str, ...]]]
"""Sentences of what changed, by station and drink."""


def sign_off(
    menu: Menu, servings: Sequence[Serving], cards: Cards, words: Words
) -> tuple[SheetView, ...]:
    """A page a station with what there is to learn there, its tools, its batches, its drinks, and
    room for the date and the initials of the hire and of who taught it.

    It is signed when the hire made it alone from the cards, twice, once with options; common
    practice, no source.
    """
    header = (words("sign_date"), words("sign_hire"), words("sign_teacher"))

    def table(first: str, skills: Iterable[str]) -> SheetTable:
        rows = tuple((skill, "", "", "") for skill in dict.fromkeys(skills))
        return SheetTable("", (words(first), *header), rows, "llll", (5.4, 1.4, 1.8, 2.2))

    def head(*keys: str) -> SheetTable:
        rows = tuple((words(key), "") for key in keys)
        return SheetTable("", ("", ""), rows, "ll", (3.6, 7.2), strong=(0,))

    everywhere = table(
        "sign_everywhere", map(words, ("sign_allergens", "sign_cautions", "sign_cards"))
    )
    whom, done = head("pack_name", "sign_taught"), head("sign_done")
    make = "sign_part" if len(menu.stations) > 1 else "sign_drink"
    made_at, pages = _made_at(menu, servings), []
    for station in menu.stations.values():
        rows = [row for view in at_station(menu, cards, station) for row in view.rows]
        made = [one for one in menu.batches.values() if made_at[one.id] == station.id]
        skills = [_tool(tool, words) for tool in _tools(menu, servings, station)]
        skills += [words("sign_batch", batch=words.name(one)) for one in made]
        drinks = {row.drink.partition(" · ")[0] for row in rows}
        names = map(words.name, menu.drinks.values())
        skills += [words(make, drink=name) for name in names if name in drinks]
        if options := _options(rows, station):
            skills.append(words("sign_options", names=", ".join(options)))
        if not skills:
            continue
        skills += map(words, ("sign_allergy", "sign_labels"))
        pages.append(
            page(
                menu, words, f"signoff-{station.id}", words.name(station),
                [whom, everywhere, table("sign_skill", skills), done],
                [words("sign_when"), words("sign_note")],
                kind="signoff", subtitle=words("sign_title"), distance_mm=BENCH_MM,
            )
        )  # fmt: skip
    return tuple(pages)


def _options(rows: Sequence[StationRow], station: Station) -> dict[str, None]:
    """The add-ons and swaps that go in at a station."""
    names = [one.name for row in rows for one in row.add_ons if one.station == station.letter]
    names += [swap.name for row in rows for step in row.adds for swap in step.swaps]
    return dict.fromkeys(names)


def _tool(tool: Tool, words: Words) -> str:
    name = counted(tool, words)
    return words("sign_tool", tool=name if tool.kind == PULLS else f"{name}: {gives(tool, words)}")


def _poured(servings: Sequence[Serving]) -> Iterator[tuple[str, Tool | None, Component]]:
    """What goes into drinks, add-ons and swaps too: the station, the tool and the component."""
    for serving in servings:
        for one in (serving, *serving.choices.swapped):
            for figure in one.steps:
                step = figure.step
                if isinstance(step, AddStep) and step.station:
                    yield step.station.id, step.tool, step.component
        for add_on in serving.offered:
            if station := add_on.component.station:
                yield station.id, add_on.component.tool, add_on.component


def _tools(menu: Menu, servings: Sequence[Serving], station: Station) -> list[Tool]:
    """The tools used at a station, in the order of the menu."""
    used = {tool.id for at, tool, _ in _poured(servings) if at == station.id and tool}
    return [tool for tool in menu.tools.values() if tool.id in used and tool.kind != "line"]


def _made_at(menu: Menu, servings: Sequence[Serving]) -> dict[str, str]:
    """The station of each batch: the first that it goes into a drink at, itself or what is made of
    it; the last of the counter for what goes into none."""
    at: dict[str, str] = {}
    held = [(component.source, station) for station, _, component in _poured(servings)]
    while held:
        inside: list[tuple[Ingredient | Batch | None, str]] = []
        for one, station in held:
            if isinstance(one, Batch) and one.id not in at:
                at[one.id] = station
                inside += [(part.item, station) for part in one.parts]
        held = inside
    return {batch: at.get(batch, [*menu.stations][-1]) for batch in menu.batches}


# what to brief again ----------------------------------------------------------------------------


def changed_at(
    menu: Menu, servings: Sequence[Serving], comparison: Comparison, words: Words
) -> ChangedAt:
    """What changed at each station, by its id, then by drink or batch: each sentence after the
    sizes it is of; nothing of a station where nothing changed."""
    made_at = _made_at(menu, servings)
    places = {"": 0, **{cup: place for place, cup in enumerate(menu.cups, 1)}}
    found: dict[str, list[CardChange]] = {station: [] for station in menu.stations}
    for card in sorted(comparison.cards, key=lambda card: places.get(card.key.cup, len(places))):
        kind, subject = card.key.kind, card.key.subject
        station = {"station": subject, "batch": made_at.get(subject, "")}.get(kind, "")
        if station in found and card.key.language == words.language:
            found[station].append(card)
    told = {station: _told(cards, words) for station, cards in found.items()}
    return {station: lines for station, lines in told.items() if lines}


def _told(cards: Sequence[CardChange], words: Words) -> dict[str, tuple[str, ...]]:
    """By drink or batch, what changed, after the sizes or scales that it changed in."""
    sizes = grouped((one, card.size) for card in cards for one in _changes(card, words))
    lines = grouped(
        (drink, f"{', '.join(dict.fromkeys(of))}: {text}") for (drink, text), of in sizes.items()
    )
    return {drink: tuple(of_drink) for drink, of_drink in lines.items()}


def brief(menu: Menu, changed: ChangedAt, since: str, words: Words) -> SheetView:
    """The sheet to brief by: a table a station, a box to tick for each drink."""
    header, weights = (words("drink"), words("brief_what"), words("brief_who")), (2.4, 6.0, 1.8)
    tables = [
        SheetTable(
            words.name(menu.stations[station]),
            header,
            tuple((drink, "\n".join(lines), "") for drink, lines in drinks.items()),
            "lll", weights, tick=True, strong=(0,),
        )
        for station, drinks in changed.items()
    ]  # fmt: skip
    title, whom = words("brief_title", edition=since), words("brief_whom")
    return page(
        menu, words, "signoff-brief", title, tables,
        kind="signoff", subtitle=whom, distance_mm=BENCH_MM,
    )  # fmt: skip


def _changes(card: CardChange, words: Words) -> Iterator[tuple[str, str]]:
    """The drink and the sentence of each change; of a card that came or went, that it did."""
    if not card.before or not card.after:
        yield card.name, words("brief_new" if card.after else "brief_gone")
        return
    for change in filter(_is_to_tell, card.changes):
        drink = ", ".join(change.drinks) or card.name
        if "amounts" in change.where:
            yield drink, capital(words("brief_amounts"))
        else:
            yield drink, sentence(_of_row(change), words)


def _is_to_tell(change: Change) -> bool:
    """Whether somebody does or sees something otherwise; what a cup leaves at, marks of the gauge
    and a batch's portions follow from what is told."""
    if change.what is What.TEXT and change.subject in ("arrives_at", "leaves_at"):
        arrives = change.subject == "arrives_at"
        return arrives and numbers_of(change.was) != numbers_of(change.now)
    tables = ("portions", "scaling")
    follows = "gauge" in change.where or change.subject in tables or of_portions(change)
    return change.what not in (What.LOOK, What.ORDER) and not follows


def _of_row(change: Change) -> Change:
    """A change without the name of its drink, which stands beside it."""
    own = bool(change.drinks and change.where)
    return replace(change, where=change.where[1:]) if own else change
