"""Reports: what a person sees, what an editor and a machine read, and text that tries to trick."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from typing import Any, get_args
from urllib.parse import unquote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.findings.finding import Finding, Fix, Label, Severity, Source, Span, SumLine
from buildsheets.findings.report import Form, count_line, render, visible, wants_colour, width

MENU = "cups:\n  m: {rim: 77 mm}\ndrinks:\n  tea:\n    amount: 1/2 cup\n"


def source(text: str, name: str = "menu/a b.yaml") -> dict[str, Source]:
    return {name: Source(name, text)}


def span(line: int, start: int, end: int, file: str = "menu/a b.yaml", end_line: int = 0) -> Span:
    return Span(file, line, start, end_line or line, end)


OVERFULL = Finding(
    code="FIT01",
    name="cup-overfull",
    severity=Severity.ERROR,
    span=span(5, 13, 20),
    message="tea takes up 148 ml of the 120 ml the cup may hold",
    labels=(Label(span(2, 12, 17), "the cup's rim"),),
    sums=(
        SumLine("tea", "1/2 cup", "118 ml", "metric cup"),
        SumLine("cream 奶", "30 ml", "30 ml"),
        SumLine("total", "", "148 ml"),
    ),
    fixes=(Fix("write 90 ml", span(5, 13, 20), "90 ml"),),
    hint="Take a larger cup.",
    subject=("tea", "m"),
)
NOTE = Finding("AAA01", "a-note", Severity.NOTE, None, "nowhere in particular")
WARNING = Finding("TXT07", "empty-file", Severity.WARNING, span(1, 1, 1), "no entries")


def test_full_form() -> None:
    assert render([NOTE, OVERFULL], source(MENU)) == (
        "error FIT01 cup-overfull: tea takes up 148 ml of the 120 ml the cup may hold\n"
        "  for tea, m\n"
        "  menu/a b.yaml:5:13\n"
        "    5 |     amount: 1/2 cup\n"
        "      |             ^^^^^^^\n"
        "  menu/a b.yaml:2:12: the cup's rim\n"
        "    2 |   m: {rim: 77 mm}\n"
        "      |            -----\n"
        "    part      written  takes up  because\n"
        "    tea       1/2 cup    118 ml  metric cup\n"
        "    cream 奶    30 ml     30 ml\n"
        "    ---------------------------\n"
        "    total                148 ml\n"
        "  fix: write 90 ml\n"
        "  hint: Take a larger cup.\n"
        "\n"
        "note AAA01 a-note: nowhere in particular\n"
        "\n"
        "1 error, 1 note\n"
    )


def test_short_form_is_one_line_each_in_order_of_place() -> None:
    assert render([NOTE, OVERFULL, WARNING], source(MENU), "short") == (
        "menu/a b.yaml:1:1: warning TXT07 empty-file: no entries\n"
        "menu/a b.yaml:5:13: error FIT01 cup-overfull: "
        "tea takes up 148 ml of the 120 ml the cup may hold\n"
        "note AAA01 a-note: nowhere in particular\n"
    )


def test_counts() -> None:
    assert count_line([]) == "no findings"
    assert count_line([WARNING, OVERFULL, OVERFULL]) == "2 errors, 1 warning"
    assert render([], {}) == "no findings\n"
    assert render([], {}, "short") == ""


def underline(text: str, place: Span) -> tuple[str, str]:
    """The quoted line and the marks below it, without the gutter."""
    finding = Finding("X", "x", Severity.ERROR, place, "x")
    _, _, quoted, marks, *_ = render([finding], source(text)).split("\n")
    return quoted.split("| ", 1)[1], marks.split("| ", 1)[1]


@pytest.mark.parametrize(
    ("text", "place", "quoted", "marks"),
    [
        ("a: b", span(1, 4, 5), "a: b", "   ^"),
        ("a:\tb", span(1, 4, 5), "a:  b", "    ^"),  # a tab runs to the next fourth column
        ("\tb", span(1, 2, 3), "    b", "    ^"),
        ("茶: 奶x", span(1, 5, 6), "茶: 奶x", "      ^"),  # UAX #11: ideographs are wide
        ("茶: 奶x", span(1, 4, 5), "茶: 奶x", "    ^^"),
        ("e\u0301: x", span(1, 5, 6), "e\u0301: x", "   ^"),  # a combining mark takes no column
        ("a: \x1b[31mx", span(1, 4, 5), "a: <U+001B>[31mx", "   ^^^^^^^^"),
        ("a: \u202ex", span(1, 5, 6), "a: <U+202E>x", "           ^"),
        ("a: b\r\nc: d\r\n", span(2, 4, 5), "c: d", "   ^"),
        ("a: b\rc: d\r", span(2, 4, 5), "c: d", "   ^"),
        ("a: b", span(1, 5, 5), "a: b", "    ^"),  # nothing is there: still one mark
        ("a: b", span(1, 50, 60), "a: b", "    ^"),
        ("a: |\n  b\n", span(1, 4, 4, end_line=2), "a: |", "   ^ (to line 2)"),
    ],
)
def test_marks_stand_below_what_they_mean(text: str, place: Span, quoted: str, marks: str) -> None:
    assert underline(text, place) == (quoted, marks)


def test_long_lines_are_cut_around_the_fault() -> None:
    text = "a: " + "x" * 5000 + "FAULT" + "y" * 5000
    quoted, marks = underline(text, span(1, 5004, 5009))
    assert len(quoted) < 200
    start = marks.index("^")
    assert quoted[start : start + marks.count("^")] == "FAULT"


def test_a_place_outside_the_sources_is_still_named() -> None:
    for place in (span(9, 1, 2), span(1, 1, 2, file="elsewhere.yaml")):
        assert str(place) in render([Finding("X", "x", Severity.ERROR, place, "m")], source("a"))


def test_no_text_of_the_menu_reaches_the_terminal_unspelt() -> None:
    nasty = "a\x1b]0;x\x07\nb\u2028\ud800\u202e"
    finding = Finding(
        "X",
        "x",
        Severity.ERROR,
        Span(nasty, 1, 1, 1, 2),
        nasty,
        labels=(Label(Span(nasty, 1, 1, 1, 2), nasty),),
        sums=(SumLine(nasty, nasty, nasty, nasty),),
        fixes=(Fix(nasty),),
        hint=nasty,
        subject=(nasty,),
    )
    for form in ("full", "short"):
        text = render([finding], {nasty: Source(nasty, nasty)}, form)  # type: ignore[arg-type]
        text.encode()
        assert not set(text) & set("\x1b\x07\u2028\u202e")
    assert len(render([finding], {}, "short").splitlines()) == 1


def test_many_of_one_kind_are_summed_up() -> None:
    many = [replace(NOTE, message=f"thing {n} is bare", hint="dress it") for n in range(5)]
    text = render([*many, OVERFULL], source(MENU))
    assert text.count("note AAA01 a-note") == 1
    assert text.count("hint: dress it") == 1
    assert "note AAA01 a-note: thing 0 is bare\n" in text
    rest = "".join(f"\n    thing {n} is bare" for n in range(1, 5))
    assert f"  and 4 more of this kind:{rest}\n" in text
    assert text.endswith("1 error, 5 notes\n")
    assert "more of this kind" not in render(many[:3], {})
    fixable = [replace(one, fixes=OVERFULL.fixes) for one in many]
    assert "more of this kind" not in render(fixable, {})


@pytest.mark.parametrize("form", get_args(Form))
def test_of_more_than_anybody_reads_the_gravest_are_told(
    form: Form, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildsheets.findings.report.MOST_TOLD", 2)
    note = Finding("NUT01", "nutrition", Severity.NOTE, span(1, 1, 2), "a note")
    slips = [
        Finding("VAL03", "bad-number", Severity.ERROR, span(line, 1, 2), f"slip {line}")
        for line in (2, 3)
    ]
    text = render([note, *slips], {}, form)
    assert [words in text for words in ("slip 2", "slip 3", "a note")] == [True, True, False]
    if form == "json":
        assert json.loads(text)["counts"] == {"error": 2, "warning": 0, "note": 1}
    elif form != "sarif":
        assert "1 more finding is not shown" in text
    monkeypatch.setattr("buildsheets.findings.report.MOST_TOLD", 3)
    assert "not shown" not in render([note, *slips], {}, form)


def test_a_workflow_command_holds_its_place_and_its_text_on_one_line() -> None:
    """GitHub Actions, "Workflow commands": ::error file=…,line=…,title=…::message; the toolkit
    escapes %, CR and LF, and in properties : and , as well."""
    one = replace(OVERFULL, message="100 % of it\nis: too, much", hint="")
    where = replace(OVERFULL.span, file="a,b:c.yaml") if OVERFULL.span else None
    line = render([replace(one, span=where)], {}, "github")
    assert line.count("\n") == 1
    assert line.startswith("::error file=a%2Cb%3Ac.yaml,line=")
    assert line.endswith("::100 %25 of it%0Ais: too, much\n")
    assert render([replace(NOTE, span=None)], {}, "github").startswith("::notice title=")
    assert render([], {}, "github") == ""


def test_colour_only_on_a_terminal_and_without_no_color() -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    assert wants_colour(Terminal(), {})
    assert wants_colour(Terminal(), {"NO_COLOR": ""})  # no-color.org: set and not empty
    assert not wants_colour(Terminal(), {"NO_COLOR": "1"})
    assert not wants_colour(io.StringIO(), {})
    assert wants_colour(io.StringIO(), {"FORCE_COLOR": "1"})
    assert not wants_colour(Terminal(), {"FORCE_COLOR": "1", "NO_COLOR": "1"})
    plain = render([OVERFULL, NOTE], source(MENU))
    coloured = render([OVERFULL, NOTE], source(MENU), colour=True)
    assert coloured != plain
    assert re.sub("\x1b\\[[0-9;]*m", "", coloured) == plain


def sarif(*findings: Finding) -> Any:
    return json.loads(render(findings, source(MENU), "sarif"))


def test_sarif_has_what_the_standard_requires() -> None:
    """SARIF 2.1.0 (OASIS), sections 3.13 to 3.57: the properties that SHALL be there."""
    log = sarif(NOTE, OVERFULL, WARNING)
    assert log["version"] == "2.1.0"  # 3.13.2
    (run,) = log["runs"]
    assert run["columnKind"] == "unicodeCodePoints"  # 3.14.17
    driver = run["tool"]["driver"]
    assert driver["name"] == "buildsheets"  # 3.19.8
    rules = driver["rules"]
    assert len({rule["id"] for rule in rules}) == len(rules) == 3  # 3.49.3
    assert [r["ruleId"] for r in run["results"]] == ["TXT07", "FIT01", "AAA01"]
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]  # 3.27.6
        assert result["level"] in ("none", "note", "warning", "error")  # 3.27.10
        assert result["message"]["text"]  # 3.11
        for location in result.get("locations", []):
            region = location["physicalLocation"]["region"]
            assert all(isinstance(number, int) and number >= 1 for number in region.values())
    fix = run["results"][1]["fixes"][0]
    (change,) = fix["artifactChanges"]  # 3.55.3
    (replacement,) = change["replacements"]  # 3.56.3
    assert replacement["deletedRegion"]["startColumn"] == 13  # 3.57.3
    assert replacement["insertedContent"]["text"] == "90 ml"


@pytest.mark.parametrize(
    "file", ["menu/a b.yaml", "menü/100%.yaml", "a:b.yaml", "/srv/x#y?.yaml", "茶.yaml"]
)
def test_sarif_addresses_are_encoded_uris(file: str) -> None:
    """RFC 3986: only unreserved characters, slashes and escapes; decoding gives the name back."""
    log = sarif(Finding("X", "x", Severity.ERROR, Span(file, 1, 1, 1, 2), "m"))
    location = log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]
    uri = location["artifactLocation"]["uri"]
    assert re.fullmatch(r"(file://)?(?:[A-Za-z0-9._~/-]|%[0-9A-F]{2})+", uri)
    parts = urlsplit(uri)
    assert unquote(parts.path) == file
    assert parts.scheme == ("file" if file.startswith("/") else "")


ANY_SPAN = st.builds(
    Span,
    file=st.sampled_from(["a", "b"]),
    line=st.integers(1, 9),
    column=st.integers(1, 40),
    end_line=st.integers(1, 9),
    end_column=st.integers(1, 40),
)


@given(
    st.lists(
        st.builds(
            Finding,
            code=st.just("X1"),
            name=st.just("x"),
            severity=st.sampled_from(Severity),
            span=st.none() | ANY_SPAN,
            message=st.text(),
            labels=st.lists(st.builds(Label, ANY_SPAN, st.text()), max_size=2).map(tuple),
        ),
        max_size=4,
    ),
    st.text(),
    st.sampled_from(get_args(Form)),
)
def test_any_findings_can_be_shown_in_any_form(
    findings: list[Finding], text: str, form: Form
) -> None:
    shown = render(findings, {"a": Source("a", text)}, form)
    shown.encode()
    if form == "sarif":
        json.loads(shown)
    if form == "short":
        assert len(shown.splitlines()) == len(findings)


@given(st.text())
def test_visible_text_is_printable_and_keeps_what_is_harmless(text: str) -> None:
    shown = visible(text)
    assert visible(shown) == shown
    assert width(shown) >= 0
    if text.isascii() and text.isprintable():
        assert shown == text
