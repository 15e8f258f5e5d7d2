"""What the user may not read or write: told in words with its path, and nothing is half-written.

Root may do all, so where the tests run as root the commands run without that right
(``capabilities(7)``); what ``chmod`` takes away is then taken from them as from anyone.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fault_samples import Ran, Run, ran, shop

from buildsheets.cli.kitchen_log import FILE

NOTHING, TO_LOOK = 0o000, 0o500
CARDS = "out/S26-build/en/build-cards"
DENIED = "Permission denied"
NEXT_EDITION = (
    ("edition: {code: S26", "edition: {code: W26"),
    ("2026-03-01", "2026-10-01"),
    ("2026-09-30", "2026-12-01"),
)
RENAMED = (("name: Plain tea", "name: Plain cold tea"),)
LOGGED = ["opened", "tea-leaf", "--at", "2026-03-02T09:00"]


def as_anyone() -> None:
    """Give up all of root's own rights in this process; of another user's process, nothing."""
    version_3, nothing = (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
    assert ctypes.CDLL(None).capset(version_3, nothing) == 0


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@contextmanager
def locked(mode: int, *paths: Path) -> Iterator[None]:
    """Files and folders with fewer rights for the time being."""
    before = [path.stat().st_mode for path in paths]
    for path in reversed(paths):
        path.chmod(mode)
    try:
        yield
    finally:
        for path, mode_before in zip(paths, before, strict=True):
            path.chmod(mode_before)


def command(verb: str, base: Path) -> list[str | Path]:
    menu = base / "menu"
    return {
        "check": ["check", menu],
        "print": ["print", menu, "--only", "build", "--out", base / "out"],
        "publish": ["publish", menu],
        "log": ["log", "--menu", menu],
        "logged": ["log", *LOGGED, "--menu", menu],
    }[verb]


def tried(verb: str, base: Path) -> Ran:
    """A command by someone without root's rights. It does not crash, whatever comes of it."""
    run = Run([command(verb, base)], base / "said", as_anyone).ended()
    assert "Traceback" not in run.said
    assert "BUG01" not in run.said
    return run


def kept(base: Path) -> dict[Path, bytes]:
    """Every file but those of the cache and what was said."""
    files = [path for path in base.rglob("*") if path.is_file() and path.name != "said"]
    return {path: path.read_bytes() for path in files if base / "cache" not in path.parents}


VERBS = ("check", "print", "publish", "log", "logged")


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("what", ["menu", "menu/menu.yaml"])
def test_a_menu_that_may_not_be_read(what: str, verb: str, tmp_path: Path) -> None:
    shop(tmp_path / "menu")
    before = kept(tmp_path)
    with locked(NOTHING, tmp_path / what):
        run = tried(verb, tmp_path)
    assert run.code == 2
    assert f"{tmp_path / what} cannot be read: {DENIED}" in run.said
    assert kept(tmp_path) == before


def test_what_was_printed_is_no_answer_where_a_file_of_the_menu_may_not_be_read(
    tmp_path: Path,
) -> None:
    shop(tmp_path / "menu")
    assert ran(command("print", tmp_path)).code == 0
    more = tmp_path / "menu" / "more.yaml"
    more.write_text("cups: {}\n", "utf-8")
    with locked(NOTHING, more):
        run = tried("print", tmp_path)
    assert run.code == 1
    assert f"{more} cannot be read: {DENIED}" in run.said
    assert "nothing was printed" in run.said


@pytest.mark.parametrize(
    ("verb", "first", "what", "named"),
    [
        ("print", "", "out", "out/S26-build"),
        ("print", "print", CARDS, f"{CARDS}/large.pdf"),
        ("publish", "", "menu", "menu/editions"),
        ("publish", "", "menu/editions", "menu/editions"),
        ("publish", "publish", "menu/editions", "menu/editions/2026-10-01-W26.yaml"),
        ("logged", "", "menu", "menu"),
        ("logged", "logged", f"menu/{FILE}", f"menu/{FILE}"),
    ],
)
def test_where_nothing_may_be_written(
    verb: str, first: str, what: str, named: str, tmp_path: Path
) -> None:
    """Of what was there before (``first``) all stays as it is; with the right to it, all works."""
    shop(tmp_path / "menu")
    if first:
        assert ran(command(first, tmp_path)).code == 0
        shop(tmp_path / "menu", *(NEXT_EDITION if verb == "publish" else RENAMED))
    else:
        (tmp_path / what).mkdir(parents=True, exist_ok=True)
    before = kept(tmp_path)
    with locked(TO_LOOK, tmp_path / what):
        run = tried(verb, tmp_path)
    assert run.code == 2
    assert f"{tmp_path / named}: {DENIED}" in run.said
    assert kept(tmp_path) == before
    assert tried(verb, tmp_path).code == 0


@pytest.mark.parametrize(
    ("verb", "first", "what", "code", "said"),
    [
        ("print", "publish", "menu/editions", 1, " is no folder that can be read: "),
        ("publish", "publish", "menu/editions", 2, ": "),
        ("print", "publish", "menu/editions/2026-03-01-S26.yaml", 2, ": "),
        ("publish", "publish", "menu/editions/2026-03-01-S26.yaml", 1, " cannot be read: "),
        ("log", "logged", f"menu/{FILE}", 2, ": "),
        ("logged", "logged", f"menu/{FILE}", 2, ": "),
    ],
)
def test_what_was_kept_before_and_may_not_be_read(
    verb: str, first: str, what: str, code: int, said: str, tmp_path: Path
) -> None:
    """It never counts as though there were none: no card prints, no edition is published twice."""
    shop(tmp_path / "menu")
    assert ran(command(first, tmp_path)).code == 0
    before = kept(tmp_path)
    with locked(NOTHING, tmp_path / what):
        run = tried(verb, tmp_path)
    assert run.code == code
    assert f"{tmp_path / what}{said}{DENIED}" in run.said
    assert kept(tmp_path) == before


@pytest.mark.parametrize("mode", [NOTHING, TO_LOOK])
def test_a_cache_that_may_not_be_used_is_no_matter(mode: int, tmp_path: Path) -> None:
    shop(tmp_path / "menu")
    assert ran(command("print", tmp_path)).code == 0
    shop(tmp_path / "menu", *RENAMED)
    folder = tmp_path / "cache"
    with locked(mode, folder, *(path for path in folder.rglob("*") if path.is_dir())):
        assert [tried(verb, tmp_path).code for verb in ("print", "publish")] == [0, 0]


def test_a_home_that_is_not_there_is_no_matter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path / "homes" / "nobody"))
    shop(tmp_path / "menu")
    (tmp_path / "homes").mkdir()
    with locked(TO_LOOK, tmp_path / "homes"):
        assert [tried(verb, tmp_path).code for verb in (*VERBS[:3], "logged")] == [0] * 4


@pytest.mark.parametrize("what", ["menu/layouts", "menu/layouts/build/style.css"])
def test_own_layouts_that_may_not_be_read(what: str, tmp_path: Path) -> None:
    """They are the shop's wish: no card is printed without them."""
    shop(tmp_path / "menu")
    style = tmp_path / "menu/layouts/build/style.css"
    style.parent.mkdir(parents=True)
    style.write_text("", "utf-8")
    before = kept(tmp_path)
    with locked(NOTHING, tmp_path / what):
        runs = [tried(verb, tmp_path) for verb in ("print", "publish")]
    assert [run.code for run in runs] == [2, 2]
    assert all(f"{tmp_path / what}" in run.said and DENIED in run.said for run in runs)
    assert kept(tmp_path) == before


def test_a_folder_beside_the_menu_is_nobodys_trouble(tmp_path: Path) -> None:
    """Layouts beside the menu's folder are told of; where they may not be looked at, nothing is."""
    shop(tmp_path / "menu")
    beside = tmp_path / "layouts"
    (beside / "build").mkdir(parents=True)
    with locked(NOTHING, beside):
        assert tried("check", tmp_path).code == 0
