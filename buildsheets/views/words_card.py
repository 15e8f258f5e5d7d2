"""A checked menu and what its cards say go in; the wall sheet that explains their words comes out.

A fixed word is explained where a card says it, under the key of that word: ``about_gauge_limit``
explains ``gauge_limit``. What one pump or scoop gives, stations and ice levels are the menu's own.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.menu.equipment import PULLS
from buildsheets.menu.model import AddStep, Component, Menu, Tool
from buildsheets.menu.packaging import straw_of
from buildsheets.views import rounding
from buildsheets.views.addons import pull
from buildsheets.views.paper import BOARD_MM
from buildsheets.views.sheets import Row, sheet
from buildsheets.views.types import SheetTable, SheetView
from buildsheets.views.when import sold_when
from buildsheets.views.words import Words

EXPLAINED: Mapping[str, tuple[str, ...]] = {
    "words_cup": (
        "arrives_at", "leaves_at", "usually", "ml_line", "to_level", "with_bed", "gauge_bed_at",
        "gauge_cap_at", "ice_in", "in_shaker", "in_blender", "gauge_limit", "gauge_rim",
    ),
    "words_steps": (
        "do_shake_strained", "do_blend", "blends_at_once", "do_chill", "do_swirl", "do_rest",
        "do_tap", "steam_to", "on_wall", "swims", "lid_on_dome", "lid_on_film",
    ),
    "words_prep": (
        "prep_lead", "prep_loss", "prep_gain", "prep_basis_measured", "prep_basis_factor",
        "prep_basis_none", "prep_ratio", "prep_brix", "prep_overrun", "prep_bowl_loads",
    ),
    "words_safety": ("may_contain", "prep_mark_none", "revision"),
}  # fmt: skip
"""Headings, and under each the fixed words that a new hire may not know."""

LIMIT = "gauge_limit"
"""Its line says that a lid needs the room, where every cup has one."""

OF_THE_LAYOUT = frozenset(("arrives_at", "leaves_at", "may_contain", "revision"))
"""Words of card layouts and feet: they stand on every shop's wall, and in no view."""


def words_card(
    menu: Menu, servings: Sequence[Serving], said: Collection[str], words: Words
) -> SheetView:
    """The words of the shop's cards, each in a line; ``said`` is every text on those cards."""
    text = "\n".join(said)
    unlidded = "_open" if any(serving.cup.lid == "none" for serving in servings) else ""
    fixed = {
        title: _table(
            words(title),
            [
                (printed(key, words), words(f"about_{key}{unlidded if key == LIMIT else ''}"))
                for key in keys
                if key in OF_THE_LAYOUT or _pattern(key, words).search(text)
            ],
        )
        for title, keys in EXPLAINED.items()
    }
    measures = _table(words("words_measures"), _measures(menu, servings, words))
    stations = [(station.letter, words.name(station)) for station in menu.stations.values()]
    tables = (
        measures,
        _table(words("words_stations"), stations),
        fixed.pop("words_cup"),
        fixed.pop("words_steps"),
        _table(words("words_orders"), dict.fromkeys(_orders(menu, servings, words))),
        *fixed.values(),
    )
    return sheet(menu, words, "words", "", words("words_title"), tables, (), BOARD_MM)


def printed(key: str, words: Words) -> str:
    """A fixed word as a card prints it, with an ellipsis for each value in it."""
    if key == "ml_line":  # stands after a boxed number
        return f"{words('to_line')} … {words(key)}"
    if key == "steam_to":  # the pitcher is what a new hire may not know of it
        return words("pitcher")
    return "…".join(_around_values(key, words)).replace("… (…)", "…")


def _around_values(key: str, words: Words) -> list[str]:
    held = words.catalogue[key]
    return re.split(r"{\w+}", held["other"] if isinstance(held, Mapping) else str(held))


def _pattern(key: str, words: Words) -> re.Pattern[str]:
    """What finds a fixed word, with any values, alone or beside others, in what cards say."""
    parts = map(re.escape, _around_values(key, words))
    return re.compile(rf"(?:^|, | [·+] ){'.+?'.join(parts)}(?:$|, | [·+] )", re.MULTILINE)


def _table(title: str, rows: Collection[Row]) -> SheetTable:
    return SheetTable("", (title, ""), tuple(rows), "ll", (1.0, 3.0), strong=(0,))


def _measures(menu: Menu, servings: Sequence[Serving], words: Words) -> list[Row]:
    """Each tool in use, what one count of it gives or its marks are apart, and what it is for."""
    uses = _uses(servings)
    tools = [tool for tool in menu.tools.values() if tool.id in uses and tool.kind != "line"]
    rows: list[Row] = [
        (counted(tool, words), f"{gives(tool, words)}: {words.names(uses[tool.id])}")
        for tool in tools
        if tool.kind != PULLS
    ]
    rows += [
        (counted(tool, words), f"{words.name(one)}: {pull(one, words)}")
        for tool in tools
        if tool.kind == PULLS
        for one in uses[tool.id]
    ]
    for tool in tools:
        if tool.unit == "count" and tool.step == 0.5:
            half = f"½ {rounding.unit(words, tool, 1.0)}"
            if _holds_ice(uses[tool.id]):
                rows.append((half, words("about_half")))
            elif tool.kind == "pump" and _halved(tool, servings):
                rows.append((half, words("about_half_pump")))
    return rows


def _halved(tool: Tool, servings: Sequence[Serving]) -> bool:
    """Whether a build, as written or as a guest may choose, takes a half of a tool."""
    made = (one for serving in servings for one in (serving, *serving.choices.made))
    return any(
        figure.used is not None
        and isinstance(figure.step, AddStep)
        and figure.step.tool is tool
        and (figure.used.count or 0.0) % 1.0 == 0.5
        for one in made
        for figure in one.steps
    )


def _holds_ice(used: Collection[Component]) -> bool:
    """Whether a tool is a scoop of ice, which shows no halves but by its mark."""
    return any(component.behaves == "ice" for component in used)


def _uses(servings: Sequence[Serving]) -> dict[str, list[Component]]:
    """What each tool measures, by its id, in the order of the menu's drinks."""
    found: dict[str, dict[str, Component]] = {}
    for serving in servings:
        steps = [f.step for f in serving.steps if isinstance(f.step, AddStep)]
        used = [(step.tool, step.component) for step in steps]
        used += [(one.component.tool, one.component) for one in serving.offered]
        for other in serving.choices.swapped:
            swapped = [f.step for f in other.steps if isinstance(f.step, AddStep) and f.step.swap]
            used += [(step.tool, step.component) for step in swapped]
        for tool, component in used:
            if tool is not None:
                found.setdefault(tool.id, {})[component.id] = component
    return {tool: list(components.values()) for tool, components in found.items()}


def counted(tool: Tool, words: Words) -> str:
    """One count of a tool, or its name where it is not counted: "1 pump", "jug"."""
    return f"1 {rounding.unit(words, tool, 1.0)}" if tool.unit == "count" else words.name(tool)


def gives(tool: Tool, words: Words) -> str:
    """What one count of a tool gives, or how far apart its marks are."""
    if tool.unit != "count":
        return words("about_marks", amount=rounding.of_tool(words, tool))
    name, amount = words.name(tool), rounding.of_tool(words, tool)
    return amount if name == rounding.unit(words, tool, 1.0) else f"{amount} ({name})"


def _orders(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[Row]:
    """What a guest may ask for: sweetness, ice by its levels, add-ons. A share of ice is not said:
    what is poured is made to the tool's step, 2 scoops for 75 % of 3."""
    if any(serving.drink.sweetness for serving in servings):
        yield words("sweetness"), words("about_sweetness")
    if any(
        0.0 in serving.drink.sweetness.levels for serving in servings if serving.drink.sweetness
    ):
        yield words.percent(0.0), words("about_no_sweetness")
    if any(sold_when(menu, serving.drink, words) for serving in servings):
        yield printed("sold", words), words("about_sold")
    ices = [ice for serving in servings if (ice := serving.drink.ice)]
    about: dict[str, list[str]] = {}
    for ice in ices:
        for level, share in ice.levels.items():
            if level != ice.default:
                key = "about_ice" if share > 0.0 else "about_no_ice"
                about.setdefault(key, []).append(words.text(ice.names[level]))
    for key, names in about.items():
        yield ", ".join(dict.fromkeys(names)), words(key)
    if any(serving.offered for serving in servings):
        yield words("add_ons"), words("about_add_ons")
    if any(serving.drink.swaps for serving in servings):
        yield words("swaps"), words("about_swaps")
    straws = [add_on.straw for serving in servings for add_on in serving.offered]
    straws += [straw_of(serving.drink.packaging) for serving in servings]
    if any(straws):
        yield words("straw"), words("about_straw")
