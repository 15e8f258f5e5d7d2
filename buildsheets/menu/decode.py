"""Nodes to records: a node and a record type go in, a record or findings come out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, TypeVar, get_args, get_origin

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import At, Finding, Fix, Span
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.leaves import bad_id, empty, leaf
from buildsheets.menu.nodes import Entry, Mapping, Node, Scalar, Sequence
from buildsheets.menu.quantity import Measures
from buildsheets.menu.reference import reference
from buildsheets.menu.shapes import (
    BySize,
    Id,
    Key,
    Kinds,
    Named,
    Record,
    Ref,
    Words,
    about,
    alternatives,
    bare,
    is_record,
    keys_of,
)

__all__ = [
    "BySize",
    "Id",
    "Kinds",
    "Named",
    "Record",
    "Ref",
    "Words",
    "about",
    "decode",
    "decode_over",
    "reference",
]

R = TypeVar("R", bound=Record)

# A language tag: BCP 47 (RFC 5646), language with optional script, region and variants.
_LANGUAGE = re.compile(r"[a-zA-Z]{2,3}(?:-[a-zA-Z0-9]{2,8})*")


def decode(
    node: Node, record: type[R], findings: list[Finding], measures: Measures | None = None
) -> R | None:
    """Read a node as a record; everything wrong inside it goes into ``findings``.

    ``measures`` says which spoons and cups amounts mean. None when the record could not be read.
    A misspelt key is reported and then read as the key it was meant for, so that one slip is one
    finding. In :class:`Named` an entry that fails is left out; anywhere else a value that fails
    makes its record fail.

    Raises TypeError for a record type whose annotations mean nothing here.
    """
    value = _Decoder(findings, measures).record(node, record, None)
    return value if isinstance(value, record) else None


def decode_over(
    node: Node, stand_in: R, findings: list[Finding], measures: Measures | None = None
) -> R:
    """Read a node as a record like ``stand_in``, whose values stay where nothing could be read.

    The fields that hold a stand-in's value for that reason are named in ``failed``, so that what
    follows from them need not be reported. Records in its fields are read in the same way; of a
    list, the items that can be read.
    """
    return _Decoder(findings, measures).record_over(node, stand_in, None)


class _Failed:
    """Stands for a value that could not be read and has been reported."""


_FAILED = _Failed()


@dataclass(frozen=True, slots=True)
class _Decoder:
    findings: list[Finding]
    measures: Measures | None

    def value(self, node: Node, hint: Any, owner: Scalar | None) -> Any:
        """Read a node as what a hint declares; ``owner`` is the key it stands under."""
        kinds = alternatives(hint)
        if isinstance(node, Scalar) and node.absent:
            return self.fail(empty(owner.span if owner else node.span), broken=node.broken)
        if len(kinds) > 1:
            return self.one_of(node, kinds, owner)
        plain, notes = bare(kinds[0])
        if is_record(plain):
            return self.record(node, plain, owner)
        if plain is Words:
            return self.words(node)
        origin, args = get_origin(plain), get_args(plain)
        if origin is At:
            if not isinstance(node, Scalar):
                return self.wrong_shape(node, "a single value")
            read = leaf(node, args[0], notes, self.measures)
            return self.fail(read) if isinstance(read, Finding) else read
        if origin is tuple:
            return self.items(node, args[0], owner)
        if origin is BySize:
            return self.by_size(node, args[0], owner)
        if origin is Named:
            return self.named(node, args[0])
        raise TypeError(f"no reading is declared for {hint}")

    def fail(self, finding: Finding, broken: bool = False) -> _Failed:
        if not broken:
            self.findings.append(finding)
        return _FAILED

    def wrong_shape(self, node: Node, wanted: str, hint: str = "") -> _Failed:
        found = {Scalar: "a single value", Sequence: "a list", Mapping: "entries (key: value)"}
        message = f"{found[type(node)]} found, {wanted} wanted"
        return self.fail(finding("VAL01", node.span, message, hint=hint))

    def one_of(self, node: Node, kinds: Iterable[Any], owner: Scalar | None) -> Any:
        """A union of record types: the one whose tag key is there."""
        by_tag = {kind.tag_key: kind for kind in kinds if is_record(kind) and kind.tag_key}
        if not by_tag:
            raise TypeError(f"a union needs record types with a tag_key: {kinds}")
        tags = listed(f"`{tag}:`" for tag in by_tag)
        if not isinstance(node, Mapping):
            return self.wrong_shape(node, f"entries with {tags}")
        present = [entry.key for entry in node.entries if entry.key.text in by_tag]
        if not present:
            near = [n for e in node.entries for n in nearest(e.key.text, by_tag)]
            if near:  # the record reports the misspelt tag as an unknown key
                return self.record(node, by_tag[near[0]], owner)
            lack = finding("KEY02", _place(node, owner), f"this entry has none of {tags}")
            return self.fail(lack, broken=node.broken)
        if len(present) > 1:
            message = f"this entry has both `{present[0].text}:` and `{present[1].text}:`"
            return self.fail(
                finding("KEY01", present[1].span, message, hint="Make two entries of it.")
            )
        return self.record(node, by_tag[present[0].text], owner)

    def record(self, node: Node, record: type[Record], owner: Scalar | None) -> Any:
        if not isinstance(node, Mapping):
            first = next(iter(keys_of(record)), "key")
            return self.wrong_shape(
                node, "entries (key: value)", hint=f"Write keys below it, such as `{first}: …`."
            )
        meant = self.meant_keys(node, record, owner)
        values: dict[str, Any] = {}
        spans: dict[str, Span] = {}
        for key, entry in meant.items():
            values[key.name] = self.value(entry.value, key.hint, entry.key)
            spans[key.name] = entry.key.span
        missing = any(key.required and key not in meant for key in keys_of(record).values())
        if missing or any(value is _FAILED for value in values.values()):
            return _FAILED
        return record(span=node.span, keys=spans, **values)

    def record_over(self, node: Node, stand_in: R, owner: Scalar | None) -> R:
        known = keys_of(type(stand_in))
        if not isinstance(node, Mapping):
            self.record(node, type(stand_in), owner)  # reports the shape
            return replace(stand_in, failed=frozenset(key.name for key in known.values()))
        meant = self.meant_keys(node, type(stand_in), owner)
        values: dict[str, Any] = {}
        failed = {key.name for key in known.values() if key.required and key not in meant}
        for key, entry in meant.items():
            old = getattr(stand_in, key.name)
            if isinstance(old, Record):
                values[key.name] = self.record_over(entry.value, old, entry.key)
                continue
            if get_origin(key.hint) is tuple and isinstance(entry.value, Sequence):
                (item_hint, _) = get_args(key.hint)
                read = [self.value(item, item_hint, None) for item in entry.value.items]
                value: Any = tuple(one for one in read if one is not _FAILED)
                if len(value) < len(read):
                    failed.add(key.name)
            else:
                value = self.value(entry.value, key.hint, entry.key)
            if value is _FAILED:
                failed.add(key.name)
            else:
                values[key.name] = value
        spans = {key.name: entry.key.span for key, entry in meant.items()}
        return replace(stand_in, span=node.span, keys=spans, failed=frozenset(failed), **values)

    def meant_keys(
        self, node: Mapping, record: type[Record], owner: Scalar | None
    ) -> dict[Key, Entry]:
        """Which key each entry is meant for; reports unknown and missing keys."""
        known = keys_of(record)
        meant = {known[e.key.text]: e for e in node.entries if e.key.text in known}
        for entry in node.entries:
            if entry.key.text in known:
                continue
            left = [key for key in known.values() if key not in meant]
            left.sort(key=lambda key: not key.required)
            near = nearest(entry.key.text, (key.key for key in left))
            self.findings.append(_unknown_key(entry.key, near, [key.key for key in left]))
            if near:
                meant[known[near[0]]] = entry
        missing = [key for key in known.values() if key.required and key not in meant]
        if missing and not node.broken:
            subject = f"`{owner.text}`" if owner else "this entry"
            names = listed((f"`{key.key}`" for key in missing), "and")
            hint = "; ".join(f"{key.key}: {key.doc}" for key in missing if key.doc)
            place = _place(node, owner)
            self.findings.append(finding("KEY02", place, f"{subject} lacks {names}", hint=hint))
        return meant

    def words(self, node: Node) -> Any:
        if isinstance(node, Scalar):
            text = node.text.strip()
            return Words({"": text}, node.span) if text else self.fail(empty(node.span))
        if isinstance(node, Sequence):
            return self.wrong_shape(node, "a text, or a text for each language")
        texts: dict[str, str] = {}
        before = len(self.findings)
        for entry in node.entries:
            language = entry.key.text
            if not _LANGUAGE.fullmatch(language):
                message = f"“{language}” is not a language"
                hint = "Write languages as en, es, zh-Hant (BCP 47)."
                self.findings.append(finding("VAL09", entry.key.span, message, hint=hint))
            if not isinstance(entry.value, Scalar):
                self.wrong_shape(entry.value, "a text")
            elif not entry.value.text.strip():
                self.fail(empty(entry.key.span), broken=entry.value.broken)
            else:
                texts[language] = entry.value.text.strip()
        if not node.entries:
            return self.fail(empty(node.span), broken=node.broken)
        complete = len(self.findings) == before and len(texts) == len(node.entries)
        return Words(texts, node.span) if complete else _FAILED

    def items(self, node: Node, hint: Any, owner: Scalar | None) -> Any:
        """A list; one single value stands for a list of one."""
        if isinstance(node, Mapping):
            return self.wrong_shape(node, "a list", hint="Start each item with a hyphen: `- …`.")
        if isinstance(node, Scalar):
            if any(is_record(kind) for kind in alternatives(hint)):
                return self.wrong_shape(node, "a list of entries")
            node = Sequence((node,), node.span)
        values = [self.value(item, hint, None) for item in node.items]
        return _FAILED if any(value is _FAILED for value in values) else tuple(values)

    def by_size(self, node: Node, hint: Any, owner: Scalar | None) -> Any:
        """One value for all sizes, or one for each size id."""
        inner, _ = bare(hint)
        if inner is Words or get_origin(inner) in (Named, BySize):
            raise TypeError(f"size ids cannot be told from the keys of {hint}")
        own_keys = keys_of(inner).keys() if is_record(inner) else set()
        if not isinstance(node, Mapping) or any(e.key.text in own_keys for e in node.entries):
            value = self.value(node, hint, owner)
            return _FAILED if value is _FAILED else BySize(value, {}, node.span)
        named = self.named(node, hint)
        if named.failed or node.broken:
            return _FAILED
        if not named.items:
            return self.fail(empty(node.span))
        return BySize(None, named.items, node.span, named.key_spans)

    def named(self, node: Node, hint: Any) -> Any:
        if not isinstance(node, Mapping):
            return self.wrong_shape(node, "entries by id (`id: …`)")
        items: dict[str, Any] = {}
        failed: set[str] = set()
        for entry in node.entries:
            value = self.value(entry.value, hint, entry.key)
            wrong = bad_id(entry.key.text, entry.key.span)
            if wrong:
                self.findings.append(wrong)
            if wrong or value is _FAILED:
                failed.add(entry.key.text)
            else:
                items[entry.key.text] = value
        spans = {entry.key.text: entry.key.span for entry in node.entries}
        return Named(items, spans, frozenset(failed), node.span, node.broken)


def _place(node: Mapping, owner: Scalar | None) -> Span:
    """Where to point for a whole entry: at its key, else at its first line's key."""
    if owner is not None:
        return owner.span
    return node.entries[0].key.span if node.entries else node.span


def _unknown_key(key: Scalar, near: list[str], left: list[str]) -> Finding:
    if near:
        return finding(
            "KEY01",
            key.span,
            f"the key `{key.text}` is not known here; did you mean `{near[0]}`?",
            fixes=(Fix(f"write {near[0]}", key.span, near[0]),),
        )
    hint = f"Keys that can still stand here: {listed(left, 'and')}." if left else ""
    return finding("KEY01", key.span, f"the key `{key.text}` is not known here", hint=hint)
