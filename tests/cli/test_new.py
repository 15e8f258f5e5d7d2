"""The command that begins a menu: what it writes checks clean, and it never overwrites."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_samples import DEMO, ROOT, run, snapshot
from menu_samples import check_texts, said

from buildsheets.cli import new
from buildsheets.cli.measure_words import measure_box
from buildsheets.cli.starter import demo_menu
from buildsheets.menu.model import Menu
from buildsheets.menu.shop import LANGUAGES


@pytest.fixture(autouse=True)
def empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / ".cache"))
    return tmp_path


@pytest.mark.parametrize("languages", ["en", "fr", "en es fr de"])
@pytest.mark.parametrize("cups", ["ruler", "pouring", "box"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_new_menu_checks_clean(
    units: str, cups: str, languages: str, capsys: pytest.CaptureFixture[str]
) -> None:
    spoken = [word for one in languages.split() for word in ("--language", one)]
    made = run(capsys, "new", "--units", units, "--cups", cups, *spoken)
    assert made.code == 0, made
    ran = run(capsys, "check", "--strict")
    assert (ran.code, ran.out) == (0, "1 drink, 1 build in 1 cup: every one fits\n"), ran


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_new_menu_prints_and_passes_the_proof(
    units: str, empty_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "new", "--units", units, "--name", "Reed's: café #1")
    printed = run(capsys, "print")
    assert printed.code == 0, printed
    assert run(capsys, "proof", "out/1").code == 0
    assert len(list(empty_folder.rglob("*.pdf"))) == 7


def test_what_was_said_stands_in_the_menu(capsys: pytest.CaptureFixture[str]) -> None:
    words = "--units us --language de --language en --currency cad --time-zone America/Toronto"
    run(capsys, "new", "kiosk", "--name", "Reed's: café #1", *words.split())
    checked = new_menu_at(Path("kiosk"))
    shop = checked.shop
    assert shop.name.in_language("de") == "Reed's: café #1"
    assert shop.languages == ("de", "en")
    assert (shop.currency, shop.time_zone, shop.allergen_list) == ("CAD", "America/Toronto", "us9")
    text = Path("kiosk/shop.yaml").read_text("utf-8")
    assert "buildsheets check kiosk " in text


def new_menu_at(folder: Path) -> Menu:
    checked = check_texts({path.name: path.read_text("utf-8") for path in folder.glob("*.yaml")})
    assert checked.menu is not None, said(checked.findings)
    return checked.menu


def test_nothing_is_overwritten(empty_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (empty_folder / "menu").mkdir()
    (empty_folder / "menu" / "notes.txt").write_text("mine")
    before = snapshot(empty_folder)
    for words in ("new", "new --demo", "new menu/notes.txt", "new --units us"):
        ran = run(capsys, *words.split())
        assert ran.code == 2
        assert "notes.txt" in ran.err
    assert snapshot(empty_folder) == before


def test_the_demo_comes_without_what_was_published_of_it(
    empty_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, "new", "--demo").code == 0
    made = {path.name: path.read_bytes() for path in (empty_folder / "menu").iterdir()}
    assert made == {path.name: path.read_bytes() for path in DEMO.glob("*.yaml")}
    assert run(capsys, "new", "other", "--demo", "--units", "us").code == 2


def test_the_wheel_has_the_demo_menu_and_the_templates() -> None:
    """Setuptools takes the packages and data listed; a pattern without ** stays in its folder."""
    import tomllib

    tool = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    assert "buildsheets._demo" in tool["packages"]
    assert tool["package-dir"]["buildsheets._demo"] == "menu"
    (pattern,) = tool["package-data"]["buildsheets._demo"]
    assert {path.name for path in (ROOT / "menu").glob(pattern)} == set(demo_menu())
    assert "cli/starter/*" in tool["package-data"]["buildsheets"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--language xx", "there are en, es, fr and de"),
        ("--currency euro", "three letters"),
        ("--time-zone Lisbn", "did you mean Europe/Lisbon"),
        ("--time-zone Europe/Lisbn", "did you mean Europe/Lisbon"),
        ("--from nowhere.csv", "nowhere.csv"),
        ("--from drinks.xlsx", "drinks.xlsx"),
        ("--from drinks.ods", "save the sheet as CSV"),
    ],
)
def test_a_slip_is_answered_and_nothing_is_written(
    words: str, said: str, empty_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "new", *words.split())
    assert ran.code == 2
    assert said in ran.err
    assert not (empty_folder / "menu").exists()


def test_on_a_terminal_it_asks_and_asks_again_after_a_slip(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(["Reed Bar", "en, xx", "en de", "us", "p", "", "Chikago", "America/Chicago"])
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    monkeypatch.setattr(new, "asked", lambda options: True)
    ran = run(capsys, "new")
    assert ran.code == 0, ran
    assert "did you mean America/Chicago?" in ran.out
    shop = new_menu_at(Path("menu")).shop
    assert shop.name.in_language("en") == "Reed Bar"
    assert (shop.languages, shop.currency) == (("en", "de"), "USD")
    assert "calibration:" in Path("menu/shop.yaml").read_text("utf-8")
    assert next(answers, None) is None


def test_every_language_of_the_cards_is_in_the_templates() -> None:
    """The words of a new menu are given in this order."""
    assert LANGUAGES == ("en", "es", "fr", "de")


NO_MENU = ["check", "print", "explain tea", "plan saturday", "labels tea", "log", "costs", "facts",
           "allergens", "batch tea", "publish", "compare W26", "current X", "site"]  # fmt: skip


@pytest.mark.parametrize("words", NO_MENU)
def test_who_has_no_menu_is_told_how_to_begin_one(
    words: str, empty_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, *words.split())
    assert ran.code == 2
    assert "buildsheets new" in ran.out
    (empty_folder / "menu").mkdir()
    assert "buildsheets new" in run(capsys, *words.split()).out
    (empty_folder / "menu" / "menu.yaml").write_text("# later\n")
    assert "buildsheets new" in run(capsys, *words.split()).out


def test_a_cups_box_gives_its_floor() -> None:
    lines = measure_box(["3 1/2 in", "4 1/2in", "473 ml"]).splitlines()
    assert lines[1:] == ["rim: 88.9 mm", "height: 114.3 mm", "brimful: 473 ml"]
