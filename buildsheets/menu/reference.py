"""The reference of a menu's keys: a record type goes in, Markdown tables come out."""

from __future__ import annotations

import inspect
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, get_args, get_origin

from buildsheets.findings.spelling import listed
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.schema import (
    BySize,
    Form,
    Id,
    Kinds,
    Record,
    Ref,
    Text,
    alternatives,
    bare,
    is_record,
    keys_of,
)
from buildsheets.menu.units import KIND_WORDS
from buildsheets.menu.values import choices_of

_SINGLE = {
    str: "text",
    bool: "yes or no",
    int: "whole number",
    float: "number",
    Decimal: "number",
    date: "date",
}


def reference(record: type[Record]) -> str:
    """A table of the keys of a record type, and below it those of every record it leads to."""
    order = [record]
    for current in order:  # grows while it is walked: records that records lead to
        for key in keys_of(current).values():
            order.extend(found for found in records_in(key.hint) if found not in order)
    return "\n".join(_table(current) for current in order)


def title(record: type[Record]) -> str:
    """The name of a record type in words: ``LabelSheet`` is "label sheet"."""
    words = re.findall("[A-Z][a-z0-9]*", record.__name__)
    return record.called or " ".join(words).lower()


def summary(kind: type) -> str:
    """The first paragraph of what a type says of itself."""
    return (inspect.getdoc(kind) or "").split("\n\n")[0].replace("\n", " ")


def _table(record: type[Record]) -> str:
    rows = [
        f"| `{key.key}` | {_cell(described(key.hint))} | {'yes' if key.required else ''} "
        f"| {_cell(key.doc)} |"
        for key in keys_of(record).values()
    ]
    head = ["| key | value | needed | meaning |", "|---|---|---|---|"]
    return "\n".join([f"### {title(record)}", "", summary(record), "", *head, *rows, ""])


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def described(hint: Any) -> str:
    """What a key may hold, in words."""
    kinds = alternatives(hint)
    if len(kinds) > 1:
        return listed(described(kind) for kind in kinds)
    plain, notes = bare(kinds[0])
    if any(isinstance(note, Ref) for note in notes):
        return "id"
    if any(isinstance(note, Form) for note in notes):
        return "text"
    if is_record(plain):
        name = title(plain)
        return f"[{name}](#{name.replace(' ', '-')})"
    if plain is Text:
        return "text, or `language: text`"
    origin, args = get_origin(plain), get_args(plain)
    if origin is tuple:
        return f"list of {described(args[0])}"
    if origin is BySize:
        return f"{described(args[0])}; for all sizes, or `size: …`"
    if origin is Mapping:
        return f"`id: …`, each {described(args[1])}"
    if words := choices_of(plain):
        return listed(f"`{word}`" for word in words)
    kinds_taken = [note.names for note in notes if isinstance(note, Kinds)]
    if kinds_taken or plain is Quantity:
        return _amount(kinds_taken[0] if kinds_taken else ())
    if plain not in _SINGLE:
        raise TypeError(f"no reading is declared for {hint}")
    return "id" if Id() in notes else _SINGLE[plain]


def _amount(kinds: tuple[str, ...]) -> str:
    words = [KIND_WORDS.get(kind, (f"a count of {kind}s", f"2 {kind}s")) for kind in kinds]
    if not words:
        return "amount"
    return f"{listed(word for word, _ in words)} (`{words[0][1]}`)"


def records_in(hint: Any) -> list[type[Record]]:
    """The record types read under a key; what it only names is read elsewhere."""
    plain, notes = bare(hint)
    if any(isinstance(note, Ref) for note in notes):
        return []
    if is_record(plain):
        return [plain]
    return [found for part in get_args(plain) for found in records_in(part)]
