"""Every code a finding can carry, from all stages, with its documentation."""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.findings.finding import Severity
from buildsheets.ledger.faults import FAULTS as EDITION_FAULTS
from buildsheets.menu.faults import FAULTS, LINK_FAULTS, Fault
from buildsheets.proof.fault_table import FAULTS as CARD_FAULTS
from buildsheets.rules import run
from buildsheets.rules.registry import RULES

_OWN = {
    run.ALLOW_UNUSED: Fault(
        "allow-unused", Severity.WARNING, "An accepted finding that no longer occurs."
    ),
    run.ALLOW_REASONLESS: Fault(
        "allow-without-reason", Severity.WARNING, "A finding is accepted only with its reason."
    ),
    run.ALLOW_TOO_MUCH: Fault(
        "allow-of-an-error", Severity.WARNING, "An error cannot be accepted, only mended."
    ),
    "FIT08": Fault(
        "cannot-be-figured",
        Severity.ERROR,
        "A line must lie on the cup, below its rim; other inputs the fill model refuses.",
    ),
    "BUG01": Fault("our-own-crash", Severity.ERROR, "buildsheets itself failed; please report it."),
}


def rulebook() -> Mapping[str, Fault]:
    """Code to name, severity and documentation: reading, linking, checking and our own."""
    rules = {
        code: Fault(rule.name, rule.severity, rule.documentation) for code, rule in RULES.items()
    }
    printing = {code: Fault(*told) for code, told in {**CARD_FAULTS, **EDITION_FAULTS}.items()}
    return {**FAULTS, **LINK_FAULTS, **rules, **printing, **_OWN}


def table() -> str:
    """The rules as a Markdown table for the README: code, name, severity, first sentence."""
    rows = ["| code | name | severity | what it says |", "|---|---|---|---|"]
    for code, fault in sorted(rulebook().items()):
        first = fault.documentation.split("\n\n")[0].replace("\n", " ").replace("|", "\\|")
        rows.append(f"| {code} | {fault.name} | {fault.severity} | {first} |")
    return "\n".join(rows)


if __name__ == "__main__":
    print(table())
