"""What other systems have not, or have otherwise: a menu is read, printed and published there too.

Windows and macOS are not at hand here. What they lack is taken away and what they do otherwise is
done, so that a call that stops there stops a test.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import sys
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import pytest
from command_samples import ROOT, own_process, run
from menu_samples import SMALL

from buildsheets.cli import parser
from buildsheets.ledger import lock
from buildsheets.print import cache, printing
from buildsheets.print.layouts import Layouts

# What Python has on Unix alone (docs: "Availability: Unix" of os, and the modules of that chapter).
NO_UNIX = """
import os, subprocess, sys  # subprocess, which takes msvcrt for Windows, before there is one
for name in ("getuid", "geteuid", "getgid", "fork", "forkpty", "chown", "nice", "getpgid", "killpg",
             "setsid", "mkfifo", "statvfs", "sched_getaffinity", "posix_fallocate"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("fcntl", "pwd", "grp", "resource", "termios", "tty", "pty", "syslog"):
    sys.modules[name] = None
import types
import buildsheets.ledger.lock as lock
held = []
sys.modules["msvcrt"] = types.SimpleNamespace(LK_NBLCK=2, locking=lambda *of: held.append(of))
import buildsheets.print.cache as cache, buildsheets.print.printing as printing
lock.sys = cache.sys = printing.sys = types.SimpleNamespace(platform="win32")
"""


HERE = {"PYTHONPATH": str(ROOT)}


@pytest.mark.slow
def test_without_what_only_unix_has_a_season_is_checked_published_and_printed(
    kiosk: Path,
) -> None:
    for words in (
        ("check",),
        ("print", "--only", "gauge", "--workers", "1"),
        ("publish",),
        ("print", "--only", "gauge", "--workers", "1"),
        ("site",),
        ("log", "counted", "milk", "2 l"),
    ):
        ran = own_process(*words, cwd=kiosk, first=NO_UNIX, env=HERE)
        assert ran.code == 0, (words, ran)
    assert (kiosk / "menu" / "editions" / "2026-03-01-S26.yaml").is_file()


@pytest.mark.slow
def test_workers_that_are_begun_anew_print_the_same(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As on macOS and Windows, where a process is not forked: jobs go over as bytes."""

    def printed() -> dict[Path, bytes]:
        return {path: path.read_bytes() for path in (kiosk / "out").rglob("*.pdf")}

    words = ("print", "--no-cache")
    assert run(capsys, *words, "--workers", "1").code == 0
    alone = printed()
    asked: list[str] = []

    def context(how: str) -> object:
        asked.append(how)
        return multiprocessing.get_context(how)

    monkeypatch.setattr(printing, "sys", SimpleNamespace(platform="darwin"))
    monkeypatch.setattr(printing, "get_context", context)
    assert run(capsys, *words, "--workers", "2").code == 0
    assert asked
    assert set(asked) == {"spawn"}
    assert printed() == alone


def test_the_lock_is_windows_own_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that another run holds is waited for: there the refusal is a ``PermissionError``."""
    calls: list[int] = []

    def locking(_descriptor: int, how: int, size: int) -> None:
        calls.append(size)
        if len(calls) < 3:
            raise PermissionError

    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(LK_NBLCK=2, locking=locking))
    monkeypatch.setattr(lock, "sys", SimpleNamespace(platform="win32"))
    with lock.sole_writer(tmp_path):
        assert calls == [1, 1, 1]


@pytest.mark.parametrize(
    ("system", "variable", "folder"),
    [
        ("win32", "LOCALAPPDATA", "{home}/given/buildsheets"),
        ("win32", "", "{home}/AppData/Local/buildsheets"),
        ("darwin", "", "{home}/Library/Caches/buildsheets"),
        ("linux", "", "{home}/.cache/buildsheets"),
    ],
)
def test_the_cache_is_where_each_system_keeps_them(
    system: str, variable: str, folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("LOCALAPPDATA", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    if variable:
        monkeypatch.setenv(variable, str(tmp_path / "given"))
    monkeypatch.setattr(cache, "sys", SimpleNamespace(platform=system))
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert cache.user_cache().as_posix() == folder.format(home=tmp_path)


OTHER_LETTERS = SMALL.replace("name: Milk\n", "name: Облако ½ 雲\n", 1)


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437"])
def test_a_terminal_of_few_letters_stops_nothing(encoding: str, kiosk: Path) -> None:
    """People get "?" for what it lacks; a program gets UTF-8 whatever the terminal has."""
    assert OTHER_LETTERS != SMALL
    (kiosk / "menu" / "menu.yaml").write_text(OTHER_LETTERS, "utf-8")
    env = {**HERE, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    words = ("explain", "cloud", "medium")
    told = own_process(*words, "--format", "json", cwd=kiosk, env=env)
    assert told.code == 0, told
    assert "Облако ½ 雲" in json.dumps(told.data, ensure_ascii=False)
    said = own_process(*words, cwd=kiosk, env=env, encoding=encoding)
    assert said.code == 0, said
    assert "??????" in said.out


def test_no_file_is_read_or_written_in_the_systems_own_encoding(kiosk: Path) -> None:
    """PEP 597: a file opened without one is a warning, here an error."""
    first = "import warnings; warnings.filterwarnings('error', category=EncodingWarning)"
    env = {**HERE, "PYTHONWARNDEFAULTENCODING": "1"}
    for words in (("check",), ("explain", "cloud", "medium"), ("facts",), ("new", "other")):
        ran = own_process(*words, cwd=kiosk, first=first, env=env)
        assert (ran.code, "EncodingWarning" in ran.err) == (0, False), (words, ran)


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("line_break", ["\r\n", "\r"])
def test_a_menu_saved_elsewhere_is_the_same_menu(
    mark: str, line_break: str, kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With CR LF and a mark before the first letter, as Windows' own editor writes it."""
    file, wrong = kiosk / "menu" / "menu.yaml", SMALL.replace("amount: 100 ml", "amount: 900 ml")
    file.write_text(wrong, "utf-8", newline="\n")
    before = run(capsys, "check", "--format", "short")
    file.write_text(mark + wrong, "utf-8", newline=line_break)
    assert run(capsys, "check", "--format", "short") == before
    assert before.code == 1
    assert "menu/menu.yaml:" in before.out


def test_a_ledger_whose_lines_version_control_ended_otherwise_is_sound(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a checkout on Windows may do with text files."""
    assert run(capsys, "publish").code == 0
    (file,) = (kiosk / "menu" / "editions").glob("*.yaml")
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert "0 changes" in (ran := run(capsys, "compare", "S26")).out or ran.code == 0, ran


def test_own_layouts_may_begin_with_a_mark(tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "style.css").write_text("\ufeffbody{color:red}", "utf-8", newline="\r\n")
    assert Layouts(tmp_path).text("site/style.css").startswith("body")


def test_a_menu_at_the_end_may_be_written_with_the_systems_own_separator(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``explain cloud medium .\\kiosk`` on Windows."""
    word = str(PureWindowsPath("./menu") / "menu")
    (kiosk / word).mkdir()  # here the separator is a letter like others
    assert not parser.is_path(word)
    monkeypatch.setattr(os, "sep", "\\")
    assert parser.is_path(word)


def test_a_file_that_a_viewer_holds_open_is_named(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Windows lets nobody replace an open file: that one is named, not what was to replace it."""

    def held(self: Path, target: Path) -> Path:
        raise PermissionError(13, "Permission denied", str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", held)
    ran = run(capsys, "print", "--only", "gauge", "--workers", "1", "--no-cache")
    assert ran.code == 2
    assert ".pdf: Permission denied" in ran.err
    assert ".tmp" not in ran.err
