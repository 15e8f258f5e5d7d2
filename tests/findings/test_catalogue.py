"""The catalogue of codes: what it holds, and findings made by it."""

from __future__ import annotations

import pytest

from buildsheets.findings.catalogue import catalogue, enter, finding
from buildsheets.findings.finding import Severity
from buildsheets.rulebook import rulebook


def test_a_finding_has_its_codes_name_and_severity() -> None:
    note = finding("CARD04", None, "larger", subject=["B-1", "B-2"], hint="none")
    assert (note.name, note.severity) == ("larger-stock", Severity.NOTE)
    assert (note.message, note.subject, note.hint) == ("larger", ("B-1", "B-2"), "none")
    assert finding("PROOF09", None, "off").severity is Severity.ERROR
    assert finding("TXT07", None, "empty").severity is Severity.WARNING


def test_a_code_that_is_not_in_the_catalogue_makes_no_finding() -> None:
    with pytest.raises(KeyError):
        finding("FIT99", None, "nothing")


def test_a_code_is_entered_once() -> None:
    rulebook()
    with pytest.raises(ValueError, match="FIT01 is taken by cup-overfull"):
        enter("FIT01", "again", Severity.ERROR, "Another meaning.")
    assert catalogue()["TXT01"].name == "path-missing"


def test_every_code_has_words_of_its_own() -> None:
    entries = rulebook().values()
    assert len(entries) > 130
    assert len({entry.name for entry in entries}) == len(entries)
    assert len({entry.documentation for entry in entries}) == len(entries)
    assert all(len(entry.documentation) > 20 for entry in entries)
