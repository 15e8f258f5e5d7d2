"""What programs read: every command tells one object, good or bad, as its schema says."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from command_samples import DEMO, Ran, run
from jsonschema import Draft202012Validator
from menu_samples import SMALL, check_once

from buildsheets.cli.arguments import parser
from buildsheets.cli.outcome import RESULTS, UNITS, Outcome, json_schema
from buildsheets.findings.finding import Finding, Fix, Label, Severity, Span, SumLine
from buildsheets.pipeline import Checked

WITHOUT_UNIT = {
    *("line", "column", "end_line", "end_column"),  # of a file
    *("number", "of", "worst_step", "revision", "was_revision", "now_revision", "then_revision"),
    *("error", "warning", "note", "count", "cards", "rendered_cards", "pages", "loads", "servings"),
    *("people", "busy", "there", "practice_questions"),
    *("step", "asked", "missed", "sheets_counted"),
    *("factor", "largest_factor"),
}
"""Numbers that count or number something, or say how many times as much."""
MONEY = {"cost", "price", "net_price", "margin", "packaging", "pack_price"}
ELSEWHERE = {("Amount", "value"), ("Amount", "label"), ("Figure", "value"), ("End", "amount")}
"""Numbers whose unit the key above says, or stands beside it there."""


@cache
def schema(command: str) -> dict[str, Any]:
    return json_schema(command)


def wrong(data: Any, command: str) -> list[str]:
    """What of an object is not as the schema of a command says."""
    checker = Draft202012Validator.FORMAT_CHECKER
    found = Draft202012Validator(schema(command), format_checker=checker).iter_errors(data)
    return [f"{one.json_path}: {one.message}" for one in found]


def told(ran: Ran, command: str) -> dict[str, Any]:
    """The one object on standard output, as its schema and its exit code say."""
    data: dict[str, Any] = ran.data
    assert wrong(data, command) == []
    assert (data["exit"], data["ok"]) == (ran.code, ran.code == 0)
    assert sum(data["counts"].values()) == len(data["findings"])
    return data


@pytest.fixture
def kiosk(folder: Path) -> Path:
    """A working folder with a menu of two drinks in it: one file, cups of all kinds."""
    (folder / "menu.yaml").write_text(SMALL, "utf-8")
    return folder


@pytest.mark.parametrize(
    "words",
    [
        "check",
        "explain marsh milk tea large less ice 50 + oat + cap",
        "explain honey-lantern",
        "plan saturday",
        "buy saturday saturday",
        "labels cooked-pearls whole-milk",
        "labels --calendar",
        "log",
        "costs --what-if whole-milk=1.55",
        "facts",
        "allergens",
        "batch parsnip-cream --containers 3x1000",
        "batch black-tea-brew --portions small=30",
        "compare W26",
        "current B-STHR5-Y r1 B-1234",
    ],
)
def test_the_demo_is_told_as_its_schema_says(
    words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    command = words.split()[0]
    data = told(run(capsys, *words.split(), "--menu", DEMO, "--format", "json"), command)
    assert data["buildsheets"]["format"] == 1
    assert (data["buildsheets"]["command"], data["currency"]) == (command, "EUR")
    assert data["result"] is not None
    assert data["problem"] is None


@pytest.mark.parametrize(
    "words",
    ["check", "explain cloud", "facts", "allergens", "costs", "labels brew", "log made brew",
     "log counted brew 2 l", "batch brew", "site", "current B-1234", "learn sheet --dry-runs"],
)  # fmt: skip
def test_a_menu_of_another_shape_is_told_as_its_schema_says(
    words: str, kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = words.split()[0]
    ran = run(capsys, *words.split(), "--menu", "menu.yaml", "--format=json")
    data = told(ran, command)
    assert data["result"] is not None


@pytest.mark.slow
def test_what_is_printed_published_and_compared_is_told(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def ask(words: str) -> dict[str, Any]:
        ran = run(capsys, *words.split(), "--format", "json")
        return told(ran, words.split()[0])

    drafts = ask("print menu.yaml --only gauge")["result"]
    assert {card["draft"] for card in drafts["cards"]} == {True}
    assert all((Path(drafts["folder"]) / name).is_file() for name in drafts["files"])
    assert ask("print --check")["result"] == {"as_printed": {drafts["folder"]: True}}
    assert ask("proof out")["result"] == {"path": "out"}
    published = ask("publish menu.yaml")["result"]
    assert Path(published["file"]).is_file()
    changes = published["changes"]
    assert (changes["from"], changes["to"], published["edition"]) == ("", "S26", "S26")
    new = {card["code"] for card in changes["cards"] if card["status"] == "new"}
    assert len(new) == published["cards"]
    hung = changes["hang_by_station"]
    assert {one["code"] for cards in hung.values() for one in cards} == new
    assert {""} < set(hung) <= {"", *_stations()}  # by their ids
    again = ask("publish menu.yaml")
    assert [one["code"] for one in again["findings"]] == ["PUB05"]
    assert ask("print menu.yaml --changed")["result"]["files"] == []
    edited = SMALL.replace("amount: 100 ml", "amount: 90 ml")
    assert edited != SMALL
    (kiosk / "menu.yaml").write_text(edited, "utf-8")
    changed = ask("compare S26 --menu menu.yaml")["result"]["cards"]
    assert {card["status"] for card in changed} == {"changed"}
    assert all(one["text"] for card in changed for one in card["changes"])
    assert ask("site menu.yaml")["result"]["files"]
    refused = ask("publish menu.yaml")
    assert (refused["exit"], [one["code"] for one in refused["findings"]]) == (1, ["PUB01"])


def _stations() -> set[str]:
    menu = check_once(Path("menu.yaml")).menu
    assert menu is not None
    return set(menu.stations)


FAILURES: list[tuple[str, int, str, str]] = [
    # words, exit code, what the problem says, the code of a finding
    ("check nowhere", 2, "", "TXT01"),
    ("check wrong.yaml", 1, "", "VAL08"),
    ("check --sideways", 2, "there is no option --sideways", ""),
    ("check menu.yaml other", 2, "'other' is a word too many", ""),
    ("check --watch", 2, "--watch does nothing with --format json", ""),
    ("explain cloud --menu nowhere", 2, "", "TXT01"),
    ("explain", 2, "ORDER", ""),
    ("explain soup --menu menu.yaml", 2, "no drink is called 'soup'", ""),
    ("print wrong.yaml", 1, "nothing was printed, since an error stands", "VAL08"),
    ("print menu.yaml --only soup", 2, "there is no card of 'soup'", ""),
    ("print --check", 2, "nothing was printed in out", ""),
    ("print --flip long", 2, "--flip does nothing without --sheet", ""),
    ("proof nowhere", 2, "there is nothing at nowhere", ""),
    ("proof menu.yaml", 1, "", "PROOF13"),
    ("plan monday --menu menu.yaml", 2, "there is no day 'monday'", ""),
    ("plan monday --menu wrong.yaml", 1, "", "VAL08"),
    ("plan", 2, "DAY", ""),
    ("buy monday --menu menu.yaml", 2, "there is no day 'monday'", ""),
    ("labels --menu menu.yaml", 2, "say what was made or opened", ""),
    ("labels brew --at noon", 2, "'noon' is not a time", ""),
    ("log made soup --menu menu.yaml", 2, "there is no batch or ingredient 'soup'", ""),
    ("log drunk brew", 2, "there is no 'drunk'", ""),
    ("costs menu.yaml --language en", 2, "--language does nothing with --format json", ""),
    ("costs menu.yaml --what-if soup=1", 2, "there is no ingredient or packaging 'soup'", ""),
    ("facts nowhere", 2, "", "TXT01"),
    ("allergens wrong.yaml", 1, "", "VAL08"),
    ("batch soup menu.yaml", 2, "there is no batch 'soup'", ""),
    ("batch brew --factor many", 2, "many", ""),
    ("publish wrong.yaml", 1, "", "VAL08"),
    ("compare S26 --menu menu.yaml", 2, "", "PUB07"),
    ("compare S26 --menu wrong.yaml", 1, "", "VAL08"),
    ("current", 2, "CODE", ""),
    ("current B-1234 --day soon", 2, "'soon' is not a day", ""),
    ("site nowhere", 2, "", "TXT01"),
    ("learn pack nowhere", 2, "", "TXT01"),
    ("learn sign-off menu.yaml --since S1", 2, "there is nothing to compare with", ""),
    ("learn sheet wrong.yaml", 1, "", "VAL08"),
    ("learn score menu.yaml --menu menu.yaml", 2, "the first line has to be sheet,missed", ""),
]


@pytest.mark.parametrize(("words", "code", "problem", "finding"), FAILURES)
def test_a_failure_is_told_in_the_same_object(
    words: str, code: int, problem: str, finding: str, kiosk: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    (kiosk / "wrong.yaml").write_text(SMALL.replace("amount: 100 ml", "amount: 100"), "utf-8")
    ran = run(capsys, *words.split(), "--format", "json")
    data = told(ran, words.split()[0])
    assert ran.code == code
    assert problem in (data["problem"] or "") if problem else data["problem"] is None
    assert problem in ran.err  # people read the same
    assert finding in [one["code"] for one in data["findings"]] if finding else True


def test_a_failure_of_every_command_is_tried() -> None:
    assert {words.split()[0] for words, *_ in FAILURES} == set(RESULTS)


@pytest.mark.parametrize(
    ("crash", "code", "problem"),
    [
        (RuntimeError("no such luck"), 2, "BUG01 our-own-crash"),
        (KeyboardInterrupt(), 130, "stopped"),
        (PermissionError(13, "Permission denied", "menu.yaml"), 2, "menu.yaml: Permission denied"),
    ],
)
def test_a_crash_is_told_too(
    crash: BaseException, code: int, problem: str, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def fails(menu: Path) -> Checked:
        raise crash

    monkeypatch.setattr("buildsheets.pipeline.check", fails)
    data = told(run(capsys, "check", "--format", "json"), "check")
    assert (data["exit"], data["result"]) == (code, None)
    assert data["problem"].startswith(problem)


@pytest.mark.parametrize("words", ["brew --format json", "--format json", "keys --format json"])
def test_words_that_name_no_such_command_are_told_as_well(
    words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, *words.split())
    assert (ran.code, ran.data["exit"]) == (2, 2)
    assert ran.data["problem"] in ran.err


def test_a_figure_that_json_cannot_hold_is_a_problem_not_a_broken_document() -> None:
    with pytest.raises(ValueError, match="JSON"):
        Outcome("check", result={"over_ml": math.nan}).text(0)


def test_every_command_with_json_has_a_schema_and_no_other() -> None:
    offers = {
        name
        for name, command in parser().commands.items()
        for one in (command.commands or {name: command}).values()
        for action in one._actions
        if action.dest == "format" and "json" in (action.choices or ())
    }
    assert offers == set(RESULTS)


@pytest.mark.parametrize("command", RESULTS)
def test_a_schema_is_sound_and_published(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    data = run(capsys, "schema", command).data
    Draft202012Validator.check_schema(data)
    assert data == schema(command)
    assert data["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def objects(data: Any, name: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Each schema of an object in a schema, with its name."""
    if isinstance(data, list):
        for one in data:
            yield from objects(one, name)
    elif isinstance(data, dict):
        if "properties" in data:
            yield name, data
        for key, held in data.items():
            yield from objects(held, key)


@pytest.mark.parametrize("command", RESULTS)
def test_an_object_has_the_keys_its_schema_names_and_no_other(command: str) -> None:
    every = list(objects(schema(command)))
    assert len(every) > 5
    for name, one in every:
        assert one["additionalProperties"] is False, name
        assert one["required"] == list(one["properties"]), name


def is_number(value: Mapping[str, Any]) -> bool:
    return value.get("type") in ("number", "integer") or any(map(is_number, value.get("anyOf", ())))


def listed(value: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What stands in a list."""
    return [*value.get("prefixItems", ()), *([value["items"]] if value.get("items") else [])]


@pytest.mark.parametrize("command", RESULTS)
def test_every_number_says_its_unit(command: str) -> None:
    """In the last word of its key, or beside it under ``unit``; money is in the currency."""
    for name, one in objects(schema(command)):
        keys = one["properties"]
        for key in (key for key, value in keys.items() if is_number(value)):
            said = key.rpartition("_")[2] in UNITS or key in WITHOUT_UNIT | MONEY
            assert said or "unit" in keys or (name, key) in ELSEWHERE, f"{name}.{key}"
        for key, value in keys.items():  # in a bare list it could not
            assert not any(map(is_number, listed(value))), f"{name}.{key}"


def test_a_slip_in_an_object_would_be_noticed() -> None:
    data = json.loads(Outcome("current").text(0))
    assert wrong(data, "current") == []
    assert wrong({**data, "exit": "0"}, "current")
    assert wrong({**data, "more": 1}, "current")
    assert wrong({**data, "result": {"day": "today", "cards": []}}, "current")
    assert wrong({key: held for key, held in data.items() if key != "units"}, "current")
    assert wrong(data, "check")


def test_findings_are_told_in_full() -> None:
    place = Span("menu/a b.yaml", 5, 13, 5, 20)
    rim = Span("menu/a b.yaml", 2, 12, 2, 17)
    overfull = Finding(
        "FIT01", "cup-overfull", Severity.ERROR, place, "200 ml, 185 ml fit",
        labels=(Label(rim, "the cup's rim"),), sums=(SumLine("tea", "200 ml", "200 ml"),),
        fixes=(Fix("write 90 ml", place, "90 ml"),), hint="Take a larger cup.",
        subject=("tea", "m"),
    )  # fmt: skip
    note = Finding("AAA01", "a-note", Severity.NOTE, None, "by the way")
    data = json.loads(Outcome("check", findings=[note, overfull]).text(1))
    assert wrong(data, "check") == []
    assert data["counts"] == {"error": 1, "warning": 0, "note": 1}
    first, second = data["findings"]
    at = {"file": "menu/a b.yaml", "line": 5, "column": 13, "end_line": 5, "end_column": 20}
    assert first == {
        "code": "FIT01",
        "name": "cup-overfull",
        "severity": "error",
        "span": at,
        "message": overfull.message,
        "labels": [
            {"span": {**at, "line": 2, "column": 12, "end_column": 17, "end_line": 2}}
            | {"text": "the cup's rim"}
        ],
        "sums": [
            {"part": "tea", "written": "200 ml", "takes_up": "200 ml", "because": "", "span": None}
        ],
        "fixes": [{"text": "write 90 ml", "span": at, "replacement": "90 ml"}],
        "hint": "Take a larger cup.",
        "subject": ["tea", "m"],
    }
    assert second["span"] is None
