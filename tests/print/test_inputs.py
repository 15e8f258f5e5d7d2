"""A run is needed exactly when something it depends on, or something it made, has changed."""

from __future__ import annotations

from pathlib import Path

from edition_samples import AUTUMN, build, published

from buildsheets.ledger.manifest import unchanged, write_folder
from buildsheets.print.inputs import inputs_digest

MENU = {"shop.yaml": "shop: {}", "drinks.yaml": "drinks: {}"}
FILES = {"build.pdf": b"%PDF-1"}


def test_every_input_counts(tmp_path: Path) -> None:
    ledger, own = tmp_path / "editions", tmp_path / "layouts"
    first = inputs_digest(MENU, ledger, None, [])
    assert inputs_digest(dict(reversed(MENU.items())), ledger, None, []) == first
    others = [
        inputs_digest({**MENU, "drinks.yaml": "drinks: {a: 1}"}, ledger, None, []),
        inputs_digest({"a.yaml": MENU["shop.yaml"], **MENU}, ledger, None, []),
        inputs_digest(MENU, ledger, None, ["--only", "tea"]),
    ]
    own.mkdir()
    others.append(inputs_digest(MENU, ledger, own, []))
    (own / "words.yaml").write_text("a: b", "utf-8")
    others.append(inputs_digest(MENU, ledger, own, []))
    published(ledger, [build()], AUTUMN)
    others.append(inputs_digest(MENU, ledger, None, []))
    assert len({first, *others}) == len(others) + 1


def test_a_folder_is_unchanged_only_whole_and_for_the_same_inputs(tmp_path: Path) -> None:
    assert not unchanged(tmp_path, "a")
    write_folder(tmp_path, FILES, "A26", inputs="a")
    assert unchanged(tmp_path, "a")
    assert not unchanged(tmp_path, "b")
    (tmp_path / "build.pdf").write_bytes(b"%PDF-2")
    assert not unchanged(tmp_path, "a")
    write_folder(tmp_path, FILES, "A26", inputs="a")
    (tmp_path / "more.pdf").write_bytes(b"a file of another run is not ours to vouch for")
    assert not unchanged(tmp_path, "a")
