"""A record type goes in; the JSON Schema of its keys comes out, for editors of YAML 1.2.

Draft 7, which language servers know best. A value that YAML reads as a number or a truth is a text
to a menu where a text is wanted; ``yes`` and ``no`` are words in YAML 1.2. What hangs on other
entries (names, tools, sums) is for the check.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, get_args, get_origin

from buildsheets.menu.model import Menu
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.reference import described, records_in, summary, title
from buildsheets.menu.schema import (
    ID_PATTERN,
    LANGUAGE_PATTERN,
    BySize,
    Form,
    Id,
    Key,
    Kinds,
    Range,
    Record,
    Ref,
    Text,
    alternatives,
    bare,
    is_record,
    keys_of,
)
from buildsheets.menu.units import UNITS
from buildsheets.menu.values import NUMBER_PATTERN, choices_of

Schema = dict[str, Any]

ID: Schema = {"type": "string", "pattern": f"^{ID_PATTERN.pattern}$"}
TEXT: Schema = {"type": ["string", "number", "boolean"], "minLength": 1}
YES_NO: Schema = {
    "anyOf": [
        {"enum": ["yes", "no"]},
        {"type": "boolean"},
        {"type": "string", "pattern": "^([Yy][Ee][Ss]|[Nn][Oo])$"},
    ]
}
DAY: Schema = {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}
NUMBER = "[^A-Za-z%°,]*[0-9¼½¾⅐-⅞][^A-Za-z%°,]*"
"""The number of an amount, loosely; the check reads it closely."""


def schema_text(record: type[Record]) -> str:
    """The schema as a file; of a whole menu, whose sections may be divided over several files, as
    one that asks for none of them."""
    schema = json_schema(record)
    if record is Menu:
        del schema["required"]
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def json_schema(record: type[Record]) -> Schema:
    """The schema of a record, with those of every record it leads to."""
    order = [record]
    for current in order:  # grows while it is walked: records that records lead to
        for key in keys_of(current).values():
            order.extend(found for found in records_in(key.hint) if found not in order)
    named = {_name(one): _record(one) for one in order[1:]}
    head = {"$schema": "http://json-schema.org/draft-07/schema#", "title": "buildsheets menu"}
    return {**head, **_record(record), "definitions": named}


def _name(record: type[Record]) -> str:
    return title(record).replace(" ", "-")


def _record(record: type[Record]) -> Schema:
    properties: Schema = {}
    required = []
    for key in keys_of(record).values():
        properties[key.key] = _property(key)
        renamed = key.was is not None and key.was.key != key.key
        if key.was is not None and renamed:
            said = {"description": f"now written `{key.key}`", "deprecated": True}
            properties[key.was.key] = {**_property(key), **said}
        if key.required and not renamed:
            required.append(key.key)
    found: Schema = {
        "type": "object",
        "description": summary(record),
        "properties": properties,
        "additionalProperties": False,
    }
    return {**found, "required": required} if required else found


def _property(key: Key) -> Schema:
    kinds = alternatives(key.hint)
    value = {"anyOf": [_value(kind, key.within) for kind in kinds]}
    if key.was is not None and key.was.values:
        value["anyOf"].append({"enum": list(key.was.values), "deprecated": True})
    if len(value["anyOf"]) == 1:
        value = value["anyOf"][0]
    about = f"{key.doc}\n\n{described(key.hint)}" if key.doc else described(key.hint)
    # Beside a reference a draft 7 reader sees nothing else.
    return {"allOf": [value], "description": about} if "$ref" in value else {
        **value, "description": about
    }  # fmt: skip


def _value(hint: Any, within: Range | None) -> Schema:
    plain, notes = bare(hint)
    if any(isinstance(note, Ref) for note in notes):
        return ID
    if any(isinstance(note, Form) for note in notes):
        return TEXT
    if is_record(plain):
        return {"$ref": f"#/definitions/{_name(plain)}"}
    if plain is Text:
        languages = {"pattern": f"^{LANGUAGE_PATTERN}$"}
        return {"anyOf": [TEXT, _each(TEXT, languages)]}
    origin, args = get_origin(plain), get_args(plain)
    if origin is tuple:
        items = [_value(kind, within) for kind in alternatives(args[0])]
        item = items[0] if len(items) == 1 else {"anyOf": items}
        listed = {"type": "array", "items": item}
        of_records = any(is_record(kind) for kind in alternatives(args[0]))
        return listed if of_records else {"anyOf": [listed, item]}
    if origin is BySize:
        return {"anyOf": [_value(args[0], within), _each(_value(args[0], within), ID)]}
    if origin is Mapping:
        return _each(_value(args[1], within), ID, least=0)
    if words := choices_of(plain):
        return {"enum": words}
    kinds_taken = [note.names for note in notes if isinstance(note, Kinds)]
    if kinds_taken or plain is Quantity:
        return _amount(kinds_taken[0] if kinds_taken else ())
    if Id() in notes:
        return ID
    if plain in (int, float, Decimal):
        return _number("integer" if plain is int else "number", within)
    return {str: TEXT, bool: YES_NO, date: DAY}[plain]


def _each(value: Schema, names: Schema, least: int = 1) -> Schema:
    """Entries by a name."""
    return {
        "type": "object",
        "propertyNames": names,
        "additionalProperties": value,
        "minProperties": least,
    }


def _number(kind: str, within: Range | None) -> Schema:
    found: Schema = {"type": [kind, "string"], "pattern": f"^{NUMBER_PATTERN}$"}
    if within is not None:
        found["exclusiveMinimum" if within.above else "minimum"] = within.least
        if within.most < float("inf"):
            found["maximum"] = within.most
    return found


def _amount(kinds: Collection[str]) -> Schema:
    """A number and a unit of one of some kinds, in small or capital letters."""
    units = {
        spelling
        for spelling, unit in UNITS.items()
        if not kinds or unit.kind in kinds or unit.name in kinds
    }
    longest_first = sorted(units, key=lambda spelling: (-len(spelling), spelling))
    spelt = "|".join("".join(map(_in_either_case, one)) for one in longest_first)
    if "pieces" in kinds:  # or what a tool of the menu calls one, which no schema can know
        others = (one for one in UNITS if one not in units and UNITS[one].kind != "count")
        known = "|".join("".join(map(_in_either_case, one)) for one in others)
        own = f"(?!(?:{known})\\s*$)[A-Za-z\u00c0-\uffff][^0-9]*"
        return {"type": "string", "pattern": f"^{NUMBER}(?:{spelt}|{own})\\s*$"}
    if "count" in kinds or not kinds:  # a number alone is a count of pieces
        return {"type": ["number", "string"], "pattern": f"^{NUMBER}({spelt})?\\s*$"}
    return {"type": "string", "pattern": f"^{NUMBER}({spelt})\\s*$"}


def _in_either_case(letter: str) -> str:
    if letter.isascii() and letter.isalpha():
        return f"[{letter.upper()}{letter.lower()}]"
    return " ?" if letter == " " else re.escape(letter).replace("\\%", "%")
