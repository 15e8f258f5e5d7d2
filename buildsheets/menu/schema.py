"""What a menu may hold: a record type with annotated fields goes in, its keys come out.

A field of a record says once what its key means, what it may hold, within which bounds, which
other entry it refers to and what it was called before. Reading, linking, help with misspelt keys
and ``buildsheets keys`` follow from it.
"""

from __future__ import annotations

import re
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from types import NoneType, UnionType
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    ClassVar,
    Generic,
    Self,
    TypeVar,
    Union,
    get_args,
    get_origin,
)

from buildsheets.findings.finding import Located, Span
from buildsheets.menu import nodes
from buildsheets.menu.nodes import Pair, Scalar
from buildsheets.menu.quantity import Quantity

if TYPE_CHECKING:
    from buildsheets.menu.linker import Linker

T_co = TypeVar("T_co", covariant=True)


NO_DEVICE = r"(?!(?:con|prn|aux|nul|com[0-9]|lpt[0-9])$)"
"""Before what becomes part of a file's name: none that Windows keeps for its devices (Microsoft,
"Naming Files, Paths, and Namespaces")."""

ID_PATTERN = re.compile(NO_DEVICE + "[a-z][a-z0-9-]{0,59}")
"""How the names of things in a menu are written: ``brown-sugar-milk``. They become parts of file
names: short ones."""

# A language tag: BCP 47 (RFC 5646), language with optional script, region and variants.
LANGUAGE_PATTERN = "[a-zA-Z]{2,3}(?:-[a-zA-Z0-9]{2,8})*"


@dataclass(frozen=True, slots=True)
class Text:
    """A name or sentence in the menu's languages; ``""`` stands for "every language"."""

    by_language: Mapping[str, str]

    def in_language(self, language: str) -> str:
        """The text for a reader of ``language``; else the all-language or first-written text."""
        texts = self.by_language
        return texts.get(language) or texts.get("") or next(iter(texts.values()))

    def has(self, language: str) -> bool:
        """Whether a reader of ``language`` gets their own words rather than a fall-back."""
        return language in self.by_language or "" in self.by_language


@dataclass(frozen=True, slots=True)
class Written:
    """A value as typed: its text and place, for findings and `explain`."""

    text: str
    span: Span


NOWHERE = Span("", 1, 1, 1, 1)
UNWRITTEN = Written("", NOWHERE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Base of everything read from a menu.

    The fields made with :func:`key` are the keys of a mapping in the file; the others are worked
    out. ``span`` is the whole mapping, ``places`` has each key that was written with its value, and
    ``failed`` names those whose value could not be read and is a stand-in.
    """

    span: Span
    places: Mapping[str, Pair] = field(default_factory=dict, compare=False, repr=False)
    failed: frozenset[str] = field(default=frozenset(), compare=False, repr=False)

    tag_key: ClassVar[str] = ""
    """In a union of record types: the key whose presence selects this one."""

    called: ClassVar[str] = ""
    """What the type is called in ``buildsheets keys``, where not by its name."""

    def says(self, name: str) -> bool:
        """Whether a key was written."""
        return name in self.places

    def says_none(self, name: str) -> bool:
        """Whether a key was written with an empty list."""
        node = self.places[name].value if name in self.places else None
        return isinstance(node, nodes.Sequence) and not node.items

    def at(self, name: str) -> Span:
        """Where a key stands, or the whole record when it was left out."""
        return self.places[name].key.span if name in self.places else self.span

    def written(self, name: str) -> Written:
        """The value of a key as typed, or an empty text at the record when it was left out."""
        if name not in self.places:
            return Written("", self.span)
        node = self.places[name].value
        return Written(node.text if isinstance(node, Scalar) else "", node.span)

    def keys_in(self, name: str) -> Mapping[str, Span]:
        """Where each key stands in the value of a key."""
        node = self.places[name].value if name in self.places else None
        pairs = node.pairs if isinstance(node, nodes.Mapping) else ()
        return {pair.key.text: pair.key.span for pair in pairs}

    def linked(self, link: Linker) -> Self:
        """The record with all that is worked out, after its checks."""
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Record):
    """Base of what stands under a name of its own in a section."""

    id: str


@dataclass(frozen=True, slots=True)
class BySize(Generic[T_co]):
    """A value for all sizes (``all``), or one for each size id (``each``, named at ``places``)."""

    all: Located[T_co] | None
    each: Mapping[str, Located[T_co]]
    span: Span
    places: Mapping[str, Span] = field(default_factory=dict, compare=False, repr=False)

    def get(self, size: str) -> Located[T_co] | None:
        """The value for one size, or None where that size has none."""
        return self.each.get(size) if self.all is None else self.all


@dataclass(frozen=True, slots=True)
class Id:
    """Restricts a text to the pattern of ids."""


class Kinds:
    """Which kinds of quantity a field takes: ``Annotated[float, Kinds("volume", "mass")]``.

    A name is a kind of :class:`~buildsheets.menu.quantity.Quantity` or the unit of one tool
    (``"pump"``); ``"tool"`` takes every tool. A float is in the kind's base unit, ``times`` over.
    With ``plain_ounces`` these are a weight, and the record says where they could be a volume.
    """

    def __init__(self, *names: str, times: float = 1.0, plain_ounces: bool = False) -> None:
        self.names, self.times, self.plain_ounces = names, times, plain_ounces


class Ref:
    """The field names an entry of one of these sections and holds that entry.

    ``allergens`` is no section but the list of the shop: such a field holds the id itself. ``gone``
    says what to do where the entry was taken out of the menu.
    """

    def __init__(self, what: str, *sections: str, gone: str = "") -> None:
        self.what, self.sections, self.gone = what, sections, gone


@dataclass(frozen=True, slots=True)
class Form:
    """A text of one form: ``read`` makes the value of it, or None where it has another form.

    ``message`` holds ``{}`` for what was written.
    """

    code: str
    read: Callable[[str], Any]
    message: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Range:
    """Bounds of a number in its base unit, and how a finding says them."""

    words: str
    least: float
    most: float = float("inf")
    above: bool = False  # "more than" the least

    def holds(self, value: float) -> bool:
        """Whether a value is within."""
        return self.least <= value <= self.most and not (self.above and value == self.least)


ABOVE_0 = Range("more than 0", 0.0, above=True)
FROM_0 = Range("0 or more", 0.0)

Mm = Annotated[float, Kinds("length")]
Ml = Annotated[float, Kinds("volume")]
Grams = Annotated[float, Kinds("mass")]
Celsius = Annotated[float, Kinds("temperature")]
Seconds = Annotated[float, Kinds("time")]
Watts = Annotated[float, Kinds("power")]
Share = Annotated[float, Kinds("percent")]
GramsPerMl = Annotated[float, Kinds("density")]
Brix = Annotated[float, Kinds("brix")]
VolumeOrMass = Annotated[Quantity, Kinds("volume", "mass", plain_ounces=True)]
LengthOrVolume = Annotated[Quantity, Kinds("length", "volume")]
DRINK_AMOUNTS = ("volume", "mass", "tool", "pieces")
DrinkAmount = Annotated[Quantity, Kinds(*DRINK_AMOUNTS)]
Spread = Annotated[Quantity, Kinds("volume", "mass", "length", "percent")]
Allergens = tuple[Annotated[str, Id(), Ref("allergen on the list", "allergens")], ...]


@dataclass(frozen=True, slots=True)
class Was:
    """What a key was called before, and what its values were; both are still read."""

    key: str
    values: Mapping[str, str] = field(default_factory=dict)


def key(
    doc: str,
    name: str = "",
    *,
    default: Any = MISSING,
    factory: Any = MISSING,
    within: Range | None = None,
    was: Was | None = None,
    needed: bool = False,
) -> Any:
    """A field that is a key of the file: what it means, and its name there if it has another.

    Two fields may share a key: its value goes to the one that takes its kind of quantity. Such a
    field has the default None, so ``needed`` says that the key may not be left out.
    """
    metadata = {"doc": doc, "key": name, "within": within, "was": was, "needed": needed}
    if factory is not MISSING:
        return field(default_factory=factory, metadata=metadata)
    return field(default=default, metadata=metadata)


def maybe(doc: str, name: str = "", **more: Any) -> Any:
    """A key that may be left out: its field is then None."""
    return key(doc, name, default=None, **more)


@dataclass(frozen=True, slots=True, eq=False)
class Key:
    """One key of a record type: its spelling, and the fields it fills with what each may hold."""

    key: str
    fields: tuple[tuple[str, Any], ...]
    required: bool
    doc: str
    within: Range | None
    was: Was | None

    @property
    def hint(self) -> Any:
        """What the key may hold, all its fields together."""
        if len(self.fields) == 1:
            return self.fields[0][1]
        kinds = (kind for _, hint in self.fields for kind in note(hint, Kinds).names)
        return Annotated[Quantity, Kinds(*kinds)]


def keys_of(record: type[Record]) -> dict[str, Key]:
    """The keys of a record type by their spelling in the file, in the order declared."""
    hashable: Any = record  # mypy looks for the hash of a record, not of its type
    return _keys_of(hashable)


@cache
def _keys_of(record: type[Record]) -> dict[str, Key]:
    hints = typing.get_type_hints(record, include_extras=True)
    keys: dict[str, Key] = {}
    for one in fields(record):
        if "key" not in one.metadata:
            continue
        name = one.metadata["key"] or one.name
        needed = one.default is MISSING and one.default_factory is MISSING
        first = keys.get(name)
        keys[name] = Key(
            key=name,
            fields=(*(first.fields if first else ()), (one.name, hints[one.name])),
            required=needed or one.metadata["needed"] or bool(first and first.required),
            doc=first.doc if first else one.metadata["doc"],
            within=first.within if first else one.metadata["within"],
            was=first.was if first else one.metadata["was"],
        )
    return keys


def alternatives(hint: Any) -> tuple[Any, ...]:
    """What a hint allows apart from None: several for a union of records, else one."""
    if get_origin(hint) in (Union, UnionType):
        return tuple(part for part in get_args(hint) if part is not NoneType)
    return (hint,)


def bare(hint: Any) -> tuple[Any, tuple[Any, ...]]:
    """A hint without its annotations, and the annotations."""
    if get_origin(hint) is Annotated:
        inner, *notes = get_args(hint)
        return inner, tuple(notes)
    return hint, ()


N = TypeVar("N")


def note(hint: Any, kind: type[N]) -> N:
    """The annotation of a kind that a hint carries. Raises StopIteration where it has none."""
    return next(one for one in bare(alternatives(hint)[0])[1] if isinstance(one, kind))


def is_record(hint: Any) -> bool:
    """Whether a hint is a record type."""
    return isinstance(hint, type) and issubclass(hint, Record)
