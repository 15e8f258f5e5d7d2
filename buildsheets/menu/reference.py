"""The reference of a menu's keys: a record type goes in, Markdown tables come out."""

from __future__ import annotations

import inspect
import re
from datetime import date
from decimal import Decimal
from typing import Any, get_args, get_origin

from buildsheets.findings.finding import At
from buildsheets.findings.spelling import listed
from buildsheets.menu.leaves import choices_of
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import (
    BySize,
    Id,
    Kinds,
    Named,
    Record,
    Words,
    alternatives,
    bare,
    is_record,
    keys_of,
)
from buildsheets.menu.units import KIND_WORDS

_LEAVES = {str: "text", bool: "yes or no", int: "whole number", Decimal: "number", date: "date"}


def reference(record: type[Record]) -> str:
    """A table of the keys of a record type, and below it those of every record it leads to."""
    order = [record]
    for current in order:  # grows while it is walked: records that records lead to
        for key in keys_of(current).values():
            order.extend(found for found in _records_in(key.hint) if found not in order)
    return "\n".join(_table(current) for current in order)


def title(record: type[Record]) -> str:
    """The name of a record type in words: ``WrittenLabelSheet`` is "label sheet"."""
    words = re.findall("[A-Z][a-z0-9]*", record.__name__)
    return " ".join(word.lower() for word in words if word != "Written")


def _table(record: type[Record]) -> str:
    about = (inspect.getdoc(record) or "").split("\n\n")[0].replace("\n", " ")
    rows = [
        f"| `{key.key}` | {_cell(_describe(key.hint))} | {'yes' if key.required else ''} "
        f"| {_cell(key.doc)} |"
        for key in keys_of(record).values()
    ]
    head = ["| key | value | needed | meaning |", "|---|---|---|---|"]
    return "\n".join([f"### {title(record)}", "", about, "", *head, *rows, ""])


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _describe(hint: Any) -> str:
    kinds = alternatives(hint)
    if len(kinds) > 1:
        return listed(_describe(kind) for kind in kinds)
    plain, notes = bare(kinds[0])
    if is_record(plain):
        name = title(plain)
        return f"[{name}](#{name.replace(' ', '-')})"
    if plain is Words:
        return "text, or `language: text`"
    origin, args = get_origin(plain), get_args(plain)
    if origin is tuple:
        return f"list of {_describe(args[0])}"
    if origin is BySize:
        return f"{_describe(args[0])}; for all sizes, or `size: …`"
    if origin is Named:
        return f"`id: …`, each {_describe(args[0])}"
    if origin is not At:
        raise TypeError(f"no reading is declared for {hint}")
    if words := choices_of(args[0]):
        return listed(f"`{word}`" for word in words)
    if args[0] is Quantity:
        return _amount(next((note.names for note in notes if isinstance(note, Kinds)), ()))
    return "id" if Id() in notes else _LEAVES[args[0]]


def _amount(kinds: tuple[str, ...]) -> str:
    words = [KIND_WORDS.get(kind, (f"a count of {kind}s", f"2 {kind}s")) for kind in kinds]
    if not words:
        return "amount"
    return f"{listed(word for word, _ in words)} (`{words[0][1]}`)"


def _records_in(hint: Any) -> list[type[Record]]:
    if is_record(hint):
        return [hint]
    return [found for part in get_args(hint) for found in _records_in(part)]
