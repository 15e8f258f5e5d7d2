"""All rules run over a menu: menu and servings in, findings out, accepted ones taken away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Severity, any_error, sort_key
from buildsheets.menu.model import Allow, Menu
from buildsheets.rules import (  # noqa: F401 - their import enters the rules in the list
    blend_rules,
    fit_rules,
    gas_rules,
    guest_rules,
    keeping_rules,
    layer_rules,
    mark_rules,
    menu_rules,
    name_rules,
    option_rules,
    order_rules,
    prep_rules,
    safety_rules,
    shot_rules,
    slip_rules,
    when_rules,
)
from buildsheets.rules.registry import RULES, Rule

EVERYWHERE = "all"
"""The place of an allow that accepts all findings of a code."""

SAFETY = ("ALG", "CAU", "CHD", "HOT", "KEEP")
"""Codes that speak of a guest's safety begin so."""


def run(menu: Menu, servings: Sequence[Serving], *, complete: bool = True) -> list[Finding]:
    """Findings of every rule, in the order of the files; no rule stops another.

    ``complete`` says that nothing of the menu was lost before; rules of the whole menu need it.
    """
    rules = [rule for rule in RULES.values() if complete or not rule.whole]
    found: list[Finding] = []
    # All that is asked of one serving is asked in one go, as what is worked out for it is large.
    for serving in servings:
        for rule in rules:
            if rule.of_serving:
                found += _said(rule, menu, [serving])
    for rule in rules:
        if not rule.of_serving:
            found += _said(rule, menu, servings)
    return sorted(dict.fromkeys(found), key=sort_key)


def _said(rule: Rule, menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    try:
        yield from rule.check(menu, servings)
    except Exception as error:
        yield own_fault(f"check {rule.code}", error)


def own_fault(doing: str, error: Exception) -> Finding:
    """A slip of this program, said so, and an error: nobody knows what it left unchecked."""
    return finding(
        "BUG01",
        None,
        f"{doing} broke off: {type(error).__name__}: {error}",
        hint="this is a fault of buildsheets, not of your menu; please report it with the menu",
    )


def _accepts(allow: Allow, one: Finding) -> bool:
    everywhere = allow.place == EVERYWHERE and not one.code.startswith(SAFETY)
    return allow.code == one.code and (everywhere or allow.place in one.subject)


def without_allowed(findings: Sequence[Finding], allows: Sequence[Allow]) -> list[Finding]:
    """Take away what the owner accepts, and say where an acceptance is idle or gives no reason.

    An error is never taken away: a drink that does not fit does not fit for any reason. While
    errors stand an acceptance may be idle because of them, and is not called so.
    """
    kept: list[Finding] = []
    used: set[Allow] = set()
    refused: set[Allow] = set()
    for one in findings:
        allow = next((a for a in allows if _accepts(a, one)), None)
        error = one.severity is Severity.ERROR
        if allow is None or error:
            kept.append(one)
        if allow is not None:
            (refused if error else used).add(allow)
    complete = not any_error(findings)
    for allow in allows:
        place = f"{allow.code} at {allow.place}"
        if allow.place == EVERYWHERE and allow.code.startswith(SAFETY):
            message = f"{allow.code} speaks of safety, which is accepted at one place at a time"
            kept.append(finding("ALW04", allow.span, message, "name the place: at: its id"))
        elif allow in refused:
            message = f"{place} is an error; errors cannot be accepted"
            kept.append(finding("ALW03", allow.span, message))
        elif allow not in used and complete:
            message = f"there is no {place} to accept; take this entry out"
            kept.append(finding("ALW01", allow.span, message))
        if not allow.reason.strip():
            kept.append(finding("ALW02", allow.span, f"{place} is accepted without a reason"))
    return sorted(kept, key=sort_key)
