"""The preview as it is run: on loopback alone, with a port that is free, until Ctrl-C."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from command_samples import ROOT, run
from menu_samples import SMALL


@contextmanager
def preview_of(menu: Path, *more: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A preview in a process of its own, and its address."""
    begin = (  # a shop's terminal does not ignore interrupts, as a shell's background jobs do
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        f"from buildsheets.cli.main import main; sys.exit(main({['preview', str(menu), *more]!r}))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", begin], cwd=ROOT, text=True, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        yield process.stdout.readline().split()[0], process
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def menu(tmp_path: Path) -> Path:
    folder = tmp_path / "menu"
    folder.mkdir()
    (folder / "menu.yaml").write_text(SMALL, "utf-8")
    return folder


def test_it_answers_this_machine_and_ends_with_ctrl_c(menu: Path) -> None:
    with preview_of(menu, "--port", "0") as (address, process):
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=60) as answer:
            assert answer.url == f"{address}en/"
            assert b"The whole menu" in answer.read()
        port = int(address.rstrip("/").rpartition(":")[2])
        named = urllib.request.Request(address, headers={"Host": f"menu.example:{port}"})
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(named, timeout=60)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
        assert (process.returncode, out, err) == (0, "", "")
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", port), timeout=5)


def test_no_other_machine_reaches_it(menu: Path) -> None:
    """It listens on 127.0.0.1: another address of the same machine finds nothing there."""
    with preview_of(menu, "--port", "0") as (address, _):
        port = int(address.rstrip("/").rpartition(":")[2])
        socket.create_connection(("127.0.0.1", port), timeout=60).close()
        for other in ("127.0.0.2", socket.gethostbyname(socket.gethostname())):
            if other != "127.0.0.1":
                with pytest.raises(OSError, match="refused"):
                    socket.create_connection((other, port), timeout=5)


def test_a_port_that_is_taken_is_told_with_the_cure(
    menu: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        ran = run(capsys, "preview", menu, "--port", port)
    assert ran.code == 2
    assert ran.out == ""
    assert f"port {port} is taken" in ran.err
    assert "--port 0" in ran.err
