"""What the documents say is so: commands parse, names of modules exist, set-up is the CI's own."""

from __future__ import annotations

import re
import shlex

import pytest
from command_samples import ROOT

from buildsheets.cli import _parser
from buildsheets.text.link_shop import LANGUAGES

README = (ROOT / "README.md").read_text("utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, re.S)
COMMANDS = re.findall(r"^buildsheets (.+?)(?:\s+#.*)?$", "\n".join(BLOCKS), re.M)


def test_the_readme_shows_commands() -> None:
    assert len(COMMANDS) >= 15


@pytest.mark.parametrize("line", COMMANDS)
def test_each_command_of_the_readme_is_understood(line: str) -> None:
    assert callable(_parser().parse_args(shlex.split(line)).run)


def test_the_first_command_installs_what_the_second_does() -> None:
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "bash .ci/run" in README
    first = next(line for line in README.splitlines() if line.startswith("as_root="))
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "python3-venv"):
        assert package in first
        assert package in script
    assert first.endswith(".venv/bin/buildsheets print")


def test_the_guide_names_files_that_exist() -> None:
    named = set(re.findall(r"`((?:[a-z_]+/)*[a-z_]+\.py)", GUIDE))
    assert len(named) > 20
    found = {path.name for path in (ROOT / "buildsheets").rglob("*.py")}
    found |= {path.name for path in (ROOT / "tests").rglob("*.py")}
    assert {name for name in named if name.rsplit("/", 1)[-1] not in found} == set()


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_topic_has_its_words_in_each_language(language: str) -> None:
    words = ROOT / "layouts" / "words"
    topics = {path.name.split(".")[0] for path in words.glob("*.en.yaml")}
    for topic in topics:
        assert (words / f"{topic}.{language}.yaml").is_file()
