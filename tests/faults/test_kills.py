"""Kill -9 at random moments of print, publish and log; `python -m tests.faults` does many more."""

from __future__ import annotations

from pathlib import Path

import pytest
from fault_kills import COMMANDS, Kills

KILLS = 21


@pytest.mark.slow
def test_a_kill_at_any_moment_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))  # given back afterwards
    kills = Kills(tmp_path)
    lost = [wrong for number in range(3 + KILLS) for wrong in kills.one(number)]
    assert lost == []
    assert set(kills.tried) == {name for name, _ in COMMANDS}
    assert sum(kills.hit.values())  # some did hit runs that had not ended
