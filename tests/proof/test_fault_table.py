"""Every code the cards room uses in its source is in the table, under the name it prints."""

from __future__ import annotations

import re
from pathlib import Path

import buildsheets
from buildsheets.findings.finding import Severity
from buildsheets.proof.fault_table import FAULTS

CODE = re.compile(r'"((?:CARD|SHEET|PROOF)\d\d)"(?:,\s*"([a-z-]+)")?')


def test_every_code_in_the_source_is_explained() -> None:
    used: dict[str, set[str]] = {}
    (package,) = buildsheets.__path__
    for file in Path(package).rglob("*.py"):
        if file.name != "fault_table.py":
            for code, name in CODE.findall(file.read_text("utf-8")):
                used.setdefault(code, set()).add(name)
    assert set(used) == set(FAULTS)
    for code, names in used.items():
        assert names - {""} <= {FAULTS[code][0]}, code


def test_names_are_of_one_code_each_and_notes_do_not_stop_printing() -> None:
    names = [name for name, _, _ in FAULTS.values()]
    assert len(set(names)) == len(names)
    assert FAULTS["CARD04"][1] is Severity.NOTE
    assert FAULTS["PROOF09"][1] is Severity.ERROR
