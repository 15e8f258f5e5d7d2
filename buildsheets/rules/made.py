"""A rule's code and what it saw go in; a finding under the rule's name and severity comes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Label, Mend, Span, SumLine
from buildsheets.rules.registry import RULES


def found(
    code: str,
    span: Span | None,
    message: str,
    *subject: str,
    labels: tuple[Label, ...] = (),
    sums: tuple[SumLine, ...] = (),
    mends: tuple[Mend, ...] = (),
    hint: str = "",
) -> Finding:
    """A finding of the rule entered under ``code``; ``subject`` names the entries concerned."""
    known = RULES[code]
    return Finding(
        code, known.name, known.severity, span, message, labels, sums, mends, hint, subject
    )


def first_of_each(servings: Sequence[Serving]) -> Iterator[Serving]:
    """The first serving of each drink and cup: the default choice."""
    seen: set[tuple[str, str]] = set()
    for serving in servings:
        key = (serving.drink.id, serving.cup.id)
        if key not in seen:
            seen.add(key)
            yield serving
