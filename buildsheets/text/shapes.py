"""The shapes a menu record is declared with: annotations go in, the decoder reads them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Generic, TypeVar

from buildsheets.core.finding import At, Span

T_co = TypeVar("T_co", covariant=True)

ID_PATTERN = re.compile(r"[a-z][a-z0-9-]*")
"""How the names of things in a menu are written: ``brown-sugar-milk``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Base of every record read from a menu; subclasses are frozen, slotted, keyword-only.

    Each field of a subclass is one key of the mapping, spelt like the field unless its metadata
    gives a ``key`` (see :func:`about`). ``span`` is the whole mapping; ``keys`` says where each
    field's key stands, by field name, for the fields that were written.
    """

    span: Span
    keys: Mapping[str, Span] = field(default_factory=dict, compare=False, repr=False)

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
class Named(Generic[T_co]):
    """Entries by id, in the order written.

    Entries that could not be decoded are left out of ``items`` and named in ``failed``, so that a
    reference to one of them is not reported a second time. ``Named()`` is an absent section.
    """

    items: dict[str, T_co] = field(default_factory=dict)
    key_spans: dict[str, Span] = field(default_factory=dict, compare=False, repr=False)
    failed: frozenset[str] = frozenset()
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Id:
    """Restricts a text to the pattern of ids."""


Ref = Annotated[At[str], Id()]
"""The id of something declared elsewhere in the menu."""


@dataclass(frozen=True, slots=True, init=False)
class Kinds:
    """Which kinds of quantity a field takes: ``Annotated[At[Quantity], Kinds("volume", "mass")]``.

    A name is a kind of :class:`~buildsheets.core.quantity.Quantity` or the unit of one tool
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
