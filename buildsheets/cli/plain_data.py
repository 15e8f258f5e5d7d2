"""A value goes in, the same as JSON can hold it comes out; of its type, the JSON Schema of that.

Both follow one table: a record is told by its fields, or by those that :data:`KEYS` names for it.
What stands under a name of its own in the menu is told as its id, money as a number in the shop's
currency, days and moments as ISO 8601 writes them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, ForwardRef, Literal, Union, get_args, get_origin

from buildsheets.menu.reference import summary
from buildsheets.menu.schema import Entry, Text, bare

Schema = dict[str, Any]

KEYS: dict[type, str] = {}
"""The keys a type is told by: names of its fields, ``key=field.of.it`` under another key; a type
that nothing declares stands behind a colon: ``top_ml:float``."""

_SAID = {"float": float, "float|None": float | None, "bool": bool, "str|None": str | None}
_PLAIN: Mapping[Any, Schema] = {
    str: {"type": "string"},
    Path: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    Decimal: {"type": "number"},
    Fraction: {"type": "number"},
    date: {"type": "string", "format": "date"},
    datetime: {"type": "string", "format": "date-time"},
    NoneType: {"type": "null"},
    Text: {"type": "object", "additionalProperties": {"type": "string"}},
}


def told(value: Any) -> Any:
    """A value as JSON can hold it."""
    if value is None or type(value) in (str, bool, int, float):
        return value
    if isinstance(value, Entry):
        return value.id
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal | Fraction):
        return float(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Path):
        return value.as_posix()
    if isinstance(value, Text):
        return dict(value.by_language)
    if isinstance(value, Mapping):
        return {str(key): told(one) for key, one in value.items()}
    kind: Any = type(value)
    if _is_told_by_keys(kind):
        return {key: told(_reached(value, path)) for key, path, _ in keys_of(kind)}
    assert isinstance(value, Iterable), value
    return [told(one) for one in value]


def schema(hint: Any, named: dict[str, Schema]) -> Schema:
    """The schema of what a value of a type is told as; those of records go into ``named``."""
    hint, _ = bare(hint)
    origin, args = get_origin(hint), get_args(hint)
    if hint in _PLAIN:
        return dict(_PLAIN[hint])
    if origin in (Union, UnionType):
        kinds = [schema(one, named) for one in args]
        different = [one for at, one in enumerate(kinds) if one not in kinds[:at]]
        return different[0] if len(different) == 1 else {"anyOf": different}
    if origin is Literal:
        return {"enum": list(args)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": schema(args[1], named)}
    if origin is tuple and args[-1] is not Ellipsis:
        each = [schema(one, named) for one in args]
        return {"type": "array", "prefixItems": each, "items": False, "minItems": len(each)}
    if origin is not None and issubclass(origin, Iterable):
        return {"type": "array", "items": schema(args[0], named)}
    assert isinstance(hint, type), hint
    if issubclass(hint, Entry):
        return {"type": "string", "description": "an id of the menu"}
    if issubclass(hint, Enum):
        return {"enum": [one.value for one in hint]}
    assert _is_told_by_keys(hint), hint
    name = hint.__name__
    if name not in named:
        named[name] = {}  # a record may hold others of its kind
        named[name] = _record(hint, named)
    return {"$ref": f"#/$defs/{name}"}


def _record(kind: type, named: dict[str, Schema]) -> Schema:
    about = summary(kind)
    own = {} if about.startswith(f"{kind.__name__}(") else {"description": about}
    return own | whole({key: schema(hint, named) for key, _, hint in keys_of(kind)})


def whole(properties: Mapping[str, Schema]) -> Schema:
    """An object that has all of these keys and no other."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _is_told_by_keys(kind: type) -> bool:
    return kind in KEYS or is_dataclass(kind) or hasattr(kind, "_fields")


@cache
def keys_of(kind: Any) -> Sequence[tuple[str, Sequence[str], Any]]:
    """Each key a type is told by, the fields that lead to its value, and the value's type."""
    return list(_keys_of(kind))


def _keys_of(kind: type) -> Iterator[tuple[str, Sequence[str], Any]]:
    names = KEYS[kind].split() if kind in KEYS else _fields(kind)
    for name in names:
        name, _, said = name.partition(":")
        key, _, field = name.partition("=")
        path = (field or key).split(".")
        yield key, path, _SAID[said] if said else _hint(kind, path)


def _fields(kind: Any) -> Sequence[str]:
    return kind._fields if hasattr(kind, "_fields") else [one.name for one in fields(kind)]


def _reached(value: Any, path: Sequence[str]) -> Any:
    """What fields lead to; nothing where one on the way is nothing."""
    for name in path:
        value = None if value is None else getattr(value, name)
    return value


def _hint(kind: Any, path: Sequence[str]) -> Any:
    """The declared type of what fields lead to."""
    hint: Any = kind
    optional = False
    for name in path:
        kinds = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
        optional = optional or NoneType in kinds
        hint = _declared(next(one for one in kinds if one is not NoneType), name)
    return hint | None if optional else hint


def _declared(kind: type, name: str) -> Any:
    for base in kind.__mro__:
        if name in vars(base).get("__annotations__", {}):
            hint: Any = base.__annotations__[name]
            return _evaluated(hint, vars(sys.modules[base.__module__]))
    read: Callable[[Any], Any] = getattr(kind, name).fget
    return _evaluated(read.__annotations__["return"], read.__globals__)


def _evaluated(hint: Any, names: Mapping[str, Any]) -> Any:
    text = hint.__forward_arg__ if isinstance(hint, ForwardRef) else hint
    return eval(text, dict(names)) if isinstance(text, str) else hint
