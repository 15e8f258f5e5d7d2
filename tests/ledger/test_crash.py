"""Publishing under attack: killed at any moment, and two runs at once."""

from __future__ import annotations

import multiprocessing
import random
import time
from pathlib import Path

import pytest
from edition_samples import AUTUMN, build, codes_of, edition, published

from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.lock import sole_writer
from buildsheets.ledger.publish import publish

FORK = multiprocessing.get_context("fork")  # a new interpreter would take longer than the test


class Run:
    """A run that publishes in a process of its own, once it is let go."""

    def __init__(self, folder: Path, code: str, mark: str) -> None:
        self._go, self._end = FORK.Event(), FORK.SimpleQueue()
        self.process = FORK.Process(target=self._publish, args=(folder, code, mark))
        self.process.start()

    def _publish(self, folder: Path, code: str, mark: str) -> None:
        cards = [build(f"drink-{n}", f"Drink {n} {mark}") for n in range(40)]
        self._go.wait()
        which = edition(code, "2026-09-01", "2026-11-30")
        _, findings = publish(cards, folder, which, wait_s=20)
        self._end.put(codes_of(findings))

    def go(self) -> None:
        self._go.set()

    def codes(self) -> list[str]:
        """The codes of its findings, once it has ended."""
        self.process.join(60)
        assert self.process.exitcode == 0
        found: list[str] = self._end.get()
        return found


@pytest.mark.slow
def test_a_killed_run_leaves_the_edition_whole_or_absent(tmp_path: Path) -> None:
    published(tmp_path, [build()])  # what is imported late is then there in every run
    probe = Run(tmp_path / "probe", "P", "x")
    clock = time.monotonic()
    probe.go()
    assert probe.codes() == []
    whole_s = time.monotonic() - clock
    moments = random.Random(1)
    whole = absent = 0
    for attempt in range(24):
        folder = tmp_path / f"killed-{attempt}"
        run = Run(folder, "A26", "x")
        run.go()
        time.sleep(moments.uniform(0, whole_s))
        run.process.kill()
        run.process.join()
        ledger = load(folder)
        assert not ledger.findings
        whole += len(ledger.editions) == 1
        absent += not ledger.editions
        after = Run(folder, "A26", "x")  # and the next run is not held up by it
        after.go()
        assert after.codes() in ([], ["PUB05"])
        ledger = load(folder)
        assert not ledger.findings
        assert len(ledger.editions) == 1
        assert not list(folder.glob(".*.tmp"))
    assert whole + absent == 24
    assert absent  # the kills did hit runs that had not ended


@pytest.mark.slow
def test_of_two_runs_at_once_one_publishes(tmp_path: Path) -> None:
    for attempt in range(6):
        folder = tmp_path / str(attempt)
        runs = [Run(folder, "A26", mark) for mark in ("left", "right")]
        for run in runs:
            run.go()
        assert sorted(run.codes() for run in runs) == [[], ["PUB01"]]
        ledger = load(folder)
        assert not ledger.findings
        (entered,) = ledger.editions
        marks = {ledger.texts(entry)["title"].split()[-1] for entry in entered.entries}
        assert len(marks) == 1


@pytest.mark.slow
def test_two_runs_of_different_editions_both_enter_the_chain(tmp_path: Path) -> None:
    runs = [Run(tmp_path, code, "same") for code in ("A26", "A27")]
    for run in runs:
        run.go()
    assert [run.codes() for run in runs] == [[], []]
    ledger = load(tmp_path)
    assert not ledger.findings
    assert {edition.number for edition in ledger.editions} == {1, 2}


def test_a_held_folder_is_a_finding(tmp_path: Path) -> None:
    ready = FORK.Event()

    def hold() -> None:
        with sole_writer(tmp_path):
            ready.set()
            time.sleep(60)

    holder = FORK.Process(target=hold)
    holder.start()
    assert ready.wait(20)
    cards, findings = publish([build()], tmp_path, AUTUMN, wait_s=0.1)
    assert cards is None
    assert codes_of(findings) == ["PUB03"]
    holder.kill()  # a killed holder does not keep the lock
    holder.join()
    with sole_writer(tmp_path, wait_s=5):
        pass


def test_a_file_put_there_meanwhile_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "2026-09-01-A26.yaml").write_text("mine", "utf-8")
    monkeypatch.setattr("buildsheets.ledger.publish.load", Ledger)
    cards, findings = publish([build()], tmp_path, AUTUMN)
    assert cards is None
    assert codes_of(findings) == ["PUB03"]
    assert (tmp_path / "2026-09-01-A26.yaml").read_text("utf-8") == "mine"
