"""What a machine does to a command: full disks, killed workers, Ctrl-C, two at once, odd clocks.

Told in a line with the cure, never a traceback; the files are whole, and the next run succeeds.
"""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fault_samples import Run, ran, shop

from buildsheets.cli.kitchen_log import FILE, entries
from buildsheets.ledger.ledger import load

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


def whole(out: Path) -> bool:
    """Whether every PDF there is one up to its end."""
    files = [file.read_bytes() for file in out.rglob("*.pdf")]
    return all(one.startswith(b"%PDF") and one.rstrip().endswith(b"%%EOF") for one in files)


def in_one_line(said: str) -> bool:
    return "Traceback" not in said and "BUG01" not in said


# Disks.


def small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))


def test_a_disk_without_room_for_a_card_is_told_and_leaves_no_half_file(tmp_path: Path) -> None:
    menu, out = shop(tmp_path / "menu"), tmp_path / "out"
    words = ["print", menu, "--only", "build", "--out", out]
    run = Run([words], tmp_path / "said", small_files).ended()
    assert (run.code, in_one_line(run.said)) == (2, True)
    assert "File too large" in run.said
    assert not list(out.rglob("*.pdf"))
    assert not list(out.rglob(".*.tmp"))
    assert ran(words).code == 0


def test_a_disk_without_room_for_an_edition_publishes_nothing(tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    run = Run([["publish", menu]], tmp_path / "said", small_files).ended()
    assert (run.code, in_one_line(run.said)) == (2, True)
    assert load(menu / "editions").editions == ()
    assert ran(["publish", menu]).code == 0


def test_a_log_line_that_found_no_room_is_not_reported_and_harms_no_other(tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    words = ["log", "opened", "tea-leaf", "--menu", menu, "--at"]
    assert ran([*words, "2026-03-01T09:00"]).code == 0
    full = (menu / FILE).stat().st_size + 10

    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (full, full))

    run = Run([[*words, "2026-03-02T09:00"]], tmp_path / "said", no_room).ended()
    assert run.code == 2
    assert "opened at" not in run.said
    assert ran([*words, "2026-03-03T09:00"]).code == 0
    assert [entry.at.day for entry in entries(menu / FILE)] == [1, 3]


@pytest.mark.parametrize("fault", ["ENOSPC", "EROFS"])
def test_what_the_system_refuses_to_write_is_told_with_its_name(
    fault: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    menu, out = shop(tmp_path / "menu"), tmp_path / "out"
    number, opened = getattr(errno, fault), Path.open

    def refuse(self: Path, mode: str = "r", *more: Any, **named: Any) -> Any:
        if "w" in mode and not self.is_relative_to(tmp_path / "cache"):
            raise OSError(number, os.strerror(number), str(self))
        return opened(self, mode, *more, **named)

    words = [["print", menu, "--only", "words", "--out", out], ["publish", menu]]
    assert ran(words[0]).code == 0  # what lies there stays as it is
    before = {file: file.read_bytes() for file in out.rglob("*.pdf")}
    shop(menu, ("name: Plain tea", "name: Plain cold tea"))
    with monkeypatch.context() as broken:
        broken.setattr(Path, "open", refuse)
        for one in words:
            run = ran(one)
            assert (run.code, in_one_line(run.said)) == (2, True)
            assert os.strerror(number) in run.said
    assert {file: file.read_bytes() for file in out.rglob("*.pdf")} == before
    assert load(menu / "editions").editions == ()
    assert [ran(one).code for one in words] == [0, 0]


def test_a_file_where_a_folder_is_wanted_is_told(tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    (tmp_path / "out").write_text("mine")
    run = ran(["print", menu, "--only", "words", "--out", tmp_path / "out"])
    assert (run.code, in_one_line(run.said)) == (2, True)
    assert (tmp_path / "out").read_text() == "mine"


# Processes.


MANY_CARDS = ("languages: [en]", "languages: [en, es, fr, de]")
"""So many that more than one worker is at work."""


@pytest.mark.slow
def test_a_killed_worker_is_told_and_nothing_hangs_or_is_half(tmp_path: Path) -> None:
    menu, out = shop(tmp_path / "menu", MANY_CARDS), tmp_path / "out"
    words = ["print", menu, "--out", out, "--workers", "2"]
    run = Run([words], tmp_path / "said")
    os.kill(run.workers()[0], signal.SIGKILL)
    ended = run.ended()
    assert (ended.code, in_one_line(ended.said)) == (2, True)
    assert "a worker was ended from outside" in ended.said
    assert "--workers 1" in ended.said
    assert not list(out.rglob("*.pdf"))
    assert ran(words).code == 0


@pytest.mark.slow
@pytest.mark.parametrize("verb", ["print", "publish"])
def test_ctrl_c_ends_a_run_and_its_workers_in_one_line(verb: str, tmp_path: Path) -> None:
    menu, out = shop(tmp_path / "menu", MANY_CARDS), tmp_path / "out"
    words: list[str | Path] = [verb, menu, "--no-cache", "--out", out]
    words = words if verb == "print" else [verb, menu]
    run = Run([words], tmp_path / "said")
    workers = run.workers() if os.cpu_count() != 1 else []
    time.sleep(0.05)
    os.killpg(run.process.pid, signal.SIGINT)  # as a terminal does: to all of them
    ended = run.ended()
    assert (ended.code, ended.said) == (130, "stopped\n")
    assert not [one for one in workers if Path(f"/proc/{one}").exists()]
    assert not list(out.rglob("*.pdf"))
    assert load(menu / "editions").editions == ()
    assert ran(words).code == 0


def test_ctrl_c_while_checking(tmp_path: Path) -> None:
    run = Run([["check", ROOT / "menu"]] * 2, tmp_path / "said")
    time.sleep(0.3)
    os.killpg(run.process.pid, signal.SIGINT)
    ended = run.ended()
    assert (ended.code, ended.said.count("stopped\n")) == (130, 1)
    assert in_one_line(ended.said)


def _words(process: str) -> str:
    """The command line of a process; "" of one that is gone."""
    try:
        return Path(f"/proc/{process}/cmdline").read_text("utf-8")
    except OSError:
        return ""


@pytest.mark.slow
def test_ctrl_c_at_a_terminal_is_told_to_the_shell(tmp_path: Path) -> None:
    # The demo: a small menu may be printed before the signal comes.
    words = [sys.executable, "-m", "buildsheets", "print", ROOT / "menu", "--no-cache"]
    # Ctrl-C is ignored, by what it starts too, where a shell runs the tests in the background.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    process = subprocess.Popen(
        [*words, "--out", tmp_path / "out"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    workers: list[str] = []  # compilers that are asked where libraries are come before them
    while process.poll() is None and not workers:
        time.sleep(0.01)
        workers = [one for one in children.read_text().split() if "print" in _words(one)]
    os.killpg(process.pid, signal.SIGINT)
    said, _ = process.communicate(timeout=60)
    assert (process.returncode, said) == (130, "stopped\n")


def test_two_prints_into_one_folder_at_once(tmp_path: Path) -> None:
    menu, out = shop(tmp_path / "menu"), tmp_path / "out"
    words = ["print", menu, "--out", out, "--workers", "1"]
    runs = [Run([words], tmp_path / f"said-{number}") for number in range(2)]
    assert [run.ended().code for run in runs] == [0, 0]
    assert whole(out)
    assert ran(["print", menu, "--out", out, "--check"]).code == 0


def test_publish_and_several_logs_at_once_lose_nothing(tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    days = range(1, 7)
    logs = [
        ["log", "opened", "tea-leaf", "--at", f"2026-03-0{day}T09:00", "--menu", menu]
        for day in days
    ]
    runs = [
        Run([words], tmp_path / f"said-{n}") for n, words in enumerate([["publish", menu], *logs])
    ]
    assert [run.ended().code for run in runs] == [0] * len(runs)
    assert sorted(entry.at.day for entry in entries(menu / FILE)) == [*days]
    assert len(load(menu / "editions").editions) == 1


# What lies there already.


def test_a_damaged_cache_is_no_matter(tmp_path: Path, own_cache: Path) -> None:
    menu, out = shop(tmp_path / "menu"), tmp_path / "out"
    words = ["print", menu, "--only", "build", "--out", out]
    assert ran(words).code == 0
    (card,) = out.rglob("*.pdf")
    good = card.read_bytes()
    kept = [file for file in own_cache.rglob("*") if file.is_file()]
    assert kept
    for number, file in enumerate(kept):
        file.write_bytes([b"", file.read_bytes()[:-9], b"\0" * 99][number % 3])
    card.unlink()
    assert ran(words).code == 0
    assert card.read_bytes() == good


def test_a_cache_that_is_no_folder_is_no_matter(tmp_path: Path, own_cache: Path) -> None:
    own_cache.write_text("a file")
    words = ["print", shop(tmp_path / "menu"), "--only", "words", "--out", tmp_path / "out"]
    assert ran(words).code == 0


@pytest.mark.parametrize(
    "damage", [b"\xff\xfe\x00", b"opened nothing\n", b"2026-03-01 09:00 opened\n" * 3, b"\0" * 5000]
)
def test_a_damaged_kitchen_log_is_told(damage: bytes, tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    (menu / FILE).write_bytes(damage + b"\n")
    for words in (["log", "--menu", menu], ["log", "opened", "tea-leaf", "--menu", menu]):
        run = ran(words)
        assert (run.code, in_one_line(run.said)) == (2, True)
        assert run.said.strip()
    assert (menu / FILE).read_bytes() == damage + b"\n"


# Packages.


@pytest.mark.slow
@pytest.mark.parametrize(
    ("package", "verb"),
    [("yaml", "check"), ("fontTools", "print"), ("weasyprint", "print"), ("qrcode", "print"),
     ("fontpkg_atkinson_hyperlegible", "print"), ("pypdfium2", "print"), ("tabulate", "costs")],
)  # fmt: skip
def test_a_missing_package_is_named_with_the_cure(package: str, verb: str, tmp_path: Path) -> None:
    blocked = (
        "import sys\n"
        "class Gone:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.partition('.')[0] == {package!r}:\n"
        f"            raise ModuleNotFoundError('gone', name={package!r})\n"
        "sys.meta_path.insert(0, Gone())\n"
        "from buildsheets.cli.main import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    menu = shop(tmp_path / "menu")
    more = ["--no-cache", "--only", "build", "--out", str(tmp_path)] if verb == "print" else []
    words = [sys.executable, "-c", blocked, verb, str(menu), *more]
    ended = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 2
    assert ended.stderr == (
        f"the package {package} is missing; install buildsheets again, with all it needs\n"
    )


@pytest.mark.slow
@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_closed_streams_are_no_fault(closed: str, tmp_path: Path) -> None:
    menu = shop(tmp_path / "menu")
    print_it = f"{sys.executable} -m buildsheets print {menu} --only words --out {tmp_path}"
    ended = subprocess.run(
        f"{print_it} {closed}", shell=True, cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (ended.returncode, in_one_line(ended.stdout + ended.stderr)) == (0, True)
    assert whole(tmp_path)


# Clocks.


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Set the clock of the shop."""

    def set_clock(text: str, fold: int = 0) -> None:
        now = datetime.fromisoformat(text).replace(tzinfo=ZoneInfo("Europe/Madrid"), fold=fold)
        monkeypatch.setattr("buildsheets.cli.kitchen_log.clock", lambda menu: now)

    return set_clock


def test_a_clock_that_goes_back_refuses_nothing_that_was_logged(tmp_path: Path, at: Any) -> None:
    menu = shop(tmp_path / "menu")
    opened = ["log", "opened", "tea-leaf", "--menu", menu]
    at("2026-03-10T10:00")
    assert ran(opened).code == 0
    at("2026-03-09T08:00")  # a day earlier than what was written
    assert in_one_line(ran(["log", "--menu", menu]).said)
    assert ran(opened).code == 0
    at("2026-03-10T11:00")
    assert ran(["log", "--menu", menu]).code == 0
    assert [entry.at.day for entry in entries(menu / FILE)] == [10, 9]


@pytest.mark.parametrize(
    ("moment", "fold"),
    [
        ("2026-03-29T01:59", 0),  # a minute before clocks go forward in Madrid (Directive 2000/84)
        ("2026-03-29T03:00", 0),
        ("2026-10-25T02:30", 0),  # the hour that comes twice
        ("2026-10-25T02:30", 1),
    ],
)
def test_entries_about_a_change_of_the_clocks_are_kept(
    moment: str, fold: int, tmp_path: Path, at: Any
) -> None:
    menu = shop(tmp_path / "menu")
    at(moment, fold)
    assert ran(["log", "opened", "tea-leaf", "--menu", menu]).code == 0
    assert ran(["log", "--menu", menu]).code == 0
    (entry,) = entries(menu / FILE)
    assert f"{entry.at:%Y-%m-%dT%H:%M}" == moment


def test_an_hour_that_the_clocks_leave_out_is_counted_from_the_hour_before(
    tmp_path: Path, at: Any
) -> None:
    menu = shop(tmp_path / "menu")
    at("2026-03-29T12:00")
    assert ran(["log", "opened", "tea-leaf", "--at", "02:30", "--menu", menu]).code == 0
    (entry,) = entries(menu / FILE)
    assert entry.at.astimezone(UTC) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_a_shop_that_moves_to_another_zone_keeps_its_log(tmp_path: Path, at: Any) -> None:
    menu = shop(tmp_path / "menu")
    at("2026-03-10T10:00")
    assert ran(["log", "opened", "tea-leaf", "--menu", menu]).code == 0
    shop(menu, ("Europe/Madrid", "Pacific/Auckland"))
    assert "opened Tue 10 Mar 22:00" in ran(["log", "--menu", menu]).said
    assert len(entries(menu / FILE)) == 1


def test_the_menu_of_these_tests_is_clean(tmp_path: Path) -> None:
    assert ran(["check", shop(tmp_path / "menu"), "--strict"]).code == 0
