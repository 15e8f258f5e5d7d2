"""The command line: what it says where, its exit codes, and what it leaves alone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from command_samples import DEMO, ROOT, demo_copy, own_process, run, snapshot
from menu_samples import SMALL

from buildsheets.cli.arguments import parser
from buildsheets.rulebook import rulebook

NAMELESS = (
    "    name: {en: Oat Mist Oolong, es: Oolong con avena}",
    "    name: {en: Oat Mist Oolong}",
)
TOO_MUCH = (
    "{add: jasmine-tea, fill_to: {small: 260 ml",
    "{add: jasmine-tea, fill_to: {small: 330 ml",
)
"""A wrong amount: the capped tea no longer fits its small cup."""

OVERFULL = SMALL.replace("amount: 200 ml", "amount: 600 ml")
"""The small menu with a wrong amount."""


@pytest.fixture
def shop(folder: Path) -> Path:
    """A working folder with the demo menu in it, and a menu of two drinks in ``small``."""
    demo_copy(folder / "menu")
    small_menu(folder / "small")
    return folder


def small_menu(folder: Path, text: str = SMALL) -> Path:
    folder.mkdir()
    (folder / "menu.yaml").write_text(text, "utf-8")
    return folder


OURS = {"PYTHONPATH": str(ROOT)}
"""For a process in another folder."""

# exit codes -------------------------------------------------------------------------------------

# words, exit code, where the first words are said, those words
RUNS: list[tuple[str, int, str, str]] = [
    ("new", 2, "err", "name another folder"),
    ("new other", 0, "out", "your menu is in other"),
    ("check", 0, "out", "16 drinks"),
    ("check --strict", 0, "out", "16 drinks"),
    ("check nowhere", 2, "out", "TXT01"),
    ("check nowhere --format json", 2, "out", "TXT01"),
    ("check empty", 2, "out", "TXT03"),
    ("check menu/shop.yaml", 1, "out", "KEY02"),
    ("check --format xml", 2, "err", "full, short"),
    ("check --sideways", 2, "err", "no option --sideways; buildsheets check --help lists all"),
    ("check --format github", 0, "out", ""),
    ("check --watch --format json", 2, "err", "--watch does nothing with --format json"),
    ("check --watch --fix", 2, "err", "--fix does nothing with --watch"),
    ("preview --port 99999", 2, "err", "'99999' is not a port; write a number from 0 to 65535"),
    ("preview --port 80x", 2, "err", "is not a port"),
    ("preview nowhere", 2, "out", "TXT01"),
    ("preview -", 2, "err", "standard input does not change; name a file or a folder"),
    ("check menu small", 2, "err", "'small' is a word too many"),
    ("check menu --menu small", 2, "err", "two menus are named: small and menu"),
    ("check --menu small", 0, "out", "2 drinks"),
    ("", 2, "err", "COMMAND"),
    ("brew", 2, "err", "there is no 'brew'; there is new, check"),
    ("prnt", 2, "err", "there is no 'prnt'; did you mean print?"),
    ("check --formt json", 2, "err", "there is no option --formt; did you mean --format?"),
    ("check --form json", 2, "err", "there is no option --form; did you mean --format?"),
    ("check --format jsn", 2, "err", "there is no 'jsn'; did you mean json?"),
    ("measure icy 505 1000", 2, "err", "there is no 'icy'; did you mean ice?"),
    ("learn", 2, "err", "WHAT"),
    ("learn pack --menu small", 0, "err", "written: out/S26/learn/first-day-en.pdf"),
    ("learn pack --language fr", 2, "err", "the menu has no cards in 'fr'; it has en and es"),
    ("explain cold dock coffee --language fr", 2, "err", "no cards in 'fr'; it has en and es"),
    ("print --language en --language fr", 2, "err", "no cards in 'fr'; it has en and es"),
    ("learn sign-off --since W26 --language fr", 2, "err", "the menu has no cards in 'fr'"),
    ("learn sign-off small", 0, "err", "written: out/S26/learn/sign-off-en.pdf"),
    ("learn sign-off --since S1 --menu small", 2, "err", "there is nothing to compare with"),
    ("completion bash", 0, "out", "complete -"),
    ("learn", 2, "err", "WHAT"),
    ("learn dance", 2, "err", "there is no 'dance'"),
    ("learn sheet --menu small", 0, "err", "2 files in out/S26"),
    ("learn sheet --menu small --level 4", 2, "err", "there is no '4'; there is 1, 2 and 3"),
    ("learn sheet --menu small --station bra", 2, "err", "no station 'bra'; did you mean bar?"),
    ("learn sheet --menu small --language fr", 2, "err", "the menu has no cards in 'fr'"),
    ("learn sheet --menu small --count 0", 2, "err", "'0' is not a number of sheets"),
    ("learn sheet --menu small --count 101", 2, "err", "write 1 to 100"),
    ("learn sheet --seed 9999999999", 2, "err", "is not a seed; write 1 to 999999999"),
    ("learn sheet --menu small --removed", 0, "out", "questions are asked"),
    ("learn sheet small --station shaking --level 3", 2, "err", "nothing to ask of 'shaking'"),
    ("learn sheet small --dry-runs --station bar", 2, "err", "--station does nothing with"),
    ("learn sheet --menu small --dry-runs --count 2", 0, "err", "2 files in out/S26"),
    ("learn sheet --menu nowhere", 2, "out", "TXT01"),
    ("learn score nothing.csv --menu small", 2, "err", "nothing.csv: No such file"),
    ("learn score small/menu.yaml --menu small", 2, "err", "first line has to be sheet,missed"),
    ("completion fish", 2, "err", "bash, zsh and tcsh"),
    ("explain cloud medium ./small", 0, "out", "cloud in medium"),
    ("explain cloud medium --menu small", 0, "out", "cloud in medium"),
    ("--version", 0, "out", "buildsheets 0"),
    ("--help", 0, "out", "COMMAND"),
    ("print --help", 0, "out", "--sheet"),
    ("explain honey-lantern", 0, "out", "honey-lantern in hot"),
    ("explain honey-lantern small", 2, "err", "hot"),
    ("explain hony-lantern", 2, "err", "did you mean Honey Lantern (honey-lantern)"),
    ("explain soup", 2, "err", "marsh-milk-tea"),
    ("explain honey-lantern --menu nowhere", 2, "out", "TXT01"),
    ("schema plan", 0, "out", '"$schema"'),
    ("schema measure", 2, "err", "there is check, explain"),
    ("guide", 0, "out", "printing  Printing, cutting, laminating"),
    ("guide cups", 0, "out", "# Measuring your cups and scoops"),
    ("guide printin", 2, "err", "did you mean printing?"),
    ("guide FIT03", 2, "err", "FIT03 is a finding; see `buildsheets rule FIT03`"),
    ("rule", 0, "out", "FIT01"),
    ("rule FIT01", 0, "out", "FIT01 cup-overfull (error)"),
    ("rule fit01", 0, "out", "FIT01 cup-overfull (error)"),
    ("rule FIT99", 2, "err", "did you mean"),
    ("keys", 0, "out", "| key |"),
    ("keys drinks", 0, "out", "### drink"),
    ("keys drink", 2, "err", "drinks"),
    ("keys --format json-schema", 0, "out", '"$schema"'),
    ("keys drinks --format json-schema", 0, "out", '"build"'),
    ("measure cup 20mm=60g 40mm=130g 60mm=212g", 0, "out", "calibration:"),
    ("measure cup 20mm:60g", 2, "err", "20mm=45g"),
    ("measure cup 40mm=130g 20mm=60g", 2, "err", "rise"),
    ("measure scoop 61 58 63", 0, "out", "holds: 61 g"),
    ("measure scoop 61", 2, "err", "3 weighings"),
    ("measure scoop some", 2, "err", "61g"),
    ("measure ice 505 1000", 0, "out", "packing: 55 %"),
    ("measure ice --help", 0, "out", "grams of ice"),
    ("measure cap --help", 0, "out", "of the foam"),
    ("measure box 91mm 114mm 505ml", 0, "out", "base: 58.0 mm"),
    ("measure box 91 114 505", 2, "err", "without a unit"),
    ("measure ice 505 0", 2, "err", "above 0"),
    ("measure cap 238 120", 0, "out", "overrun: 98 %"),
    ("measure head 200 290 314 320 311", 0, "out", "head: 15 %"),
    ("measure head 200 290 280", 2, "err", "above where the drink stands"),
    ("measure head 200 290", 2, "err", "foam's tops"),
    ("measure cap 1.2.3 120", 2, "err", "not a number"),
    ("plan saturday", 0, "out", "Saturday"),
    ("plan sunday", 2, "err", "saturday"),
    ("plan busy small", 0, "out", "Busy day"),
    ("plan saturday --out else", 2, "err", "--out does nothing without --format pdf"),
    ("plan saturday --menu nowhere", 2, "out", "TXT01"),
    ("labels cooked-pearls=2 --at 2026-12-05T08:00", 0, "out", "Tapioca"),
    ("labels cooked-pearls=0", 2, "err", "whole number from 1"),
    ("labels cooked-pearls=few", 2, "err", "whole number from 1"),
    ("buy saturday", 0, "out", "To order for Saturday"),
    ("labels soup", 2, "err", "cooked-pearls"),
    ("labels", 2, "err", "say what was made or opened"),
    ("labels --calendar --skip 3 --format pdf", 2, "err", "--skip does nothing with --calendar"),
    ("labels --calendar --skip 3", 2, "err", "--skip does nothing without --format pdf"),
    ("labels cooked-pearls --use-by 2027-01-01", 2, "err", "a pack that is opened"),
    ("costs --format json --language es", 2, "err", "--language does nothing with --format json"),
    ("site --language xx", 2, "err", "'xx'"),
    ("print --workers 0", 2, "err", "1 or more"),
    ("labels brew ./small --at 2026-12-05T08:00 --format json", 0, "out", "brew"),
    ("log --at 2026-12-05T08:00", 2, "err", "--at does nothing without event"),
    ("log", 0, "out", "nothing in use"),
    ("log opened", 2, "err", "the id of a batch or ingredient"),
    ("log opened soup", 2, "err", "no batch or ingredient 'soup'"),
    ("labels cooked-pearls --at noon", 2, "err", "2027-03-01T09:30"),
    ("costs", 0, "out", "Marsh Milk Tea"),
    ("costs --what-if whole-milk=1.55", 0, "out", "1.55"),
    ("costs --what-if whole-milk", 2, "err", "INGREDIENT=PRICE"),
    ("costs --what-if gold=3", 2, "err", "gold"),
    ("costs --options --menu small", 0, "out", "Cloud · Sweetness 50% · Without"),
    ("costs --open", 2, "err", "--open does nothing without --format pdf"),
    ("facts", 0, "out", "Marsh Milk Tea"),
    ("facts --menu small", 0, "out", "Cloud"),
    ("facts --language xx", 2, "err", "'xx'"),
    ("allergens", 0, "out", "Marsh Milk Tea"),
    ("batch parsnip-cream", 0, "out", "Parsnip cream"),
    ("batch parsnip-cream --packs 2", 0, "out", "2 packs"),
    ("batch parsnip-cream --containers 3", 2, "err", "3x1000"),
    ("batch parsnip-cream --containers 2x1l", 0, "out", "Gives 2 l"),
    ("batch parsnip-cream --containers 2x1kg", 2, "err", "a volume is wanted"),
    ("batch parsnip-cream --factor 0", 2, "err", "above 0"),
    ("batch parsnip-cream --scale huge", 2, "err", "huge"),
    ("batch soup", 2, "err", "parsnip-cream"),
    ("batch cooked-pearls --packs 1", 2, "err", "cooked-pearls names no lead ingredient"),
    ("current S-0000", 1, "out", "no such card"),
    ("current S-0000 --day someday", 2, "err", "2027-03-01"),
    ("compare S26 --after", 2, "err", "no option --after"),
    ("compare S26 ./small", 2, "out", "PUB07"),
    ("compare S26 --out else", 2, "err", "--out does nothing without --sheet"),
    ("compare S26 W26", 2, "out", "PUB07"),
    ("compare S26 --menu small", 2, "out", "PUB07"),
    ("publish nowhere", 2, "out", "TXT01"),
    ("site nowhere", 2, "out", "TXT01"),
    ("print nowhere", 2, "out", "TXT01"),
    ("print small --only soup", 2, "err", "soup"),
    ("print small --language de", 2, "err", "de"),
    ("print --sheet huge", 2, "err", "huge"),
    ("print --flip long", 2, "err", "--flip does nothing without --sheet"),
    ("print --radius 3", 2, "err", "--radius does nothing without --sheet"),
    ("print --variant pdf/a-3u", 2, "err", "--variant does nothing without --accessible"),
    ("print --accessible --workers 1", 2, "err", "--workers does nothing with --accessible"),
    ("print --check --only cloud", 2, "err", "--only does nothing with --check"),
    ("print --check --sheet A4", 2, "err", "--sheet does nothing with --check"),
    ("print --sheet A4 --accessible", 2, "err", "not allowed"),
    ("print small --changed --only soup", 2, "err", "soup"),
    ("print --check", 2, "err", "nothing was printed"),
    ("proof nowhere", 2, "err", "nowhere"),
    ("proof menu/shop.yaml", 1, "out", "PROOF13"),
    ("proof empty", 1, "out", "PROOF13"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "code", "where", "said"), RUNS, ids=[r[0] for r in RUNS])
def test_exit_code_and_where_it_is_said(
    words: str, code: int, where: str, said: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "empty").mkdir()
    ran = run(capsys, *words.split())
    assert ran.code == code, ran
    assert said in getattr(ran, where), ran
    assert "BUG01" not in ran.err
    assert "Traceback" not in ran.err


def test_every_command_has_a_run_above() -> None:
    (verbs,) = [a for a in parser()._actions if a.dest == "verb"]
    tried = {words.split()[0] for words, *_ in RUNS if words[:1].isalpha()}
    assert tried - {"brew", "prnt"} == set(verbs.choices or ())


# One menu with an error, each command that must not go on.
@pytest.mark.parametrize(
    "words",
    ["check", "print", "publish", "plan saturday --menu", "costs", "facts", "allergens",
     "compare W26 --menu", "batch parsnip-cream --menu", "labels cooked-pearls --menu",
     "log opened whole-milk --menu"],
)  # fmt: skip
def test_an_error_of_the_menu_stops_a_command_and_nothing_is_written(
    words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = small_menu(tmp_path / "menu", OVERFULL)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    before = snapshot(tmp_path)
    ran = run(capsys, *words.split(), menu)
    assert ran.code == 1
    assert "FIT01" in ran.out
    assert snapshot(tmp_path) == before


def test_a_menu_may_be_a_folder_or_one_file(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    merged = shop / "whole.yaml"
    merged.write_text("\n".join(p.read_text("utf-8") for p in sorted(DEMO.glob("*.yaml"))), "utf-8")
    folder = run(capsys, "check", "menu")
    one = run(capsys, "check", merged)
    assert (folder.code, one.code) == (0, 0)
    assert one.out == folder.out
    costs = [run(capsys, "costs", where, "--format", "json").result for where in ("menu", merged)]
    assert costs[0] == costs[1]
    assert len(costs[0]["servings"]) == 39 + 10  # as written, and with oat drink for milk


def test_a_warning_counts_under_strict_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = demo_copy(tmp_path / "menu", ("    tolerance: 4 ml", "    tolerance: 60 ml"))
    mild, strict = (run(capsys, "check", menu, *more) for more in ((), ("--strict",)))
    assert mild.code == 0
    assert "warning FIT04" in mild.out
    assert strict.code == 1
    assert "error FIT04" in strict.out
    assert "warning FIT04" not in strict.out


# what programs read -----------------------------------------------------------------------------


def test_short_findings_are_one_line_each_with_their_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    demo_copy(tmp_path / "menu", TOO_MUCH, NAMELESS)
    monkeypatch.chdir(tmp_path)
    lines = run(capsys, "check", "--format", "short").out.splitlines()
    assert len(lines) == len(run(capsys, "check", "--format", "json").data["findings"]) >= 2
    for line in lines:
        file, number, column, rest = line.split(":", 3)
        assert (tmp_path / file).is_file()
        assert number.isdigit()
        assert column.isdigit()
        assert rest.split()[1] in rulebook()


def test_a_clean_menu_has_no_short_line(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "check", "--format", "short").out == ""


@pytest.mark.parametrize("edits", [(), (TOO_MUCH,), (TOO_MUCH, NAMELESS)], ids=len)
def test_json_counts_its_findings(
    edits: tuple[tuple[str, str], ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = run(capsys, "check", demo_copy(tmp_path / "menu", *edits), "--format", "json").data
    assert sum(data["counts"].values()) == len(data["findings"])
    assert bool(data["findings"]) == bool(edits)
    for finding in data["findings"]:
        assert rulebook()[finding["code"]].name == finding["name"]
        assert finding["span"]["line"] >= 1


def test_sarif_has_what_the_standard_requires(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """OASIS SARIF 2.1.0: 3.13 sarifLog, 3.14 run, 3.19 toolComponent, 3.27 result, 3.30 region."""
    demo_copy(tmp_path / "menu", TOO_MUCH, NAMELESS)
    monkeypatch.chdir(tmp_path)
    log = run(capsys, "check", "--format", "sarif").data
    assert log["version"] == "2.1.0"  # 3.13.2
    (one,) = log["runs"]
    driver = one["tool"]["driver"]
    assert driver["name"] == "buildsheets"  # 3.19.8: required
    assert one["columnKind"] in ("utf16CodeUnits", "unicodeCodePoints")  # 3.14.17
    assert len(one["results"]) >= 2
    for result in one["results"]:
        assert result["message"]["text"]  # 3.27.11 and 3.11: required
        assert result["level"] in ("none", "note", "warning", "error")  # 3.27.10
        assert driver["rules"][result["ruleIndex"]]["id"] == result["ruleId"]  # 3.27.6
        (place,) = result["locations"]
        where = place["physicalLocation"]
        assert (tmp_path / where["artifactLocation"]["uri"]).is_file()
        region = where["region"]
        lines = (tmp_path / where["artifactLocation"]["uri"]).read_text("utf-8").splitlines()
        assert 1 <= region["startLine"] <= region["endLine"] <= len(lines)
        assert 1 <= region["startColumn"] <= len(lines[region["startLine"] - 1]) + 1


@pytest.mark.parametrize("form", ["json", "sarif"])
@pytest.mark.parametrize(
    "words",
    ["check", "compare menu menu", "current S-0000", "compare S26", "site",
     "print nowhere", "proof menu/menu.yaml", "proof empty"],
)  # fmt: skip
def test_standard_output_is_one_document(
    words: str, form: str, kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (kiosk / "empty").mkdir()
    data: Any = run(capsys, *words.split(), "--format", form).data
    assert "findings" in data or "runs" in data


def test_what_publish_says_is_one_document(kiosk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second time, all is published already, and nothing is rendered."""
    first = run(capsys, "publish", "--format", "json").data
    assert (first["result"]["edition"], first["findings"]) == ("S26", [])
    (again,) = run(capsys, "publish", "--format", "sarif").data["runs"]
    assert [result["ruleId"] for result in again["results"]] == ["PUB05"]


@pytest.mark.parametrize("words", ["plan saturday", "labels cooked-pearls", "facts", "allergens",
                                   "costs", "batch parsnip-cream"])  # fmt: skip
def test_the_prep_commands_answer_programs(
    words: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, *words.split(), "--format", "json").result


def test_a_tagged_document_follows_the_standard_that_was_asked_for(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "print", "--accessible", "--variant", "pdf/a-3u", "--only", "gauge")
    assert ran.code == 0, ran
    (document,) = (kiosk / "out").rglob("*.pdf")
    with pikepdf.open(document) as held, held.open_metadata() as about:
        assert about.pdfa_status == "3U"
    assert ran.out.startswith("1 file, 3 cards (")
    assert "\n3 cards say DRAFT: publish" in ran.out


def test_a_second_print_says_again_what_the_first_warned_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "menu.yaml").write_text(SMALL, "utf-8")
    monkeypatch.chdir(tmp_path)
    words = ("print", "menu.yaml", "--only", "allergens", "--sheet", "A4")
    first, second = run(capsys, *words), run(capsys, *words)
    assert (first.code, second.code) == (0, 0)
    assert "nothing has changed" in second.out
    told = [line for line in first.out.splitlines() if "SHEET02" in line]
    assert told
    assert [line for line in second.out.splitlines() if "SHEET02" in line] == told


def test_drafts_do_not_lie_among_cards_to_hang_up(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first season as an owner goes through it: look at drafts, publish, print."""

    def lying() -> list[str]:
        return sorted(path.parent.name for path in (kiosk / "out").glob("*/manifest.json"))

    gauges = ("print", "--only", "gauge")
    for words in (gauges, ("print", "--only", "allergens")):
        assert "DRAFT: publish the edition before hanging up" in run(capsys, *words).out
    gauge = min((kiosk / "out" / "S26-gauge").rglob("*.pdf"))
    for path in ("out", "out/S26-gauge", str(gauge.relative_to(kiosk))):
        ran = run(capsys, "proof", path, "--format", "short")
        assert "drafts-lie-here: 3 cards say DRAFT in out/S26-gauge" in ran.out
        assert ran.code == 0, ran
    assert f"{gauge.relative_to(kiosk)}: nothing else wrong" in ran.out
    assert run(capsys, "proof", "out", "--strict").code == 1
    assert lying() == ["S26-allergens", "S26-gauge"]

    assert "Next: print makes them without the draft mark." in run(capsys, "publish").out
    ran = run(capsys, "print", "--changed")
    assert "this is the first edition, `print` alone prints all its cards" in ran.out
    (kiosk / "out" / "S26-allergens" / "mine.txt").write_text("kept", "utf-8")
    ran = run(capsys, *gauges)
    assert "out/S26-allergens held drafts of S26; they are removed" in ran.out
    assert "DRAFT" not in ran.out
    assert lying() == ["S26-gauge"]
    assert [path.name for path in (kiosk / "out" / "S26-allergens").iterdir()] == ["mine.txt"]
    assert "nothing wrong" in run(capsys, "proof", "out").out


# what is left alone -----------------------------------------------------------------------------


def test_check_writes_nothing_at_all(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("HOME", str(kiosk))
    before = snapshot(kiosk)
    for words in ("check", "check --format sarif", "explain cloud"):
        ran = run(capsys, *words.split())
        assert ran.code == 0, ran
    assert snapshot(kiosk) == before


# Babel is not among them: Pint, which reads amounts, imports it itself where it is installed.
ENGINE = {"weasyprint", "pikepdf", "pypdfium2", "qrcode", "jinja2", "PIL", "zxingcpp", "fontTools",
          "pypdf"}  # fmt: skip
HEAVY = ENGINE | {"buildsheets.print", "buildsheets.views", "buildsheets.ledger"}


@pytest.mark.parametrize(
    ("words", "avoided"),
    [
        ("check", HEAVY),
        ("check --format sarif", HEAVY),
        ("explain cloud", ENGINE),
        ("measure scoop 61 58 63", HEAVY | {"pint", "babel"}),
        ("keys", HEAVY | {"pint", "babel"}),
        ("--help", HEAVY | {"pint", "babel"}),
    ],
)
def test_quick_commands_import_nothing_heavy(words: str, avoided: set[str], kiosk: Path) -> None:
    listing = "import atexit; atexit.register(lambda: print('\\nIMPORTED', *sys.modules))"
    ran = own_process(*words.split(), cwd=kiosk, env=OURS, first=listing)
    assert ran.code == 0, ran
    imported = set(ran.out.rpartition("IMPORTED")[2].split())
    assert "buildsheets.cli.main" in imported
    assert imported & avoided == set()


# what goes wrong around it ----------------------------------------------------------------------


def test_a_reader_that_goes_away_is_no_fault(kiosk: Path) -> None:
    for words in (["keys"], ["check"], ["rule"], ["--help"], ["check", "--help"]):
        code = f"import sys; from buildsheets.cli.main import main; sys.exit(main({words!r}))"
        run_it = subprocess.Popen(
            [sys.executable, "-c", code], cwd=kiosk, env=os.environ | OURS,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        assert run_it.stdout is not None
        assert run_it.stderr is not None
        run_it.stdout.close()  # before anything is written
        assert run_it.stderr.read() == b""
        assert run_it.wait() == 0
        run_it.stderr.close()


def test_a_watched_menu_is_checked_after_each_change(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = kiosk / "menu" / "menu.yaml"
    looks = iter([lambda: None, lambda: menu.write_text(OVERFULL, "utf-8"), lambda: None])

    def sleep(seconds: float) -> None:
        edit = next(looks, None)
        if edit is None:
            raise KeyboardInterrupt
        edit()

    monkeypatch.setattr("time.sleep", sleep)
    ran = run(capsys, "check", "--watch", "--format", "full")
    assert ran.code == 0, ran
    assert ran.out.count("checked; Ctrl-C ends it") == 2
    clean, over = ran.out.index("every one fits"), ran.out.index("error FIT01")
    assert clean < over
    assert "\x1b" not in ran.out
    assert ran.err == ""


def test_an_interrupt_stops_it_without_a_traceback() -> None:
    slow = (
        "import buildsheets.pipeline as p, signal, time, sys\n"
        # A shell that runs the tests in the background has them ignore interrupts.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def wait(path): print('ready', flush=True); time.sleep(30)\n"
        "p.check = wait\n"
        "from buildsheets.cli.main import main\nsys.exit(main(['check']))"
    )
    ended = subprocess.Popen([sys.executable, "-c", slow], cwd=ROOT, stdout=subprocess.PIPE,
                             stderr=subprocess.PIPE, text=True)  # fmt: skip
    assert ended.stdout is not None
    assert ended.stdout.readline() == "ready\n"
    ended.send_signal(signal.SIGINT)
    _, err = ended.communicate(timeout=20)
    assert err == "stopped\n"
    assert ended.returncode == 130


NO_PANGO = """
import cffi
def refuse(self, name, *flags): raise OSError(f"cannot load library {name!r}")
cffi.FFI.dlopen = refuse
"""


@pytest.mark.parametrize(
    "words",
    ["print --no-cache --only gauge", "print --accessible --only gauge", "facts --format pdf",
     "compare menu menu --sheet"],
)  # fmt: skip
def test_without_the_native_libraries_the_command_to_install_them_is_said(
    words: str, kiosk: Path
) -> None:
    ran = own_process(*words.split(), cwd=kiosk, env=OURS, first=NO_PANGO)
    assert ran.code == 2, ran
    assert "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0" in ran.err
    assert "Traceback" not in ran.err
    assert not (kiosk / "out").exists()


def test_without_the_native_libraries_check_still_works(kiosk: Path) -> None:
    assert own_process("check", cwd=kiosk, env=OURS, first=NO_PANGO).code == 0


def test_a_crash_of_our_own_says_so(
    monkeypatch: pytest.MonkeyPatch, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def crash(path: Path) -> None:
        raise RuntimeError("seven is not eight")

    monkeypatch.setattr("buildsheets.pipeline.check", crash)
    monkeypatch.delenv("BUILDSHEETS_DETAILS", raising=False)
    ran = run(capsys, "check")
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith("BUG01 our-own-crash: buildsheets itself failed")
    assert "RuntimeError: seven is not eight" in ran.err
    assert "Traceback" not in ran.err
    monkeypatch.setenv("BUILDSHEETS_DETAILS", "1")
    assert "in crash" in run(capsys, "check").err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_not_called_our_fault() -> None:
    with Path("/dev/full").open("wb") as full:
        ended = subprocess.run(
            [sys.executable, "-c", "import sys; from buildsheets.cli.main import main; "
             "sys.exit(main(['keys']))"],
            cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert "No space left on device" in ended.stderr
    assert "BUG01" not in ended.stderr
    assert ended.returncode != 0


def test_a_folder_that_cannot_be_made_is_named(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "facts", "--format", "pdf", "--out", shop / "menu" / "shop.yaml")
    assert ran.code == 2
    assert "shop.yaml" in ran.err
    assert "BUG01" not in ran.err


def test_a_shops_own_broken_words_are_named_with_their_line(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = shop / "menu" / "layouts" / "words"
    words.mkdir(parents=True)
    (words / "en.yaml").write_text("contains: [\n", "utf-8")
    for command in (["print"], ["publish"], ["facts"]):
        ran = run(capsys, *command)
        assert ran.code == 1
        assert "error CARD12" in ran.out
        assert "menu/layouts/words/en.yaml, line 2" in ran.out


def test_a_terminal_without_the_letters_shows_others() -> None:
    ran = own_process("explain", "honey-lantern", env={"PYTHONIOENCODING": "ascii"})
    assert ran.code == 0
    assert "honey-lantern in hot" in ran.out


def test_nothing_but_findings_is_coloured_and_only_on_a_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = small_menu(tmp_path / "menu", OVERFULL)
    assert "\x1b" not in run(capsys, "check", menu).out
    monkeypatch.setattr(
        "buildsheets.findings.report.wants_colour", lambda stream, environment: True
    )
    assert "\x1b[1;31m" in run(capsys, "check", menu).out
    for form in ("short", "json", "sarif"):
        assert "\x1b" not in run(capsys, "check", menu, "--format", form).out


@pytest.mark.slow
def test_a_shop_with_a_site_publishes_prints_and_passes_the_proof(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its QR codes hold addresses, which name the card without dashes."""
    menu = small_menu(
        tmp_path / "menu",
        SMALL.replace("  card: A5\n", "  card: A5\n  site: https://x.example/c\n"),
    )
    assert run(capsys, "publish", menu).code == 0
    printed = run(capsys, "print", menu, "--out", tmp_path / "out", "--only", "cloud")
    assert printed.code == 0, printed.out
    assert run(capsys, "proof", tmp_path / "out").code == 0


@pytest.mark.slow
def test_a_print_of_some_cards_says_how_many_others_differ_from_the_published(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Less milk changes the drink's cards at its station and of its own, not the gauge."""
    menu = small_menu(tmp_path / "menu")
    words = ("print", menu, "--out", tmp_path / "out", "--only")
    assert "differ" not in run(capsys, *words, "gauge").out  # nothing is published yet
    assert run(capsys, "publish", menu).code == 0
    assert "differ" not in run(capsys, *words, "gauge").out
    (menu / "menu.yaml").write_text(SMALL.replace("amount: 100 ml", "amount: 90 ml"), "utf-8")
    changed = run(capsys, "print", menu, "--out", tmp_path / "out", "--changed", "--format", "json")
    others = len(changed.data["result"]["cards"])
    assert others > 1
    said = f"{others} other cards differ from the published edition: `print --changed` prints all"
    assert said in run(capsys, *words, "gauge").out
