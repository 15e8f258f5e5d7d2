"""Several shops printed in one run: a folder each, one summary, the exit code of the worst."""

from __future__ import annotations

import hashlib
import os
import signal
import threading
import time
from pathlib import Path

import pytest
from command_samples import run
from menu_samples import SMALL, swapped

ONLY = ("--only", "gauge", "--only", "batch", "--format", "short")


@pytest.fixture
def shops(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    for name in ("kiosk", "harbour"):
        folder = tmp_path / name / "menu"
        folder.mkdir(parents=True)
        (folder / "menu.yaml").write_text(swapped(SMALL, "Corner kiosk", f"The {name}"), "utf-8")
    overfull = swapped(SMALL, "amount: 200 ml", "amount: 600 ml")
    (tmp_path / "broken.yaml").write_text(overfull, "utf-8")
    return tmp_path


def files(out: Path) -> dict[str, str]:
    return {
        path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(out.rglob("*.pdf"))
    }


def test_a_broken_shop_does_not_stop_the_others(
    shops: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "print", "kiosk/menu", "broken.yaml", "harbour/menu", *ONLY)
    assert ran.code == 1
    assert files(shops / "out" / "kiosk")
    assert files(shops / "out" / "harbour")
    assert not (shops / "out" / "broken").exists()
    *_, head, kiosk, broken, harbour = ran.out.splitlines()
    assert head == "== 3 shops, 2 done, 1 not =="
    assert (kiosk, harbour) == ("kiosk: out/kiosk", "harbour: out/harbour")
    assert broken == "broken: nothing was printed, since an error stands"
    alone = run(capsys, "print", "harbour/menu", "--out", "alone", "--no-cache", *ONLY)
    assert alone.code == 0
    assert files(shops / "alone") == files(shops / "out" / "harbour")


def test_the_worst_exit_code_is_the_runs(shops: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "print", "nothing-here", "broken.yaml", *ONLY).code == 2


def test_names_that_clash_are_told_before_anything_is_printed(
    shops: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shops / "kiosk.yaml").write_text(SMALL, "utf-8")
    ran = run(capsys, "print", "kiosk/menu", "kiosk.yaml", *ONLY)
    assert ran.code == 2
    assert "would both be printed into the folder kiosk" in ran.err
    assert not (shops / "out").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("kiosk/menu", "harbour/menu", "--menu", "broken.yaml"), "named twice"),
        (("kiosk/menu", "harbour/menu", "--format", "json"), "tells of one menu"),
        (("kiosk/menu", "--scheduler", "tcp://a:1", "--workers", "2"), "does nothing with"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    shops: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    ran = run(capsys, "print", *words)
    assert ran.code == 2
    assert said in ran.err


@pytest.mark.slow
def test_a_killed_worker_of_a_cluster_loses_nothing(
    shops: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two workers on this machine; one is killed while it works. Same bytes as alone."""
    distributed = pytest.importorskip("distributed")
    words = ("--only", "gauge", "--only", "batch", "--only", "addons", "--format", "short")
    assert run(capsys, "print", "kiosk/menu", "harbour/menu", "--no-cache", *words).code == 0
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    )
    killed: list[int] = []

    def kill_one() -> None:
        with distributed.Client(cluster.scheduler_address) as client:
            for _ in range(600):
                busy = [where for where, keys in client.processing().items() if keys]
                if busy:
                    (pid,) = client.run(os.getpid, workers=busy[:1]).values()
                    os.kill(pid, signal.SIGKILL)
                    killed.append(pid)
                    return
                time.sleep(0.05)

    with cluster:
        killer = threading.Thread(target=kill_one)
        killer.start()
        at = ("--scheduler", cluster.scheduler_address, "--out", "far", "--no-cache")
        ran = run(capsys, "print", "kiosk/menu", "harbour/menu", *at, *words)
        killer.join()
    assert ran.code == 0
    assert len(killed) == 1
    assert files(shops / "far") == files(shops / "out")
    assert len(files(shops / "far")) > 4
