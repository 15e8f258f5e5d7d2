"""Damaged menus: whatever is deleted, doubled or exchanged in the demo menu, findings come out and
never a traceback."""

from __future__ import annotations

import re
from collections.abc import Iterable

import menu_samples as m
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildsheets.findings.finding import Finding, Severity, Source
from buildsheets.menu.model import link
from buildsheets.menu.read import read
from buildsheets.pipeline import check

DEMO = m.demo()
# A scalar: a word or amount after a colon, a comma or an opening bracket, up to what ends it.
SCALAR = re.compile(r'(?<=[:\[{,] )[^\s\[{#,"][^,}\]\n]*|"[^"\n]*"|(?<=[\[{])[^\[{,}\]\n:]+')
PLACES = [
    (name, match.start(), match.end())
    for name, text in DEMO.items()
    for match in SCALAR.finditer(text)
]
WORDS = st.sampled_from(
    ["", "0", "-1", "0 ml", "1 l", "900 ml", "1e9", "nan", "[]", "{}", "no", "yes", "x", "medium",
     "100 %", "0 %", "300 %", "-5 °C", "-60 °C", "95 °C", "12:30", "1/2 scoop", "1000 scoops",
     "3 mm", "0.001 g/ml", "milk",
     "pearls", "cubes", "black-tea", "~", "*a", "!!int 3", "'", "\t",
     "2026-12-31", "café", "漢字", "9999999999 ml", "0.5", "settled", "floated", "shaker",
     "strained"]
)  # fmt: skip
EDITS = st.lists(
    st.tuples(
        st.integers(0, len(PLACES) - 1), st.sampled_from(["delete", "double", "replace"]), WORDS
    ),
    min_size=1,
    max_size=4,
    unique_by=lambda edit: edit[0],
)


def damaged(edits: list[tuple[int, str, str]]) -> dict[str, str]:
    files = dict(DEMO)
    for index, how, word in sorted(edits, key=lambda edit: -edit[0]):
        name, start, end = PLACES[index]
        text, old = files[name], files[name][start:end]
        new = {"delete": "", "double": f"{old} {old}", "replace": word}[how]
        files[name] = text[:start] + new + text[end:]
    return files


def looked_over(files: dict[str, str]) -> None:
    findings = m.check_texts(files).findings
    broken = [f for f in findings if f.code == "BUG01"]
    assert not broken, m.said(broken)
    placed(findings, files)


def placed(findings: Iterable[Finding], files: dict[str, str]) -> None:
    for finding in findings:
        assert finding.message
        if finding.span is not None and finding.span.line > 1:
            lines = files[m.name_of(finding.span)].splitlines()
            assert finding.span.line <= len(lines)
            assert finding.span.column <= len(lines[finding.span.line - 1]) + 1


@settings(max_examples=50, suppress_health_check=list(HealthCheck))
@given(EDITS)
def test_a_damaged_demo_menu_is_read_and_linked_without_a_traceback(
    edits: list[tuple[int, str, str]],
) -> None:
    files = damaged(edits)
    root, findings = read({name: Source(name, text) for name, text in files.items()})
    more = link(root)[1] if root else []
    placed([*findings, *more], files)


@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(EDITS)
def test_a_damaged_demo_menu_gives_findings_never_a_traceback(
    edits: list[tuple[int, str, str]],
) -> None:
    looked_over(damaged(edits))


@pytest.mark.slow
@settings(max_examples=80, suppress_health_check=list(HealthCheck))
@given(EDITS)
def test_many_damaged_demo_menus(edits: list[tuple[int, str, str]]) -> None:
    looked_over(damaged(edits))


@settings(max_examples=80, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_damaged_small_menu_gives_findings_never_a_traceback(data: st.DataObject) -> None:
    places = [match.span() for match in SCALAR.finditer(m.SMALL)]
    start, end = data.draw(st.sampled_from(places))
    word = data.draw(WORDS)
    looked_over({"menu.yaml": m.SMALL[:start] + word + m.SMALL[end:]})


@settings(max_examples=60)
@given(st.integers(0, m.SMALL.count("\n") - 1), st.integers(1, 6))
def test_lines_left_out_of_a_menu(first: int, count: int) -> None:
    lines = m.SMALL.splitlines(keepends=True)
    looked_over({"menu.yaml": "".join(lines[:first] + lines[first + count :])})


def test_the_places_that_are_damaged_are_many() -> None:
    assert len(PLACES) > 1000
    assert not any(f.severity is Severity.ERROR for f in check(m.DEMO).findings)
