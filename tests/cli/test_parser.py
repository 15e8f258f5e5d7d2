"""What is true of every command's words: examples, menus, options that would do nothing."""

from __future__ import annotations

import io
import shlex
from pathlib import Path

import pytest
from command_samples import ROOT, own_process, run
from menu_samples import SMALL

from buildsheets.cli import commands
from buildsheets.cli.arguments import parser
from buildsheets.cli.examples import EXAMPLES
from buildsheets.menu import files

COMMANDS = parser().commands
NO_MENU = {"new", "measure", "keys", "rule", "schema", "guide", "proof", "completion"}


@pytest.fixture
def kiosk(folder: Path) -> Path:
    (folder / "kiosk").mkdir()
    (folder / "kiosk" / "menu.yaml").write_text(SMALL, "utf-8")
    return folder


@pytest.mark.parametrize("name", COMMANDS)
def test_every_help_has_examples_that_can_be_parsed(name: str) -> None:
    assert "examples:\n  buildsheets " in COMMANDS[name].format_help()
    for line in EXAMPLES[name]:
        words = shlex.split(line.partition(" > ")[0].partition(" < ")[0])
        assert words[0] == name
        assert parser().parse_args(words).run


def test_examples_are_of_commands_there_are() -> None:
    assert set(EXAMPLES) == set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_is_abbreviated_and_every_menu_is_named_alike(name: str) -> None:
    for command in (COMMANDS[name].commands or {name: COMMANDS[name]}).values():
        assert not command.allow_abbrev
        assert ("--menu" in command._option_string_actions) == (name not in NO_MENU)


# MENU as a word, as a path at the end of a command's own words, and as an option
@pytest.mark.parametrize(
    "words",
    ["check {}", "costs {}", "facts {}", "allergens {}", "plan busy {}", "batch brew {}",
     "explain shaken {}", "labels brew --calendar {}", "log {}", "compare S1 {}", "current X {}"],
)  # fmt: skip
def test_a_menu_is_a_word_or_an_option(
    words: str, kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    by_word = run(capsys, *words.format("./kiosk").split())
    by_option = run(capsys, *words.format("--menu kiosk").split())
    assert "TXT01" not in by_word.out
    assert by_word.code < 2 or words.startswith("compare")  # whose edition nobody published
    if "labels" not in words:  # which go by the clock
        assert by_word == by_option


def test_a_code_or_a_name_is_no_menu(kiosk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder may be called as an edition or a drink is; an address has slashes."""
    for name in ("S1", "shaken"):
        (kiosk / name).mkdir()
    assert "PUB07" in run(capsys, "compare", "S1", "S1", "--menu", "kiosk").out
    assert run(capsys, "explain", "shaken", "--menu", "kiosk").code == 0
    ran = run(capsys, "current", "https://x.example/B-STHR5-Y", "--menu", "kiosk")
    assert "no such card" in ran.out


def test_a_menu_comes_through_standard_input(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def piped(text: str) -> None:
        files.standard_input.cache_clear()
        held = io.TextIOWrapper(io.BytesIO(text.encode()))
        monkeypatch.setattr("sys.stdin", held)

    piped(SMALL)
    assert run(capsys, "check", "-").out == "2 drinks, 4 builds in 3 cups: every one fits\n"
    for words in ("explain shaken --menu -", "explain shaken -", "batch brew -", "plan busy -"):
        assert run(capsys, *words.split()).code == 0, words
    piped(SMALL.replace("amount: 200 ml", "amount: 600 ml"))
    assert run(capsys, "check", "-", "--format", "short").out.startswith("stdin:")
    piped("# nothing\n")
    assert "TXT18" in run(capsys, "check", "-").out
    files.standard_input.cache_clear()


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("facts kiosk --format pdf --open", "out/S26/owner/nutrition.pdf"),
        ("print kiosk --only gauge --open", "out/S26-gauge"),
    ],
)
def test_what_was_written_is_opened_where_that_was_asked_for(
    words: str,
    shown: str,
    kiosk: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(kiosk / "cache"))
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda address: not opened.append(address))
    assert run(capsys, *words.split()[:-1]).code == 0
    assert opened == []
    assert run(capsys, *words.split()).code == 0
    (address,) = opened
    assert address.startswith((kiosk / shown).as_uri())


def test_long_work_shows_how_far_it_is_where_somebody_watches(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tell = commands.progress_of("cards")
    tell(1, 2)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    tell(1, 2)
    tell(2, 2)
    half, whole = "#" * 12, "#" * 24
    assert capsys.readouterr().err == f"\r[{half:<24}] 1/2 cards\r[{whole}] 2/2 cards\n"


def test_one_of_several_is_called_by_its_own_word(capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "explain", "oat mist small 25", "--menu", ROOT / "menu").out
    assert "1 pump  " in told
    assert "1 pumps" not in told


def test_a_day_that_cannot_be_planned_says_what_is_missing(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = kiosk / "kiosk" / "menu.yaml"
    menu.write_text(SMALL.partition("days:")[0], "utf-8")
    ran = run(capsys, "plan", "saturday", "kiosk")
    assert ran.code == 2
    assert "no day 'saturday'; the menu has none yet" in ran.err
    assert "buildsheets keys" in ran.err


def test_a_script_completes_commands_and_options() -> None:
    import subprocess

    script = own_process("completion", "bash").out
    for typed, meant in (("check --fo", "--format"), ("pri", "print")):
        words = typed.split()
        ask = (
            f'COMP_WORDS=(buildsheets {typed}); COMP_CWORD={len(words)}; COMP_LINE="x"; '
            '_shtab_buildsheets; echo "${COMPREPLY[@]}"'
        )
        ended = subprocess.run(
            ["bash", "-c", f"{script}\n{ask}"], capture_output=True, text=True, check=True
        )
        assert meant in ended.stdout.split()
