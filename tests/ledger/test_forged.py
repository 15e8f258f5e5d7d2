"""Edition files that somebody wrote by hand, with a digest of their own: told, never trusted."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from buildsheets.cli.main import main
from buildsheets.ledger.ledger import Damaged, load, read_edition

PUBLISHED = next((Path(__file__).parents[2] / "menu" / "editions").glob("*.yaml"))


def forged(before: str, after: str) -> str:
    """The published edition with a text exchanged, and a digest that agrees again."""
    text = PUBLISHED.read_text(encoding="utf-8")
    body, mark, _ = text.rpartition("# sha256 ")
    assert before in body
    body = body.replace(before, after, 1)
    return f"{body}{mark}{hashlib.sha256(body.encode()).hexdigest()}\n"


def first_code() -> str:
    return read_edition(PUBLISHED.read_text(encoding="utf-8")).entries[0].code


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (f'"code": "{first_code()}"', '"code": "../../../escaped"'),
        (f'"code": "{first_code()}"', '"code": "B-00000-0"'),
        (f'"code": "{first_code()}"', '"code": ["B"]'),
        ('"revision": 1', '"revision": "1"'),
        ('"revision": 1', '"revision": 1e400'),
        ('"revision": 1', '"revision": true'),
        ('"label": "', '"label": null, "lable": "'),
        ('"card": [', '"card": [1, '),
        ("number: 1", "number: [1]"),
        ("from: 2026-12-01", "from: first of December"),
        ("name:", "name: 5\nnames:"),
        ("\ncards:\n", "\ncards:\n- " + "[" * 100_000 + "\n"),
    ],
)
def test_a_forged_line_is_damage(before: str, after: str) -> None:
    with pytest.raises(Damaged, match="cannot be read"):
        read_edition(forged(before, after))


def test_the_digest_of_the_test_itself_agrees() -> None:
    """Else every case above would only show that digests are looked at."""
    assert read_edition(forged("First Frost", "First Thaw")).names["en"] == "First Thaw"


def test_a_ledger_that_cannot_be_read_is_not_an_empty_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = tmp_path / "menu"
    shutil.copytree(PUBLISHED.parents[1], menu)
    assert load(menu / "editions").findings == ()
    shutil.rmtree(menu / "editions")
    assert load(menu / "editions").findings == ()  # nothing published yet is no fault
    (menu / "editions").write_text("a file where the folder was")
    assert [one.code for one in load(menu / "editions").findings] == ["PUB02"]
    assert main(["current", first_code(), "--menu", str(menu)]) == 1
    assert "never published" not in (told := capsys.readouterr().out)
    assert "no folder that can be read" in told
    assert main(["print", str(menu), "--only", "words", "--out", str(tmp_path / "out")]) == 1
    assert not list((tmp_path / "out").rglob("*.pdf"))
