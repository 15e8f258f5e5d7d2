"""The view records in; a reference of every field a layout can show, as Markdown, out."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from buildsheets.views.types import View

# What fields of the same name hold in every view; a remark beside a field in its record wins.
COMMON = {
    "kind": 'the layout folder it is printed with: "build", "station", ...',
    "language": "of every string in it",
    "code": "the card's printed code",
    "title": "in the card's head",
    "subtitle": "beside or under the title",
    "cup_name": "the cup and what it holds to the rim",
    "stations": "those the drink passes, in order",
    "station": "the station's mark, or its name where it is a text",
    "gauge": "marks of the 1:1 edge gauge",
    "gauge_floor_mm": "inner floor of the cup above the counter",
    "drawing": "the cup in proportion",
    "steps": "in order",
    "amounts": "what steps take for each choice, by step",
    "add_ons": "what a guest may add",
    "swaps": "what a guest may have instead",
    "allergens": "contains and may contain, never blank",
    "cautions": "a sentence each",
    "keeps": "how long open components keep",
    "foot": "code, revision, edition, dates and QR payload",
    "reading_distance_mm": "type sizes follow from it",
    "width_mm": "of the card asked for",
    "height_mm": "of the card asked for",
    "watermark": 'across the card; "" for none',
    "notes": "a sentence each, under the rest",
    "rows": "in order",
    "part": "which of the cards it is spread over",
    "parts": "how many those are",
}


# What a template is given beside the fields of its view.
GIVEN = """\
A card's template (`layouts/<kind>/card.html`) is given:

| name | holds |
|---|---|
| `card` | the view, as below; of a card split over several, the rows that stand on this one |
| `w("contains")` | the fixed words of the card's language |
| `drawn` | pictures and the classes that place them: `gauge`, `cup`, `code`, `bar`, `caution`, \
`stations`, `arrow`, `tick` |
| `part`, `parts_count`, `last` | which of how many cards this is, and whether it is the last |
| `where` | of a card of several: which rows stand on it, and where the others are |
| `id` | of the card; rows are marked with `{{ id }}-r0` and so on, for cards that are split |

It may begin with `{% extends "shipped:build/card.html" %}` and fill, move or empty the blocks \
named there. Allergens, cautions and code must stay. A picture of the layout folder is \
`layout:/logo.png`. A style sheet (`layouts/<kind>/style.css`) is read after \
`layouts/shared/base.css`; it may open with `{% include "shipped:build/style.css" %}`; it is given \
`size` (type in pt: body, minor, hand), `stock`, `families` and the groups of \
`layouts/shared/tokens.yaml`, where a shop names a `typeface` of its own too. The tagged document \
is made of the same templates with `layouts/accessible/style.css`. Templates escape what they are \
given; a name they are not given is an error.
"""
_FIELD = re.compile(r"^    (\w+): ([^=#]+?)(?: = [^#]+)?(?:  # (.*))?$")


def view_types() -> tuple[type, ...]:
    """Every view that has a layout, then the records they are made of, each once."""
    found: dict[type, None] = {}
    waiting: list[type] = [*_members(View)]
    while waiting:
        kind = waiting.pop(0)
        if kind not in found:
            found[kind] = None
            for hint in get_type_hints(kind).values():
                waiting += [inner for inner in _members(hint) if is_dataclass(inner)]
    return tuple(found)


def _members(hint: Any) -> Iterator[type]:
    """The classes named in a type, unions and tuples taken apart."""
    if get_origin(hint) in (Union, UnionType, tuple):
        for part in get_args(hint):
            yield from _members(part)
    elif isinstance(hint, type):
        yield hint


def view_reference() -> str:
    """Markdown: what templates are given, then a section a view with fields, types, contents."""
    return "\n\n".join([GIVEN.rstrip(), *(_section(kind) for kind in view_types())]) + "\n"


def _section(kind: type) -> str:
    notes = COMMON | _notes(kind)
    rows = [
        f"| `{field.name}` | `{str(field.type).replace('|', 'or')}` | {notes.get(field.name, '')} |"
        for field in fields(kind)
    ]
    about = [f"### {kind.__name__}", "", inspect.cleandoc(kind.__doc__ or ""), ""]
    return "\n".join([*about, "| field | type | holds |", "|---|---|---|", *rows])


def _notes(kind: type) -> dict[str, str]:
    """The remark beside each field in the source."""
    matches = (_FIELD.match(line) for line in inspect.getsource(kind).splitlines())
    return {match[1]: match[3].replace("|", "or") for match in matches if match and match[3]}
