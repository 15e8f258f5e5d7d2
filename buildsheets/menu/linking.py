"""Tools of the linker: written leaves and names in, plain values and findings about them out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TypeVar

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import At, Finding, Fix, Label, Span
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.model import Batch, Ingredient, Text, Tolerance, Written
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Lost, Words

T = TypeVar("T")

NONE_LOST = Lost()


@dataclass(slots=True)
class Linker:
    """The findings of one linking run, and the lookups that add to them."""

    findings: list[Finding] = field(default_factory=list)
    allergens_lost: Lost = NONE_LOST
    _without_density: set[str] = field(default_factory=set)

    def error(
        self,
        code: str,
        span: Span,
        message: str,
        *,
        hint: str = "",
        labels: tuple[Label, ...] = (),
        fixes: tuple[Fix, ...] = (),
    ) -> None:
        """Note a fault that keeps its entry out of the menu; once, though several cups have it."""
        found = finding(code, span, message, labels=labels, fixes=fixes, hint=hint)
        if found not in self.findings:
            self.findings.append(found)

    def lacks_density(self, item: Ingredient | Batch, span: Span, message: str, hint: str) -> None:
        """Note at its first use that an item has no density; its other uses have the same cause."""
        if item.id not in self._without_density:
            self._without_density.add(item.id)
            label = Label(item.span, "has no density")
            self.error("DEN02", span, message, hint=hint, labels=(label,))

    def find(
        self,
        ref: At[str] | None,
        known: Mapping[str, T],
        what: str,
        lost: Lost = NONE_LOST,
    ) -> T | None:
        """The entry a reference names, or ``None`` after saying which names there are.

        A reference to an entry that is lost is not reported again: one cause, one finding.
        """
        if ref is None:
            return None
        if ref.value in known:
            return known[ref.value]
        if ref.value not in lost:
            declared = sorted({*known, *lost.ids})  # also those that have a fault of their own
            close = nearest(ref.value, declared)
            names = listed(declared) if declared else "none is declared"
            self.error(
                "REF01",
                ref.span,
                f"there is no {what} '{ref.value}'",
                hint=f"known: {names}" if len(declared) <= 24 else f"{len(declared)} are declared",
                fixes=tuple(Fix(f"write {word}", ref.span, word) for word in close),
            )
        return None

    def positive(
        self,
        leaf: At[Quantity] | At[Decimal] | At[int] | None,
        what: str,
        *,
        zero: bool = False,
    ) -> float | None:
        """The value in base units; a value that is not above zero is an error."""
        if leaf is None:
            return None
        given = leaf.value
        value = given.value if isinstance(given, Quantity) else float(given)
        if value < 0 or (value == 0 and not zero):
            floor = "0 or more" if zero else "more than 0"
            self.error(
                "RNG01",
                leaf.span,
                f"{what} is {leaf.raw}, and must be {floor}",
            )
            return None
        return value

    def within(
        self, leaf: At[Quantity] | None, what: str, low: float, high: float, shown: str
    ) -> float | None:
        """The value in base units if it lies from ``low`` to ``high``; else an error."""
        if leaf is None:
            return None
        if not low <= leaf.value.value <= high:
            self.error(
                "RNG01",
                leaf.span,
                f"{what} is {leaf.raw}, and must be {shown}",
            )
            return None
        return leaf.value.value

    def allergens(self, refs: tuple[At[str], ...], known: Mapping[str, Text]) -> tuple[str, ...]:
        """The ids of the list that are named, in the list's order."""
        lost = self.allergens_lost
        named = {ref.value for ref in refs if self.find(ref, known, "allergen on the list", lost)}
        return tuple(allergen for allergen in known if allergen in named)


def text(words: Words) -> Text:
    """Words as a linked text."""
    return Text(dict(words.by_language))


def written(leaf: At[Quantity]) -> Written:
    """A leaf as it was typed."""
    return Written(leaf.raw, leaf.span)


def value(leaf: At[Quantity] | None, default: float) -> float:
    """The value in base units, or the default where nothing was written."""
    return default if leaf is None else leaf.value.value


def tolerance(spread: At[Quantity] | None, kind: str | None) -> Tolerance | None:
    """A written spread as a tolerance; a limit unless it says a standard deviation."""
    if spread is None:
        return None
    quantity = spread.value
    law = kind or "limit"
    if quantity.kind == "percent":
        return Tolerance(None, quantity.value, law)
    unit = {"volume": "ml", "mass": "g", "length": "mm"}.get(quantity.kind, "")
    return Tolerance(quantity.value, None, law, unit)
