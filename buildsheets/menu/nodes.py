"""The nodes a menu file is read into: texts, lists and mappings, each with its place."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Span


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text as the file means it; an absent value is an unquoted empty text.

    ``broken`` marks a stand-in for something already reported: it has no value of its own and
    deserves no second finding.
    """

    text: str
    quoted: bool
    span: Span
    broken: bool = False

    @property
    def absent(self) -> bool:
        """Whether nothing was written, or ``null``."""
        return not self.text and not self.quoted


@dataclass(frozen=True, slots=True)
class Pair:
    """One key of a mapping with its value."""

    key: Scalar
    value: Node


@dataclass(frozen=True, slots=True)
class Mapping:
    """Entries in the order written; no key stands twice.

    ``broken`` marks a mapping that lacks entries already reported, so that a key missing here is
    no finding.
    """

    pairs: tuple[Pair, ...]
    span: Span
    broken: bool = False

    def get(self, key: str) -> Node | None:
        """The value of a key, or None where the key is not there."""
        return next((pair.value for pair in self.pairs if pair.key.text == key), None)


@dataclass(frozen=True, slots=True)
class Sequence:
    """Items in the order written."""

    items: tuple[Node, ...]
    span: Span


Node = Scalar | Mapping | Sequence


def text_at(node: Node | None, *keys: str) -> str | None:
    """The text at the end of a path of keys, or None where there is no text."""
    for key in keys:
        node = node.get(key) if isinstance(node, Mapping) else None
    return node.text if isinstance(node, Scalar) else None
