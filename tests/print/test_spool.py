"""What is held beyond memory is the same as what was put in, in order."""

from __future__ import annotations

import pytest

from buildsheets.print import spool
from buildsheets.print.spool import Spool


@pytest.mark.parametrize("in_memory", [1, 1_000_000])
def test_values_come_out_as_they_were_put_in(
    monkeypatch: pytest.MonkeyPatch, in_memory: int
) -> None:
    monkeypatch.setattr(spool, "IN_MEMORY_BYTES", in_memory)
    held = Spool(bytes.decode)
    texts = {f"card {number}": "x" * number for number in range(50)}
    for name, text in texts.items():
        held.put(name, text.encode())
    assert held["card 7"] == "x" * 7  # reading does not move where the next is put
    held.put("last", b"end")
    assert dict(held) == {**texts, "last": "end"}
    assert list(held) == [*texts, "last"]
    assert "none" not in held
