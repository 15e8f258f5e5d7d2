"""All rules run over a menu: menu and servings in, findings out, accepted ones taken away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Severity, sort_key
from buildsheets.menu.model import Allow, Menu
from buildsheets.rules import fit_rules, guest_rules, keeping_rules, menu_rules, prep_rules
from buildsheets.rules.registry import RULES

ROOMS = (fit_rules, menu_rules, guest_rules, keeping_rules, prep_rules)
"""Modules whose import enters their rules in the list."""

ALLOW_UNUSED = "ALW01"
ALLOW_REASONLESS = "ALW02"
ALLOW_TOO_MUCH = "ALW03"


def run(menu: Menu, servings: Sequence[Serving], *, complete: bool = True) -> list[Finding]:
    """Findings of every rule, in the order of the files; no rule stops another.

    ``complete`` says that nothing of the menu was lost before; rules of the whole menu need it.
    """
    found: list[Finding] = []
    for rule in RULES.values():
        if rule.whole and not complete:
            continue
        try:
            found += rule.check(menu, servings)
        except Exception as error:
            found.append(own_fault(f"check {rule.code}", error))
    return sorted(found, key=sort_key)


def own_fault(doing: str, error: Exception) -> Finding:
    """A slip of this program, said so, and an error: nobody knows what it left unchecked."""
    return Finding(
        "BUG01",
        "our-own-crash",
        Severity.ERROR,
        None,
        f"{doing} broke off: {type(error).__name__}: {error}",
        hint="this is a fault of buildsheets, not of your menu; please report it with the menu",
    )


def without_allowed(findings: Sequence[Finding], allows: Sequence[Allow]) -> list[Finding]:
    """Take away what the owner accepts, and say where an acceptance is idle or gives no reason.

    An error is never taken away: a drink that does not fit does not fit for any reason. While
    errors stand an acceptance may be idle because of them, and is not called so.
    """
    complete = all(finding.severity is not Severity.ERROR for finding in findings)
    kept: list[Finding] = []
    used: set[int] = set()
    refused: set[int] = set()
    for finding in findings:
        index = _allowing(finding, allows)
        if index is None:
            kept.append(finding)
        elif finding.severity is Severity.ERROR:
            refused.add(index)
            kept.append(finding)
        else:
            used.add(index)
    for i, allow in enumerate(allows):
        if i in refused:
            kept.append(
                _about(
                    ALLOW_TOO_MUCH,
                    "allow-of-an-error",
                    allow,
                    f"{allow.code} at {allow.place} is an error; errors cannot be accepted",
                )
            )
        elif i not in used and complete:
            kept.append(
                _about(
                    ALLOW_UNUSED,
                    "allow-unused",
                    allow,
                    f"there is no {allow.code} at {allow.place} to accept; take this entry out",
                )
            )
        if not allow.reason.strip():
            kept.append(
                _about(
                    ALLOW_REASONLESS,
                    "allow-without-reason",
                    allow,
                    f"{allow.code} at {allow.place} is accepted without a reason",
                )
            )
    return sorted(kept, key=sort_key)


def _allowing(finding: Finding, allows: Sequence[Allow]) -> int | None:
    for i, allow in enumerate(allows):
        if allow.code == finding.code and allow.place in finding.subject:
            return i
    return None


def _about(code: str, name: str, allow: Allow, message: str) -> Finding:
    return Finding(code, name, Severity.WARNING, allow.span, message)


def strict(findings: Sequence[Finding]) -> list[Finding]:
    """The same findings with warnings raised to errors."""
    return [
        replace(f, severity=Severity.ERROR) if f.severity is Severity.WARNING else f
        for f in findings
    ]
