"""The list of rules: each is a documented function from menu and servings to findings."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from buildsheets.cup.serving import Serving
from buildsheets.findings.catalogue import enter
from buildsheets.findings.finding import Finding, Severity
from buildsheets.menu.model import Menu

Check = Callable[[Menu, Sequence[Serving]], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A check under its code; the check's docstring is the rule's documentation.

    It says what is checked, why it matters, a menu that trips it, the same fixed, and sources.
    ``whole``: it speaks of what is nowhere in the menu, so it waits until all of it can be read.
    """

    code: str
    check: Check
    whole: bool = False


RULES: dict[str, Rule] = {}


def rule(
    code: str, name: str, severity: Severity, *, whole: bool = False
) -> Callable[[Check], Check]:
    """Enter a check in the list of rules and in the catalogue of codes."""

    def add(check: Check) -> Check:
        enter(code, name, severity, inspect.getdoc(check) or "")
        RULES[code] = Rule(code, check, whole)
        return check

    return add
