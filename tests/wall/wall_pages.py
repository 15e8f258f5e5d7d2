"""A card goes in; its phone page as it is published, read back from its HTML, comes out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import tinyhtml5
from wall_grids import BETWEEN, Grid, cells_for

from buildsheets.ledger.card_texts import card_texts
from buildsheets.ledger.current import State
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import Entry
from buildsheets.print.layouts import Layouts
from buildsheets.site.site import Period, _Templates
from buildsheets.views.card import CardKey, label
from buildsheets.views.types import BuildCardView, StationCardView
from buildsheets.views.words import Words
from buildsheets.wall.reading import Wish
from buildsheets.wall.strings import number, said

DAY = date(2026, 6, 1)


@dataclass
class Section:
    """What stands under one drink's heading, in the order of the page.

    A step is {"to": what is said before the amount, "n": amount, "soft": unit, "w": unit and thing,
    "l": level, "p": its vessel, where told, "m": the rest, "o": what a guest may have instead, a
    line each}, an add-on its name and what stands behind it.
    """

    title: str = ""
    steps: list[dict[str, str]] = field(default_factory=list)
    grids: list[Grid] = field(default_factory=list)
    add_ons: list[tuple[str, str]] = field(default_factory=list)


def phone_page(view: BuildCardView | StationCardView, templates: _Templates) -> list[Section]:
    """The sections of a card's page: one for a build card, one for each row of a station card."""
    key = CardKey(view.kind, "card", "cup", view.language)
    entry = Entry("B-00000-0", key, 1, "S26", "", label(view))
    words = edition_words(Layouts(), view.language)
    period = Period(DAY, State.CURRENT, "", (), None)
    html = templates.page(
        "card", words, "Shop", entry=entry, periods=(period,), texts=card_texts(view),
        is_out=lambda text: False,
    ).decode()  # fmt: skip
    root = tinyhtml5.parse(html, namespace_html_elements=False)
    drinks = {row.drink for row in view.rows} if isinstance(view, StationCardView) else ()
    found = [Section()]
    for element in root.iter():
        title = _text(element) if element.tag == "h2" else ""
        if title in drinks:
            found.append(Section(title))
        elif element.tag == "li" and element.find(".//b") is not None:
            _item(element, found[-1])
        elif element.tag == "table":
            found[-1].grids.append(_grid(element))
    return found[1:] if drinks else found


def _item(element: Any, section: Section) -> None:
    parts = {part.get("class"): _text(part) for part in element.iter() if part.get("class")}
    if "n" in parts:
        others = [_text(part) for part in element.iter() if part.get("class") == "o"]
        section.steps.append(parts | {"o": "\n".join(others)})
        return
    name = _text(element.find("b"))
    section.add_ons.append((name, _text(element)[len(name) :].strip()))


def _grid(table: Any) -> Grid:
    rows = [tuple(map(_text, row)) for row in table.iter("tr")]
    scopes = [{cell.get("scope") for cell in row} for row in table.iter("tr")]
    if scopes and scopes[0] == {"col"}:
        return Grid(rows[0], tuple(rows[1:]))
    return Grid(("", ""), tuple(rows))


def _text(element: Any) -> str:
    return re.sub(r"[ \n]+", " ", "".join(element.itertext())).strip()  # others are printed


def templates() -> _Templates:
    return _Templates(Layouts())


def told_by_page(
    section: Section, wish: Wish, chosen: Sequence[str], words: Words
) -> list[tuple[str, float | None]]:
    """(thing, amount) of each step a section tells for an order, in its order. ``chosen`` are the
    names of all its add-ons and swaps."""
    things = [step["w"].removeprefix(step.get("soft", "")).strip() for step in section.steps]
    asked = [
        (_after(rest, things, words), name, rest)
        for name, rest in section.add_ons
        if name in wish.add_ons and not said(rest, "away_after", words)
    ]
    found: list[tuple[str, float | None]] = []
    for number_of in range(len(things) + 1):
        if number_of:
            thing, step = things[number_of - 1], section.steps[number_of - 1]
            printed, swap = step["n"], ""
            for line in filter(None, step["o"].split("\n")):
                other = (said(line.split(BETWEEN)[0], "site_or_swap", words) or {"what": ""})[
                    "what"
                ]
                for name in wish.swaps:
                    if other == name or other.endswith(f" {name}"):
                        swap, printed = name, other.removesuffix(name).split(" ")[0] or printed
            beside = replace(wish, swaps=tuple(one for one in wish.swaps if one != swap))
            cells = cells_for(section.grids, beside, chosen, words)
            own = [(what, unit) for what, unit in cells if what == swap]
            found_in = own or [(what, unit) for what, unit in cells if what == thing]
            thing = swap or thing
            amount = cells[found_in[0]] if found_in and printed else printed
            rest = step.get("m", "").replace(BETWEEN, ", ").split(", ")
            left_out = {
                words(f"left_out_{key}", choices=choice)
                for key, choice in (("at", wish.sweetness), ("with", wish.ice))
                if choice
            }
            if not left_out & {*rest}:
                found.append((thing, number(amount, words) if amount else None))
        found += [
            (name, number(rest.split(" ")[0], words))
            for after, name, rest in asked
            if after == number_of
        ]
    return found


def _after(rest: str, things: Sequence[str], words: Words) -> int:
    """How many of a section's steps come before an add-on."""
    for part in rest.split(", "):
        if found := said(part, "addon_after", words):
            return int(found["step"])
    after = [i for i, what in enumerate(things, 1) if words("after_what", what=what) in rest]
    return after[-1] if after else 0
