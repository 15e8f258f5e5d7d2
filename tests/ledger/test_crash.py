"""Publishing under attack: killed at any moment, and two runs at once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from edition_samples import AUTUMN, WINTER, build, codes_of, published

from buildsheets.ledger import ledger
from buildsheets.ledger.lock import sole_writer
from buildsheets.ledger.publish import publish

SCRIPT = """
import sys
from pathlib import Path
from edition_samples import AUTUMN, build, edition
from buildsheets.ledger.publish import publish

folder, code, mark = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
cards = [build(f"drink-{n}", f"Drink {n} {mark}") for n in range(120)]
print("ready", flush=True)
sys.stdin.readline()
plan, findings = publish(cards, folder, edition(code, "2026-09-01", "2026-11-30"), wait_s=20)
print(*[finding.code for finding in findings], flush=True)
"""


def start(folder: Path, code: str, mark: str) -> subprocess.Popen[str]:
    here = Path(__file__).parents[1]
    path = os.pathsep.join((str(here), str(here.parent)))
    run = subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(folder), code, mark],
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert run.stdout is not None
    assert run.stdout.readline() == "ready\n"
    return run


def go(run: subprocess.Popen[str]) -> None:
    assert run.stdin is not None
    run.stdin.write("\n")
    run.stdin.flush()


def output(run: subprocess.Popen[str]) -> list[str]:
    return run.communicate(timeout=60)[0].split()


@pytest.mark.slow
def test_a_killed_run_leaves_the_edition_whole_or_absent(tmp_path: Path) -> None:
    published(tmp_path, [build()], WINTER)
    clock = time.monotonic()
    probe = start(tmp_path / "probe", "P", "x")
    clock = time.monotonic()
    go(probe)
    assert output(probe) == []
    whole_s = time.monotonic() - clock
    moments = random.Random(1)
    whole = absent = 0
    for attempt in range(24):
        folder = tmp_path / f"killed-{attempt}"
        run = start(folder, "A26", "x")
        go(run)
        time.sleep(moments.uniform(0, whole_s))
        run.send_signal(signal.SIGKILL)
        run.wait()
        assert run.stdout is not None
        run.stdout.close()
        book = ledger.load(folder)
        assert not book.findings
        whole += len(book.editions) == 1
        absent += not book.editions
        after = start(folder, "A26", "x")  # and the next run is not held up by it
        go(after)
        assert output(after) in ([], ["PUB05"])
        book = ledger.load(folder)
        assert not book.findings
        assert len(book.editions) == 1
        assert not list(folder.glob(".*.tmp"))
    assert whole + absent == 24
    assert absent  # the kills did hit runs that had not ended


@pytest.mark.slow
def test_of_two_runs_at_once_one_publishes(tmp_path: Path) -> None:
    for attempt in range(6):
        folder = tmp_path / str(attempt)
        runs = [start(folder, "A26", mark) for mark in ("left", "right")]
        for run in runs:
            go(run)
        assert sorted(output(run) for run in runs) == [[], ["PUB01"]]
        book = ledger.load(folder)
        assert not book.findings
        assert len(book.editions) == 1
        says = book.texts(book.editions[0].entries[0])["title"].split()[-1]
        assert {book.texts(e)["title"].split()[-1] for e in book.editions[0].entries} == {says}


@pytest.mark.slow
def test_two_runs_of_different_editions_both_enter_the_chain(tmp_path: Path) -> None:
    runs = [start(tmp_path, code, "same") for code in ("A26", "A27")]
    for run in runs:
        go(run)
    assert [output(run) for run in runs] == [[], []]
    book = ledger.load(tmp_path)
    assert not book.findings
    assert {edition.number for edition in book.editions} == {1, 2}


def test_a_held_folder_is_a_finding(tmp_path: Path) -> None:
    held = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys; from pathlib import Path\n"
            "from buildsheets.ledger.lock import sole_writer\n"
            "with sole_writer(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()",
            str(tmp_path),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert held.stdout is not None
    assert held.stdout.readline() == "held\n"
    plan, findings = publish([build()], tmp_path, AUTUMN, wait_s=0.1)
    assert plan is None
    assert codes_of(findings) == ["PUB03"]
    held.kill()  # a killed holder does not keep the lock
    held.communicate()
    with sole_writer(tmp_path, wait_s=5):
        pass


def test_a_file_put_there_meanwhile_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "2026-09-01-A26.yaml").write_text("mine", "utf-8")
    monkeypatch.setattr("buildsheets.ledger.publish.load", ledger.Ledger)
    plan, findings = publish([build()], tmp_path, AUTUMN)
    assert plan is None
    assert codes_of(findings) == ["PUB03"]
    assert (tmp_path / "2026-09-01-A26.yaml").read_text("utf-8") == "mine"
