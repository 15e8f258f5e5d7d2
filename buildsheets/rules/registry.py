"""The list of rules: each is a documented function from menu and servings to findings."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Severity
from buildsheets.menu.model import Menu

Check = Callable[[Menu, Sequence[Serving]], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule's identity and its check; the check's docstring is the rule's documentation.

    ``whole``: it speaks of what is nowhere in the menu, so it waits until all of it can be read.
    """

    code: str
    name: str
    severity: Severity
    check: Check
    whole: bool = False

    @property
    def documentation(self) -> str:
        """What it checks, why it matters, a menu that trips it, the same mended, sources."""
        return inspect.getdoc(self.check) or ""


RULES: dict[str, Rule] = {}


def rule(
    code: str, name: str, severity: Severity, *, whole: bool = False
) -> Callable[[Check], Check]:
    """Enter a check in the list of rules under ``code``; two rules never share a code."""

    def enter(check: Check) -> Check:
        if code in RULES:
            raise ValueError(f"rule code {code} is taken by {RULES[code].name}")
        RULES[code] = Rule(code, name, severity, check, whole)
        return check

    return enter
