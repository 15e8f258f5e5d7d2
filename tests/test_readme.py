"""What README.md and DEVELOPERS.md say is so: commands, rules, files, modules and names."""

from __future__ import annotations

import os
import re
import shlex
import stat
import subprocess
from datetime import date
from importlib import import_module
from pathlib import Path

import pytest
from command_samples import ROOT, own_process
from guide_samples import commands

from buildsheets.cli.arguments import parser
from buildsheets.cli.starter import Wanted, new_menu
from buildsheets.guide.chapters import chapters
from buildsheets.print.engine import APT_COMMAND

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BLOCKS = re.findall(r"(?ms)^```sh\n(.*?)^```$", README)


SHOWN = commands("\n".join(BLOCKS))
INLINE = [shlex.split(words)[1:] for words in re.findall(r"`(buildsheets [^`]+)`", README)]


def test_the_second_command_is_the_integration_run() -> None:
    assert BLOCKS[1].strip() == "bash .ci/run"
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & stat.S_IXUSR
    assert subprocess.run(["bash", "-n", script], check=False).returncode == 0


def test_the_first_command_installs_what_the_engine_asks_for_and_prints() -> None:
    first = BLOCKS[0].strip()
    assert "\n" not in first
    for package in APT_COMMAND.split()[2:]:
        assert package in first.split()
        assert package in (ROOT / ".ci" / "run").read_text("utf-8").split()
    assert commands(first) == [["print"]]
    assert subprocess.run(["bash", "-n"], input=first, text=True, check=False).returncode == 0


def test_there_are_commands_to_look_at() -> None:
    assert len(SHOWN) >= 5
    assert len(INLINE) >= 5


@pytest.mark.parametrize("words", [*SHOWN, *INLINE], ids=" ".join)
def test_every_command_shown_can_be_parsed(words: list[str]) -> None:
    assert parser().parse_args(words).run


@pytest.mark.slow
def test_every_command_shown_works_in_an_empty_folder(tmp_path: Path) -> None:
    """In the order of the README, but for the two that set up."""
    env = {"XDG_CACHE_HOME": str(tmp_path / "cache"), "PYTHONPATH": str(ROOT)}
    # A page in a browser is shown in tests/test_guide.py; the preview runs until it is stopped.
    asked = [
        words for words in [*SHOWN[1:], *INLINE] if "--open" not in words and words[0] != "preview"
    ]
    ran = {" ".join(words): own_process(*words, cwd=tmp_path, env=env) for words in asked}
    assert {words: one for words, one in ran.items() if one.code or "Traceback" in one.err} == {}


def test_it_is_short_and_names_every_chapter() -> None:
    assert len(README.splitlines()) <= 150
    for one in chapters():
        assert f"| [{one.title}](buildsheets/guide/text/{one.name}.md) |" in README


def test_every_file_and_folder_named_is_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"\]\(([^)#]+)\)", re.sub(r"!\[.*?\]\(.*?\)", "", text)):
            assert (ROOT / name).exists(), name
    named = re.findall(r"`((?:tests|menu|layouts|\.ci)/[\w./*-]*)`", DEVELOPERS)
    assert named
    for name in named:
        assert list(ROOT.glob(name.rstrip("/"))), name


def modules_named(text: str) -> list[tuple[str, str]]:
    """(file, name in it or "") of each ``module.py`` or ``module.py: name`` in backticks."""
    found = []
    for quoted in re.findall(r"`([^`\n]+)`", text):
        match = re.fullmatch(r"([\w/*]+\.py)(?::\s*(\w+)(?:\(\))?)?", quoted)
        if match:
            found.append((match[1], match[2] or ""))
    return found


def test_every_module_named_for_contributors_exists() -> None:
    named = modules_named(DEVELOPERS)
    assert len(named) > 30
    for file, name in named:
        if file.startswith("tests/"):
            assert list(ROOT.glob(file)), file
            continue
        held = list((ROOT / "buildsheets").rglob(file))
        assert held, file
        if name:
            (path,) = held
            module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            assert hasattr(import_module(module), name), (file, name)


def test_every_room_is_named_for_contributors() -> None:
    rooms = {path.parent.name for path in (ROOT / "buildsheets").glob("*/__init__.py")}
    for room in rooms:
        assert re.search(rf"`{room}\b", DEVELOPERS), room


def test_the_example_of_a_drink_is_the_new_menus() -> None:
    (example,) = re.findall(r"(?ms)^```yaml\ndrinks:\n(.*?)^```$", README)
    made = new_menu(Wanted("S", ("en",), "metric", "ruler", "EUR", "UTC"), date.today(), "menu")
    lines = [
        line.partition("   #")[0].replace("'", "") for line in made["drinks.yaml"].splitlines()
    ]
    for line in example.splitlines():
        assert line in lines, line


def test_nothing_points_at_the_machine_it_was_written_on() -> None:
    home = os.path.expanduser("~")
    for text in (README, DEVELOPERS):
        assert home not in text
        assert not re.search(r"(?<![\w.])/(work|tmp|home|root)\b", text)
