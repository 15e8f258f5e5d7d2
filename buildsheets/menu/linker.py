"""Nodes to records: a menu's nodes go in, its entries and findings come out.

What a record's fields declare (``schema.py``) is read here: values, other entries by their names,
records within records. What is special to one kind of record is its own ``linked``.
"""

from __future__ import annotations

import collections.abc
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from typing import Any, NoReturn, TypeVar, get_args, get_origin

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Label, Located, Span
from buildsheets.findings.spelling import likeliest, listed, nearest
from buildsheets.menu.nodes import Mapping, Node, Pair, Scalar, Sequence
from buildsheets.menu.quantity import Measures, Quantity
from buildsheets.menu.schema import (
    ID_PATTERN,
    BySize,
    Entry,
    Form,
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
    note,
)
from buildsheets.menu.tables import ALLERGEN_SPELLINGS
from buildsheets.menu.values import (
    bad_id,
    empty,
    meant_keys,
    place,
    read_text,
    single,
    write,
    wrong_shape,
)

R = TypeVar("R", bound=Record)

MOST_NAMES_LISTED = 24
MOST_NESTED = 40
"""How deep batches may stand in one another: beyond any kitchen, and well within Python."""


class Failed:
    """Stands for a value that could not be read and has been reported."""


FAILED = Failed()

LOST = Failed()
"""Stands for a value that needs an entry which failed: one cause, one finding."""


class Stopped(Exception):
    """The record at hand is left out."""


@dataclass(slots=True)
class Section:
    """The entries of one section as written, and those that were linked."""

    kind: type[Entry]
    pairs: dict[str, Pair] = field(default_factory=dict)
    broken: bool = False  # lacks entries nobody could read, so any name may be one of them
    linked: dict[str, Entry | None] = field(default_factory=dict)


@dataclass(slots=True)
class Linker:
    """Reads nodes as records; an entry is linked when it is first named.

    ``allergens`` are those that may be declared, ``options`` what drinks offer,
    ``shop`` the shop's own choices.
    """

    findings: list[Finding] = field(default_factory=list)
    measures: Measures | None = None
    sections: dict[str, Section] = field(default_factory=dict)
    allergens: tuple[str, ...] = ()
    allergens_lost: bool = False
    options: Any = None
    shop: Any = None
    _under_way: list[tuple[str, str]] = field(default_factory=list)
    _faulty: bool = False  # whether the checks of the record at hand found a fault
    _without_density: set[str] = field(default_factory=set)
    _told: set[Finding] = field(default_factory=set)

    # What a record's own checks call.

    def error(
        self,
        code: str,
        span: Span,
        message: str,
        hint: str = "",
        *,
        labels: tuple[Label, ...] = (),
        fixes: tuple[Fix, ...] = (),
    ) -> None:
        """Note a fault that keeps its entry out of the menu; once, though several cups have it."""
        self._faulty = True
        found = finding(code, span, message, hint, labels=labels, fixes=fixes)
        if found not in self._told:
            self._told.add(found)
            self.findings.append(found)

    def stop(self, *fault: Any, **more: Any) -> NoReturn:
        """Note a fault after which the record at hand cannot be linked any further."""
        self.error(*fault, **more)
        raise Stopped

    def lacks_density(self, item: Entry, span: Span, message: str, hint: str) -> NoReturn:
        """Note at its first use that an item has no density; its other uses have the same cause."""
        if item.id not in self._without_density:
            self._without_density.add(item.id)
            label = Label(item.span, "has no density")
            self.error("DEN02", span, message, hint, labels=(label,))
        raise Stopped

    def clear_ounces(self, record: Record, name: str, amount: Quantity | None) -> bool:
        """Whether an amount is in no plain ounces, which may be of a volume or of a weight; say so
        of those."""
        if amount is None or amount.unit != "oz":
            return True
        node = record.places[name].value
        assert isinstance(node, Scalar)
        unclear = single(node, Quantity, (Kinds("volume", "mass"),), self.measures)
        if isinstance(unclear, Finding) and unclear not in self._told:
            self._told.add(unclear)
            self.findings.append(unclear)
        self._faulty |= isinstance(unclear, Finding)
        return not isinstance(unclear, Finding)

    @property
    def section_now(self) -> str:
        """The section of the entry that is being linked."""
        return self._under_way[-1][0]

    def section(self, name: str) -> dict[str, Any]:
        """The entries of a section that could be linked, in the order written."""
        found = {id: self._entry(name, id) for id in self.sections[name].pairs}
        return {id: entry for id, entry in found.items() if entry is not None}

    def known(
        self,
        name: str,
        span: Span,
        names: Collection[str],
        what: str,
        *sections: str,
        code: str = "REF01",
        gone: str = "",
    ) -> bool:
        """Whether a name is among those there are; says which there are where it is not, and what
        to do where it is ``gone`` from the menu.

        A name that stands in one of ``sections`` and could not be linked is not reported again.
        """
        if name in names:
            return True
        if any(self._is_lost(section, name) for section in sections):
            return False
        declared = sorted(names)
        hint = f"known: {listed(declared) or 'none is declared'}"
        if len(declared) > MOST_NAMES_LISTED:
            hint = f"{len(declared)} are declared"
        hint += f"; {gone}" if gone else ""
        ids = [one for one in declared if ID_PATTERN.fullmatch(one)]
        fixes = tuple(fix for word in likeliest(name, ids) for fix in write(word, span))
        self.error(code, span, f"there is no {what} '{name}'", hint, fixes=fixes)
        return False

    def known_sizes(self, by_size: BySize[Any]) -> None:
        """Say which sizes are no cup of the menu."""
        for name, span in by_size.places.items():
            self.known(name, span, self.sections["cups"].pairs, "cup", "cups")

    # Entries and what names them.

    def add_section(self, key: Key, pair: Pair | None, broken: bool) -> None:
        """Take in the entries of a section, to be linked when they are named."""
        section = Section(get_args(key.hint)[1], broken=broken or (key.required and pair is None))
        self.sections[key.key] = section
        if pair is None:
            return
        node = pair.value
        if isinstance(node, Mapping):
            section.pairs = {one.key.text: one for one in node.pairs}
            section.broken = broken or node.broken
        else:
            section.broken = True
            if isinstance(node, Scalar) and node.absent:
                self._fail(empty(pair.key.span, pair.key.text), broken=node.broken)
            else:
                self._wrong_shape(node, "entries by id (`id: …`)")

    def _entry(self, section: str, id: str) -> Entry | None:
        """An entry of a section, linked when it is first asked for; None when it failed."""
        found = self.sections[section]
        if id in found.linked:
            return found.linked[id]
        if (section, id) in self._under_way:
            self._ring(section, id)
            return None
        if len(self._under_way) > MOST_NESTED:
            span = found.pairs[id].key.span
            self.error("BAT01", span, f"'{id}' stands deeper than {MOST_NESTED} batches in others")
            return None
        pair = found.pairs[id]
        self._under_way.append((section, id))
        entry = self.record(pair.value, found.kind, pair.key, id=id)
        self._under_way.pop()
        if wrong := bad_id(id, pair.key.span):
            entry = self._fail(wrong)
        found.linked[id] = None if isinstance(entry, Failed) else entry
        return found.linked[id]

    def _is_lost(self, section: str, id: str) -> bool:
        """Whether an entry of this name may have been written and could not be linked."""
        found = self.sections[section]
        return found.broken or (id in found.pairs and self._entry(section, id) is None)

    def _ring(self, section: str, id: str) -> None:
        """Report batches that need each other, at the first of them."""
        ring = [*self._under_way[self._under_way.index((section, id)) :], (section, id)]
        spans = [self.sections[name].pairs[one].key.span for name, one in ring]
        message = f"batch '{id}' cannot be made: {' needs '.join(one for _, one in ring)}"
        labels = tuple(Label(span, "in the ring") for span in spans[1:-1])
        hint = "take one of them out of the other's parts"
        self.error("BAT01", spans[0], message, hint, labels=labels)

    def _named(self, node: Node, ref: Ref) -> Any:
        """The entry a reference names."""
        if not isinstance(node, Scalar):
            return self._wrong_shape(node, "a single value")
        name = node.text.strip()
        if wrong := bad_id(name, node.span) if name else empty(node.span):
            return self._fail(wrong)
        if ref.sections == ("allergens",):
            name = ALLERGEN_SPELLINGS.get(name, name)
            if name not in self.allergens and self.allergens_lost:
                return LOST
            known = self.known(name, node.span, self.allergens, ref.what, code="ALG03")
            return name if known else FAILED
        for section in ref.sections:
            if name in self.sections[section].pairs:
                return self._entry(section, name) or LOST
        names = [one for section in ref.sections for one in self.sections[section].pairs]
        lost = any(self.sections[section].broken for section in ref.sections)
        return (
            LOST if lost or self.known(name, node.span, names, ref.what, gone=ref.gone) else FAILED
        )

    # Values by what their field declares.

    def value(
        self, node: Node, hint: Any, owner: Scalar | None, within: Range | None = None
    ) -> Any:
        """Read a node as what a hint declares; ``owner`` is the key it stands under."""
        kinds = alternatives(hint)
        if isinstance(node, Scalar) and node.absent:
            at, name = (owner.span, owner.text) if owner else (node.span, "")
            return self._fail(empty(at, name), broken=node.broken)
        if len(kinds) > 1:
            return self._one_of(node, kinds, owner)
        plain, notes = bare(kinds[0])
        refs = [one for one in notes if isinstance(one, Ref)]
        if refs:
            return self._named(node, refs[0])
        if is_record(plain):
            return self.record(node, plain, owner)
        if plain is Text:
            return read_text(node, self.findings) or FAILED
        origin, args = get_origin(plain), get_args(plain)
        if not any(isinstance(one, Form) for one in notes):
            if origin is tuple:
                return self._items(node, args[0], within)
            if origin is BySize:
                return self._by_size(node, args[0], within)
            if origin is collections.abc.Mapping:
                return self._by_id(node, args[1], within)
        if not isinstance(node, Scalar):
            return self._wrong_shape(node, "a single value")
        read = single(node, plain, notes, self.measures)
        if isinstance(read, Finding):
            return self._fail(read)
        return read if self._is_within(node, read, within, owner) else FAILED

    def _is_within(
        self, node: Scalar, value: Any, within: Range | None, owner: Scalar | None
    ) -> bool:
        number = value.value if isinstance(value, Quantity) else value
        if within is None or within.holds(float(number)):
            return True
        what = f"`{owner.text}`" if owner else "this"
        self.error("RNG01", node.span, f"{what} is {node.text}, and must be {within.words}")
        return False

    def _fail(self, found: Finding, broken: bool = False) -> Failed:
        if not broken:
            self.findings.append(found)
        return FAILED

    def _wrong_shape(self, node: Node, wanted: str, hint: str = "") -> Failed:
        return self._fail(wrong_shape(node, wanted, hint))

    def _one_of(self, node: Node, kinds: Iterable[Any], owner: Scalar | None) -> Any:
        """A union of record types: the one whose tag key is there."""
        by_tag = {kind.tag_key: kind for kind in kinds if is_record(kind) and kind.tag_key}
        if not by_tag:
            raise TypeError(f"a union needs record types with a tag_key: {kinds}")
        tags = listed(f"`{tag}:`" for tag in by_tag)
        if not isinstance(node, Mapping):
            return self._wrong_shape(node, f"entries with {tags}")
        present = [pair.key for pair in node.pairs if pair.key.text in by_tag]
        if not present:
            near = [n for pair in node.pairs for n in nearest(pair.key.text, by_tag)]
            if near:  # the record reports the misspelt tag as an unknown key
                return self.record(node, by_tag[near[0]], owner)
            found = finding("KEY02", place(node, owner), f"this entry has none of {tags}")
            return self._fail(found, broken=node.broken)
        if len(present) > 1:
            message = f"this entry has both `{present[0].text}:` and `{present[1].text}:`"
            hint = "Make two entries of it."
            return self._fail(finding("KEY01", present[1].span, message, hint))
        return self.record(node, by_tag[present[0].text], owner)

    def _items(self, node: Node, hint: Any, within: Range | None) -> Any:
        """A list; one single value stands for a list of one.

        Entries named in a list that are lost are left out of it.
        """
        values = self._each(node, hint, within)
        if values is None or any(value is FAILED for value in values):
            return FAILED
        notes = bare(hint)[1]
        if any(isinstance(one, Ref) for one in notes):
            values = [value for value in values if value is not LOST]
            if "allergens" in note(hint, Ref).sections:  # in the order of the list
                values = [name for name in self.allergens if name in values]
        return LOST if any(value is LOST for value in values) else tuple(values)

    def _each(self, node: Node, hint: Any, within: Range | None) -> list[Any] | None:
        if isinstance(node, Mapping):
            self._wrong_shape(node, "a list", hint="Start each item with a hyphen: `- …`.")
            return None
        if isinstance(node, Scalar):
            if any(is_record(kind) for kind in alternatives(hint)):
                self._wrong_shape(node, "a list of entries")
                return None
            node = Sequence((node,), node.span)
        return [self.value(item, hint, None, within) for item in node.items]

    def _by_size(self, node: Node, hint: Any, within: Range | None) -> Any:
        """One value for all sizes, or one for each size id."""
        inner, _ = bare(hint)
        if is_record(inner) or inner is Text or get_origin(inner) is not None:
            raise TypeError(f"size ids cannot be told from the keys of {hint}")
        if not isinstance(node, Mapping):
            value = self.value(node, hint, None, within)
            if isinstance(value, Failed):
                return value
            return BySize(_located(node, value), {}, node.span)
        values = self._by_id(node, hint, within)
        if isinstance(values, Failed):
            return values
        if not values:
            return self._fail(empty(node.span))
        each = {pair.key.text: _located(pair.value, values[pair.key.text]) for pair in node.pairs}
        return BySize(None, each, node.span, {pair.key.text: pair.key.span for pair in node.pairs})

    def _by_id(self, node: Node, hint: Any, within: Range | None) -> Any:
        if not isinstance(node, Mapping):
            return self._wrong_shape(node, "entries by id (`id: …`)")
        values: dict[str, Any] = {}
        for pair in node.pairs:
            value = self.value(pair.value, hint, pair.key, within)
            wrong = bad_id(pair.key.text, pair.key.span)
            values[pair.key.text] = self._fail(wrong) if wrong else value
        return _failed(values.values(), node.broken) or values

    # Records.

    def record(self, node: Node, kind: type[Record], owner: Scalar | None, **own: Any) -> Any:
        """Read a node as a record; everything wrong inside it goes into the findings.

        A misspelt key is reported and then read as the key it was meant for, so that one slip is
        one finding. A value that fails makes its record fail.
        """
        if not isinstance(node, Mapping):
            first = next(iter(keys_of(kind)), "key")
            hint = f"Write keys below it, such as `{first}: …`."
            return self._wrong_shape(node, "entries (key: value)", hint=hint)
        meant = meant_keys(node, kind, owner, self.findings)
        read = {key.key: self._key(key, pair) for key, pair in meant.items()}
        missing = any(key.required and key not in meant for key in keys_of(kind).values())
        failed = _failed(read.values(), missing)
        if failed:
            return failed
        values = {name: value for fields in read.values() for name, value in fields.items()}
        places = {key.key: pair for key, pair in meant.items()}
        outer, self._faulty = self._faulty, False
        try:
            linked: Any = kind(span=node.span, places=places, **values, **own).linked(self)
        except Stopped:
            linked = LOST
        faulty, self._faulty = self._faulty, outer
        return FAILED if faulty else linked

    def record_over(self, pair: Pair | None, stand_in: R) -> R:
        """Read a section as a record like ``stand_in``, whose values stay where none could be read.

        The keys of those are named in ``failed``, so that what follows from them need not be
        reported; of a list, the items stay that can be read.
        """
        kind, node = type(stand_in), pair.value if pair else None
        if pair and not isinstance(node, Mapping):
            self.value(pair.value, kind, pair.key)  # reports the shape
        if pair is None or not isinstance(node, Mapping):
            nothing = replace(stand_in, failed=frozenset(key.key for key in keys_of(kind).values()))
            return nothing.linked(self)
        meant = meant_keys(node, kind, pair.key, self.findings)
        failed = {key.key for key in keys_of(kind).values() if key.required and key not in meant}
        values: dict[str, Any] = {}
        for key, one in meant.items():
            if get_origin(key.hint) is tuple and isinstance(one.value, Sequence):
                each = self._each(one.value, get_args(key.hint)[0], key.within) or []
                good = tuple(value for value in each if not isinstance(value, Failed))
                values[key.fields[0][0]] = good
                if len(good) < len(each):
                    failed.add(key.key)
            elif isinstance(read := self._key(key, one), Failed):
                failed.add(key.key)
            else:
                values |= read
        places = {key.key: one for key, one in meant.items()}
        own: dict[str, Any] = {**values, "span": node.span, "failed": frozenset(failed)}
        record: R = replace(stand_in, places=places, **own)
        return record.linked(self)

    def _key(self, key: Key, pair: Pair) -> Any:
        """The values of a key's fields."""
        node = pair.value
        if key.was and isinstance(node, Scalar) and node.text in key.was.values:
            node = replace(node, text=key.was.values[node.text])
        value = self.value(node, key.hint, pair.key, key.within)
        if isinstance(value, Failed):
            return value
        if len(key.fields) == 1:
            return {key.fields[0][0]: value}
        kind = next(name for name, hint in key.fields if value.kind in note(hint, Kinds).names)
        return {kind: value.value}


def _located(node: Node, value: Any) -> Located[Any]:
    return Located(value, node.span, node.text if isinstance(node, Scalar) else "")


def _failed(values: Iterable[Any], failed: bool) -> Failed | None:
    """FAILED or LOST where one of some values is, or None."""
    bad = [value for value in values if isinstance(value, Failed)]
    if failed or FAILED in bad:
        return FAILED
    return LOST if bad else None
