"""The catalogue with every rule entered goes in; the README's table of codes comes out."""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.findings.catalogue import Entry, catalogue
from buildsheets.rules import run  # noqa: F401  its import enters the rules


def rulebook() -> Mapping[str, Entry]:
    """Every code a finding can carry, with its name, severity and documentation."""
    return catalogue()


def table() -> str:
    """The codes as a Markdown table: code, name, severity, first sentence."""
    rows = ["| code | name | severity | what it says |", "|---|---|---|---|"]
    for code, entry in sorted(catalogue().items()):
        first = entry.documentation.split("\n\n")[0].replace("\n", " ").replace("|", "\\|")
        rows.append(f"| {code} | {entry.name} | {entry.severity} | {first} |")
    return "\n".join(rows)


if __name__ == "__main__":
    print(table())
