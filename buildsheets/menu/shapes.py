"""The shapes a menu record is declared with: annotations go in, the decoder reads them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Generic,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

from buildsheets.findings.finding import At, Span

T_co = TypeVar("T_co", covariant=True)

ID_PATTERN = re.compile(r"[a-z][a-z0-9-]*")
"""How the names of things in a menu are written: ``brown-sugar-milk``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Base of every record read from a menu; subclasses are frozen, slotted, keyword-only.

    Each field of a subclass is one key of the mapping, spelt like the field unless its metadata
    gives a ``key`` (see :func:`about`). ``span`` is the whole mapping; ``keys`` says where each
    field's key stands, by field name, for the fields that were written. ``failed`` names the fields
    that could not be read and hold a stand-in (see ``decode_over``).
    """

    span: Span
    keys: Mapping[str, Span] = field(default_factory=dict, compare=False, repr=False)
    failed: frozenset[str] = field(default=frozenset(), compare=False, repr=False)

    tag_key: ClassVar[str] = ""
    """In a union of record types: the key whose presence selects this one."""

    def at(self, name: str) -> Span:
        """Where the key of a field stands, or the whole record when it was left out."""
        return self.keys.get(name, self.span)


@dataclass(frozen=True, slots=True)
class Words:
    """A text for people, in one or several languages; the language of a plain text is ``""``."""

    by_language: dict[str, str]
    span: Span

    def get(self, language: str) -> str | None:
        """The text in a language, else the plain text, else None."""
        return self.by_language.get(language, self.by_language.get(""))

    @property
    def first(self) -> str:
        """The text written first, for findings that need some name to speak of."""
        return next(iter(self.by_language.values()))


@dataclass(frozen=True, slots=True)
class BySize(Generic[T_co]):
    """A value for all sizes (``all``), or one for each size id (``each``)."""

    all: T_co | None
    each: dict[str, T_co]
    span: Span
    key_spans: dict[str, Span] = field(default_factory=dict, compare=False, repr=False)

    def get(self, size: str) -> T_co | None:
        """The value for one size, or None where that size has none."""
        return self.each.get(size) if self.all is None else self.all


@dataclass(frozen=True, slots=True)
class Lost:
    """Ids that stand in the menu but could not be read, so that no reference to them is reported.

    ``everything`` where nobody can tell which ids were lost: any id may be one of them.
    """

    ids: frozenset[str] = frozenset()
    everything: bool = False

    def __contains__(self, id: object) -> bool:
        return self.everything or id in self.ids

    def __or__(self, other: Lost) -> Lost:
        return Lost(self.ids | other.ids, self.everything or other.everything)


@dataclass(frozen=True, slots=True)
class Named(Generic[T_co]):
    """Entries by id, in the order written.

    Entries that could not be decoded are left out of ``items`` and named in ``failed``; a section
    that lacks entries nobody could read at all is ``broken``. ``Named()`` is an absent section.
    """

    items: dict[str, T_co] = field(default_factory=dict)
    key_spans: dict[str, Span] = field(default_factory=dict, compare=False, repr=False)
    failed: frozenset[str] = frozenset()
    span: Span | None = None
    broken: bool = False

    def lost(self, kept: Iterable[str] | None = None) -> Lost:
        """The ids that could not be decoded, or, of those that could, are not among ``kept``."""
        dropped = set() if kept is None else set(self.items) - set(kept)
        return Lost(self.failed | dropped, self.broken)


@dataclass(frozen=True, slots=True)
class Id:
    """Restricts a text to the pattern of ids."""


Ref = Annotated[At[str], Id()]
"""The id of something declared elsewhere in the menu."""


@dataclass(frozen=True, slots=True, init=False)
class Kinds:
    """Which kinds of quantity a field takes: ``Annotated[At[Quantity], Kinds("volume", "mass")]``.

    A name is a kind of :class:`~buildsheets.menu.quantity.Quantity` or the unit of one tool
    (``"pump"``); ``"tool"`` takes every tool.
    """

    names: tuple[str, ...]

    def __init__(self, *names: str) -> None:
        object.__setattr__(self, "names", names)


def about(doc: str, *, key: str = "") -> dict[str, str]:
    """Metadata of a field: ``field(metadata=about("What it is.", key="for"))``.

    ``doc`` goes into hints and the reference table; ``key`` is the key in the file where it is
    not the field's own name.
    """
    return {"doc": doc, "key": key} if key else {"doc": doc}


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a record type: its spelling in the file, and what its field declares."""

    key: str
    name: str
    hint: Any
    required: bool
    doc: str


def keys_of(record: type[Record]) -> dict[str, Key]:
    """The keys of a record type by their spelling in the file, in the order declared."""
    hashable: Any = record  # mypy looks for the hash of a record, not of its type
    return _keys_of(hashable)


@cache
def _keys_of(record: type[Record]) -> dict[str, Key]:
    hints = get_type_hints(record, include_extras=True)
    keys = (
        Key(
            key=declared.metadata.get("key", declared.name),
            name=declared.name,
            hint=hints[declared.name],
            required=declared.default is MISSING and declared.default_factory is MISSING,
            doc=declared.metadata.get("doc", ""),
        )
        for declared in fields(record)
        if declared.name not in ("span", "keys", "failed")
    )
    return {key.key: key for key in keys}


def alternatives(hint: Any) -> tuple[Any, ...]:
    """What a hint allows apart from None: several for a union of records, else one."""
    if get_origin(hint) in (Union, UnionType):
        return tuple(part for part in get_args(hint) if part is not NoneType)
    return (hint,)


def is_record(hint: Any) -> bool:
    """Whether a hint is a record type."""
    return isinstance(hint, type) and issubclass(hint, Record)


def bare(hint: Any) -> tuple[Any, tuple[Any, ...]]:
    """A hint without its annotations, and the annotations."""
    if get_origin(hint) is Annotated:
        inner, *notes = get_args(hint)
        return inner, tuple(notes)
    return hint, ()
