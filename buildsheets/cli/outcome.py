"""What became of a run goes in; one JSON object comes out, and the schema of a command's object.

Every command that answers programs writes the same object on success and on failure: what ran, how
it ended, the findings, and in ``result`` what the command is for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

from buildsheets import __version__
from buildsheets.findings.finding import Finding, Severity

FORMAT = 1
"""Goes up when a key leaves or changes its meaning; a new key leaves it as it is."""

UNITS: Mapping[str, str] = {
    "g": "grams",
    "mg": "milligrams",
    "ml": "millilitres",
    "l": "litres",
    "mm": "millimetres",
    "c": "degrees Celsius",
    "min": "minutes; of a clock time, since midnight of the day",
    "seconds": "seconds",
    "kj": "kilojoules",
    "kcal": "kilocalories",
    "brix": "degrees Brix",
    "pct": "per cent",
    "share": "parts of one",
    "batches": "full batches",
}
"""What the last word of a key says of its number; ``g_ml`` is one per the other. Money is in the
currency, and what has ``unit`` beside it is in that."""


RESULTS: Mapping[str, str] = {
    "check": "edition_results.Checked",
    "explain": "explain_results.Explained",
    "print": "edition_results.AnyPrint",
    "proof": "edition_results.Proofed",
    "plan": "prep_results.Planned",
    "buy": "prep_results.Ordered",
    "labels": "prep_results.Labelled",
    "log": "prep_results.Logged",
    "costs": "prep_results.Costs",
    "facts": "prep_results.Nutrition",
    "allergens": "prep_results.Allergens",
    "batch": "prep_results.Scaled",
    "publish": "edition_results.Published",
    "compare": "edition_results.Compared",
    "current": "edition_results.CardsCurrent",
    "site": "edition_results.Site",
    "learn": "learning.AnyLearned",
}
"""What each command that answers programs finds."""


@dataclass(slots=True)
class Outcome:
    """What a run has to tell a program so far; ``problem`` is why it ended without an answer."""

    command: str | None
    currency: str = ""
    findings: list[Finding] = field(default_factory=list)
    problem: str = ""
    result: object = None

    def text(self, code: int) -> str:
        """The object, in ASCII, which every terminal and pipe can carry."""
        import json

        from buildsheets.cli.plain_data import told
        from buildsheets.findings.report import gravest

        envelope = Envelope(
            About(FORMAT, __version__, self.command),
            code == 0,
            code,
            self.problem or None,
            UNITS,
            self.currency or None,
            {str(one): sum(f.severity is one for f in self.findings) for one in Severity},
            tuple(gravest(self.findings)),
            self.result,
        )
        return json.dumps(told(envelope), indent=2, allow_nan=False)


@dataclass(frozen=True, slots=True)
class About:
    """The format's own number, the version of buildsheets, and the command that ran; ``null`` where
    the words name none."""

    format: int
    version: str
    command: str | None


@dataclass(frozen=True, slots=True)
class Envelope:
    """How a command ended: its exit code, whether that is 0, and the problem where it could not
    answer; then its findings and its result.

    ``units`` says what the last word of a key says of its number.
    """

    buildsheets: About
    ok: bool
    exit: int
    problem: str | None
    units: Mapping[str, str]
    currency: str | None
    counts: Mapping[str, int]
    findings: tuple[Finding, ...]
    result: object


def json_schema(command: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of what a command writes with ``--format json``."""
    from buildsheets.cli.plain_data import keys_of, schema, whole

    module, _, name = RESULTS[command].partition(".")
    result = getattr(import_module(f"buildsheets.cli.{module}"), name)
    named: dict[str, Any] = {}
    properties = {key: schema(hint, named) for key, _, hint in keys_of(Envelope) if key != "result"}
    named["About"]["properties"]["format"] = {"const": FORMAT}
    named["About"]["properties"]["command"] = {"const": command}
    properties["exit"] = {"enum": [0, 1, 2, 130]}
    properties["units"] = {"const": dict(UNITS)}
    counted = {str(one): {"type": "integer", "minimum": 0} for one in Severity}
    properties["counts"] = whole(counted)
    properties["result"] = {"anyOf": [schema(result, named), {"type": "null"}]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"buildsheets {command}",
        **whole(properties),
        "$defs": named,
    }
