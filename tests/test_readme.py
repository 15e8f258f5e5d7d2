"""What README.md and DEVELOPERS.md say is so: commands, rules, files, modules and names."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import stat
import subprocess
from importlib import import_module
from pathlib import Path

import pytest
from command_samples import ROOT, Ran
from printed_demo import Printed, Shop

from buildsheets.cli.arguments import parser
from buildsheets.print.engine import APT_COMMAND
from buildsheets.rulebook import table

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BLOCKS = re.findall(r"(?ms)^```sh\n(.*?)^```$", README)


def commands(text: str) -> list[list[str]]:
    """The words after each ``buildsheets`` that starts a command, without comments."""
    found = []
    for line in text.splitlines():
        for part in re.split(r"&&|;", line):
            words = shlex.split(part, comments=True)
            if words and words[0].rpartition("/")[2] == "buildsheets":
                found.append(words[1:])
    return found


SHOWN = commands("\n".join(BLOCKS))
INLINE = [shlex.split(words)[1:] for words in re.findall(r"`(buildsheets [^`]+)`", README)]


def test_the_rules_are_those_of_the_rulebook() -> None:
    held = re.search(r"<!-- rules: made by [^\n]* -->\n(.*?)<!-- /rules -->", README, re.DOTALL)
    assert held, "README has no table of rules"
    assert held[1].strip() == table().strip()


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
    assert len(SHOWN) >= 18
    assert INLINE


@pytest.mark.parametrize("words", [*SHOWN, *INLINE], ids=" ".join)
def test_every_command_shown_can_be_parsed(words: list[str]) -> None:
    assert parser().parse_args(words).run


def test_every_command_there_is_is_shown() -> None:
    (verbs,) = [action for action in parser()._actions if action.dest == "verb"]
    assert {words[0] for words in SHOWN} == set(verbs.choices or ())


@pytest.mark.slow
def test_every_command_shown_works_on_the_demo(demo_print: Printed, tmp_path: Path) -> None:
    """In the order of the README, in a folder where the demo was published and printed, on a day
    of its season."""
    shutil.copytree(demo_print.shop.menu, tmp_path / "menu")
    shutil.copytree(demo_print.shop.folder / "out", tmp_path / "out")
    shop = Shop(tmp_path, demo_print.shop.cache, Ran(0, "", ""))
    failed = {}
    ends = [words for words in [*SHOWN, *INLINE] if words[0] != "preview"]  # that runs until Ctrl-C
    for words in ends:
        ran = shop.run(*words, *(["--day", "2026-12-20"] if words[0] == "current" else []))
        if ran.code or "Traceback" in ran.err:
            failed[" ".join(words)] = ran
    assert failed == {}


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


def test_the_example_of_a_drink_is_the_demos() -> None:
    (example,) = re.findall(r"(?ms)^```yaml\ndrinks:\n(.*?)^```$", README)
    lines = (ROOT / "menu" / "drinks.yaml").read_text("utf-8")
    for line in example.splitlines():
        assert line.rstrip() in lines, line


def test_nothing_points_at_the_machine_it_was_written_on() -> None:
    home = os.path.expanduser("~")
    for text in (README, DEVELOPERS):
        assert home not in text
        assert not re.search(r"(?<![\w.])/(work|tmp|home|root)\b", text)
