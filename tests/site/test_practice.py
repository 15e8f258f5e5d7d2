"""Practice on the phone pages: what is asked, what is left out, and the pages in a browser."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import menu_samples as m
import pytest
from edition_browser import Browser, serving

from buildsheets import output
from buildsheets.cli.edition_answers import cards_for_print
from buildsheets.cli.main import main
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.questions import Arrange, Choose, Fill, answer
from buildsheets.ledger.ledger import Ledger
from buildsheets.ledger.publish import Issuer, edition_cards, publish
from buildsheets.pipeline import check
from buildsheets.place import Place
from buildsheets.print.layouts import Layouts
from buildsheets.site import practice
from buildsheets.site.practice import Practice, page_data, practice_of

NAME = 'Cloud "9" </script><b>&amp; <!-- it\'s'
WATER = """\
  plain:
    name: Plain
    cups: [medium, tall]
    price: 2.00
    add_ons: [add-pearls]
    build:
      - {add: sweet, amount: 1/2 pump}
      - {add: cubes, amount: 1 1/2 scoops}
      - {add: still, fill_to: 300 ml}
days:
"""
MENU = m.edited(
    {"menu.yaml": m.SMALL},
    ("    name: Cloud\n", f"    name: '{NAME.replace(chr(39), chr(39) * 2)}'\n"),
    ("step: 5 ml, tolerance: 2 ml}\n  pump: {name: pump, kind: pump, step: 1 pump,",
     "step: 5 ml, tolerance: 2 ml}\n  pump: {name: pump, kind: pump, step: 1/2 pump,"),
    ("    keeps_for: 1 days\n", "    keeps_for: 4 h\n"),
    ("sweeteners:\n",
     "  still: {from: water, tool: jug, station: bar, temperature: 5 °C}\nsweeteners:\n"),
    ("days:\n", WATER),
)  # fmt: skip


def written(folder: Path, *edits: tuple[str, str], languages: str = "[en]") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    files = m.edited(MENU, ("languages: [en]", f"languages: {languages}"), *edits)
    (folder / "menu.yaml").write_text(files["menu.yaml"], "utf-8")
    return folder


def put_out(menu: Path) -> None:
    """Publish a menu's cards, without printing them."""
    checked = check(menu)
    assert checked.menu is not None
    assert not checked.stopped, m.said(checked.findings)
    cards = output.cards(checked.menu, checked.servings, Layouts())
    edition, _ = publish(cards, Place.of(menu).ledger, checked.menu.edition, Issuer())
    assert edition is not None


def practised(menu: Path) -> Practice:
    checked = check(menu)
    assert checked.menu is not None
    cards = output.cards(checked.menu, checked.servings, Layouts())
    coded, _ = cards_for_print(cards, menu, checked.menu.edition, Issuer())
    views = [one.card for one in coded.cards]
    return practice_of(
        Lesson.of(checked.menu, checked.servings, Layouts().words("en"), views), coded
    )


def ids(told: Practice, file: str = "index.html") -> list[str]:
    return [q.id for one in told.stations if one.file == file for q in one.questions]


def drinks(told: Practice) -> Counter[str]:
    return Counter(q.drink for q in told.stations[0].questions)


@pytest.fixture(scope="module")
def menu(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = written(tmp_path_factory.mktemp("menu"))
    put_out(folder)
    return folder


@pytest.fixture(scope="module")
def told(menu: Path) -> Practice:
    return practised(menu)


def test_every_station_has_a_page_and_the_shop_one_of_whole_builds(told: Practice) -> None:
    assert [(one.file, one.name) for one in told.stations] == [
        ("index.html", "All stations"), ("at-bar.html", "Bar"), ("at-shaking.html", "Shaking")
    ]  # fmt: skip
    assert told.folder == "practice/en"
    assert told.edition == (
        "Sample, from Mar 1, 2026",
        "After Sep 30, 2026, check that it is current",
    )
    kinds = {q.kind for q in told.stations[0].questions}
    assert {"amounts", "steps", "cup", "mistake", "allergen", "keeps"} <= kinds
    levels = [q.level for q in told.stations[0].questions]
    assert levels == sorted(levels)  # easier ones are asked first


def test_nothing_is_asked_of_a_draft(tmp_path: Path, menu: Path, told: Practice) -> None:
    """A change that is not published yet is not practised; all else is, under the same ids."""
    assert practised(written(tmp_path / "new")).stations == ()
    before = dict(drinks(told))
    put_out(written(tmp_path / "shop"))
    changed = practised(written(tmp_path / "shop", ("fill_to: 300 ml", "fill_to: 280 ml")))
    assert "plain" in before
    assert "plain" not in drinks(changed)
    assert drinks(changed)["shaken"] == before["shaken"] > 3
    kept = {q.id for q in told.stations[0].questions if q.drink == "shaken"}
    assert kept <= {*ids(changed)} < {*ids(told)}


def test_of_a_large_menu_some_of_each_kind_are_asked(
    menu: Path, told: Practice, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Which these are hangs on the questions: where some go, the others stay."""
    monkeypatch.setattr(practice, "MOST", {1: 8, 2: 2, 3: 5})
    few = practised(menu).stations[0].questions
    assert Counter(q.level for q in few) == {1: 8, 2: 2, 3: 5}
    every = {q.kind for q in told.stations[0].questions if q.level == 1}
    assert {q.kind for q in few if q.level == 1} == every
    put_out(written(tmp_path / "shop"))
    changed = practised(written(tmp_path / "shop", ("fill_to: 300 ml", "fill_to: 280 ml")))
    stay = {q.id for q in few if q.drink in ("cloud", "shaken")}
    assert len(stay) > 4
    assert stay <= {*ids(changed)}


def test_a_page_holds_the_answers_of_the_practice_sheets(told: Practice) -> None:
    """What the script takes for right is what a sheet's key prints."""
    seen = set()
    for station in told.stations:
        data = json.loads(page_data(told, station))
        for q, one in zip(station.questions, data["questions"], strict=True):
            seen.add(type(q.form))
            right = [what for _, what in answer(q)]
            match q.form:
                case Fill():
                    gaps = [(value, told) for _, _, value, told in one["fill"] if value is not None]
                    assert [told for _, told in gaps] == right
                    for (value, _), row in zip(
                        gaps, [row for row in q.form.rows if row.answer], strict=True
                    ):
                        halves = str(value).replace("0.5", "½").replace(".5", "½")
                        assert row.answer == re.sub(r"\.0$", "", halves)
                case Arrange():
                    texts, places = one["arrange"]["texts"], one["arrange"]["places"]
                    assert [t for _, t in sorted(zip(places, texts, strict=True))] == right
                case Choose():
                    options = [one["choose"]["options"][n] for n in one["choose"]["right"]]
                    assert options == right or q.form.mend
            (label, code, _) = data["cards"][one["cards"][0]]
            assert (code, label) == (q.sources[0].code, q.sources[0].label)
            assert one["caution"] == q.caution
    assert seen == {Fill, Arrange, Choose}
    assert any(q.caution for q in told.stations[0].questions)


# The site ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def site(menu: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("out")
    assert main(["site", str(menu), "--out", str(out)]) == 0
    return out / "site"


def files_of(site: Path) -> dict[str, bytes]:
    return {p.relative_to(site).as_posix(): p.read_bytes() for p in site.rglob("*") if p.is_file()}


def test_the_pages_are_linked_and_kept_for_the_time_without_a_connection(
    site: Path, told: Practice
) -> None:
    files = files_of(site)
    worker = json.loads(re.findall(r"const FILES = (\{.*\});", files["sw.js"].decode())[0])
    for station in told.stations:
        path = f"practice/en/{station.file}"
        assert worker[path] == hashlib.sha256(files[path]).hexdigest()[:16]
        hrefs = re.findall(r'<a href="([^"]+)"', files[path].decode())
        data = json.loads(page_data(told, station))
        for href in [*hrefs, *(href for _, _, href in data["cards"])]:
            assert (site / "practice/en" / href).resolve().is_file(), href
    assert (
        b'href="practice/en/index.html" lang="en">Practise what the cards say'
        in files["index.html"]
    )


def test_a_page_is_allowed_its_own_script_and_no_other(site: Path) -> None:
    text = (site / "practice/en/index.html").read_text("utf-8")
    (script,) = re.findall(r"<script>(.*?)</script>", text, flags=re.S)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert "default-src 'none'; style-src 'sha256-" in html.unescape(text)
    assert f"script-src 'sha256-{digest}'; " in html.unescape(text)
    assert text.count("</script>") == 2  # of the data and of the script: none of a drink's name
    data = re.findall(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)
    titles = {one["title"] for one in json.loads(data[0])["questions"]}
    assert f"{NAME}, Medium" in titles


def test_a_shop_may_leave_it_out(
    menu: Path, site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert main(["site", str(menu), "--out", str(tmp_path / "a")]) == 0
    assert re.search(r"^Practice questions: \d\d+$", capsys.readouterr().out, re.M)
    written(menu, ("  allergen_list: eu14\n", "  allergen_list: eu14\n  practice: no\n"))
    try:
        assert main(["site", str(menu), "--out", str(tmp_path / "b"), "--format", "json"]) == 0
    finally:
        written(menu)
    assert json.loads(capsys.readouterr().out)["result"]["practice_questions"] == 0
    without = files_of(tmp_path / "b/site")
    assert without.keys() == {p for p in files_of(site) if not p.startswith("practice/")}
    assert not [path for path, data in without.items() if b"ractice" in data or b"ractise" in data]


def test_pages_of_an_edition_whose_cards_say_something_else_now_say_so(
    menu: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In other measures, too: the same cups read in fluid ounces."""
    assert main(["site", str(menu), "--out", str(tmp_path / "a")]) == 0
    assert "PUB08" not in capsys.readouterr().out
    written(menu, ("  measures: metric\n", "  measures: imperial\n"))
    try:
        assert main(["site", str(menu), "--out", str(tmp_path / "b")]) == 0
    finally:
        written(menu)
    said = capsys.readouterr().out
    assert re.search(
        r"PUB08.*: the pages show edition \w+ as it was published; \d+ of \d+ cards", said
    )
    assert "publish the menu under a new code" in said


def test_a_shop_of_one_station_has_one_page() -> None:
    checked = check(Path(__file__).parents[1] / "menus" / "one-pot-friday.yaml")
    assert checked.menu is not None
    assert len(checked.menu.stations) == 1
    cards = output.cards(checked.menu, checked.servings, Layouts())
    ahead = edition_cards(cards, Ledger(Path()), checked.menu.edition, as_published=True)
    views = [one.card for one in ahead.cards]
    lesson = Lesson.of(checked.menu, checked.servings, Layouts().words("en"), views)
    (station,) = practice_of(lesson, ahead).stations
    assert (station.file, station.name) == ("index.html", checked.menu.shop.name.in_language("en"))


def test_each_language_has_its_pages(tmp_path: Path) -> None:
    folder = written(tmp_path / "menu", languages="[en, de]")
    put_out(folder)
    assert main(["site", str(folder), "--out", str(tmp_path)]) == 0
    index = (tmp_path / "site/index.html").read_text("utf-8")
    assert 'href="practice/de/index.html" lang="de">Üben, was auf den Karten steht' in index
    page = (tmp_path / "site/practice/de/index.html").read_text("utf-8")
    assert '<html lang="de">' in page
    assert "In welcher Reihenfolge?" in page
    assert "In which order?" not in page


# In a browser -----------------------------------------------------------------------------------

ANSWER = """(right => {
  const q = queue[0];
  if (q.fill) q.fill.forEach(([, , value], n) => {
    if (value !== null) at('gap' + n).value =
      right ? value : typeof value === 'string' ? '00:01' : value + 1;
  });
  else if (q.arrange) for (let place = 1; place <= q.arrange.texts.length; place++) {
    const rows = () => [...document.querySelectorAll('.order li')];
    const row = rows().find(row => row.dataset.place == place);
    while (rows().indexOf(row) > place - 1 && !at('form').disabled) row.children[1].click();
    if (!right && place == 2) { row.children[1].click(); break; }
  }
  else document.querySelectorAll('#form input').forEach((input, n) => {
    if (q.choose.right.includes(n) === right) input.click();
  });
  at('check').click();
  if (!right && at('result').hidden) at('check').click();  // where all are right, none is wrong
  return [q.id, at('verdict').textContent, document.activeElement.id];
})"""
BOXES = "[0,1,2,3,4,5].map(n => Number(at('box' + n).textContent))"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    opened = Browser(tmp_path_factory.mktemp("profile"))
    yield opened
    opened.close()


@pytest.fixture
def page(site: Path, browser: Browser) -> str:
    """The shop's page of practice on a phone that never saw it."""
    address = (site / "practice/en/index.html").as_uri()
    browser.window(360)
    browser.open(address)
    browser.value("localStorage.clear()")
    browser.open(address)
    return address


def of_form(browser: Browser, kind: str) -> None:
    """Ask a question of a form now."""
    browser.value(f"queue = [questions.find(q => q.{kind})]; asked = 1; next(true)")


@pytest.mark.browser
def test_whoever_answers_by_the_cards_goes_through_all_of_it(page: str, browser: Browser) -> None:
    """A whole run, all forms: each right answer is called so, is one box on, and stays known."""
    count = browser.value("questions.length")
    seen = []
    for _ in range(count):
        id_, verdict, focus = browser.value(f"{ANSWER}(true)")
        assert (verdict, focus) == ("Right.", "verdict"), id_
        seen.append(id_)
        browser.value("at('next').click()")
        if not browser.value("at('done').hidden"):
            assert "of" in browser.value("at('score').textContent")
            browser.value("at('more').hidden || at('more').click()")
    assert len({*seen}) == count  # none twice before all were asked
    assert browser.value(BOXES) == [0, 0, count, 0, 0, 0]
    assert browser.value("at('more').hidden") is True
    back = browser.value("new Date((dayNow() + 2) * 864e5).toLocaleDateString('en', "
                         "{timeZone: 'UTC', dateStyle: 'medium'})")  # fmt: skip
    assert back in browser.value("at('nothing').textContent")
    browser.open(page)
    assert browser.value(BOXES) == [0, 0, count, 0, 0, 0]
    assert browser.value("at('done').hidden") is False


@pytest.mark.browser
def test_what_was_missed_comes_again_in_the_same_round(page: str, browser: Browser) -> None:
    first = browser.value("queue.map(q => q.id)")
    assert len(first) == 10
    id_, verdict, focus = browser.value(f"{ANSWER}(false)")
    assert (id_, verdict, focus) == (first[0], "Not right. It is:", "verdict")
    assert browser.value(BOXES)[1:] == [1, 0, 0, 0, 0]
    assert browser.value("queue.map(q => q.id)") == [*first[1:], first[0]]
    assert browser.value("at('result').hidden") is False
    for _ in range(10):
        browser.value(f"at('next').click(); {ANSWER}(true)")
    browser.value("at('next').click()")
    assert browser.value("at('score').textContent") == "Right at the first try: 9 of 10."
    assert browser.value("document.activeElement.id") == "done-title"
    assert browser.value(BOXES)[1:] == [0, 10, 0, 0, 0]


@pytest.mark.browser
def test_each_form_tells_a_wrong_answer(page: str, browser: Browser) -> None:
    for kind in ("fill", "arrange", "choose"):
        for one in browser.value(f"questions.filter(q => q.{kind}).map(q => q.id)"):
            browser.value(f"queue = [questions.find(q => q.id === '{one}')]; asked = 1; next(true)")
            assert browser.value(f"{ANSWER}(false)")[1] == "Not right. It is:", (kind, one)
            assert browser.value("at('answer').children.length") > 0
            assert browser.value("at('why').textContent").strip()
            links = browser.value(
                "[...document.querySelectorAll('#look a')].map(a => a.textContent)"
            )
            assert all(re.search(r"[A-Z]-\w{5}-\w$", link) for link in links)
            assert links
            shown = browser.value("queue[0].caution")
            assert (
                browser.value("[at('caution'), at('warning')].map(e => e.textContent)")
                == [shown] * 2
            )


@pytest.mark.browser
def test_a_number_is_right_however_it_is_typed(page: str, browser: Browser) -> None:
    def same(text: str, right: float | str) -> Any:
        return browser.value(f"isSame({json.dumps(text)}, {json.dumps(right)})")

    for text in ("½", "0.5", "0,5", ".5", "1/2", "٠٫٥", "๐.๕"):
        assert same(text, 0.5) is True, text
    for text in ("1½", "1 ½", "1 1/2", "1.5", "1,5", "3/2"):
        assert same(text, 1.5) is True, text
    for text in ("1,000", "1.000", "1 000", "1000"):
        assert same(text, 1000.0) is True, text
    assert same("13:15", "13:15") is True
    for text, right in (("", 0), ("abc", 0), ("1/0", 0), ("-2", 2), ("15", 1.5), ("0.6", 0.5),
                        ("2 ml", 2), ("1.2.3", 1.2), ("13:16", "13:15"), ("1", 1000)):  # fmt: skip
        assert same(text, right) is False, text


@pytest.mark.browser
def test_boxes_wait_as_long_as_they_are_told_to(page: str, browser: Browser) -> None:
    """0, 2, 5, 8 and 14 days; and what was answered on a day yet to come is asked at once."""
    waits = [
        browser.value(f"[...Array(30).keys()].find(n => isDue([{box}, 100], 100 + n))")
        for box in (1, 2, 3, 4, 5)
    ]
    assert waits == [0, 2, 5, 8, 14]
    assert browser.value("[1, 2, 3, 4, 5].map(box => moved(box, true))") == [2, 3, 4, 5, 5]
    assert browser.value("[1, 2, 3, 4, 5].map(box => moved(box, false))") == [1] * 5
    assert browser.value("isDue([5, 101], 100)") is True


@pytest.mark.browser
def test_a_clock_put_back_loses_and_locks_nothing(page: str, browser: Browser) -> None:
    """Days are of the phone's own calendar: an hour before and after midnight are two."""

    def on(when: str) -> None:
        nonlocal number
        browser.no_more(number)
        number = browser.before_pages(
            f"const RealDate = Date; Date = class extends RealDate {{ constructor(...given) "
            f"{{ given.length ? super(...given) : super('{when}') }} }}"
        )
        browser.open(page)

    number = browser.before_pages("")
    try:
        on("2026-12-10T23:30:00")
        (first, *_) = browser.value(f"{ANSWER}(true)")
        on("2026-12-11T00:30:00")
        assert browser.value(f"kept['{first}'][1] - dayNow()") == -1
        assert first not in browser.value("queue.map(q => q.id)")
        on("2026-12-12T00:30:00")
        assert browser.value("queue[0].id") == first  # box 2 waits two days
        on("2026-11-01T12:00:00")
        assert browser.value("queue[0].id") == first
        assert browser.value(f"{ANSWER}(true)")[0] == first
        assert browser.value(f"kept['{first}'][0]") == 3
    finally:
        browser.no_more(number)


@pytest.mark.browser
def test_what_the_menu_asks_no_more_falls_out(page: str, browser: Browser) -> None:
    """A changed question has another id, so that it is new; damaged memory is none."""
    id_ = browser.value("questions[3].id")
    browser.value(f'localStorage.setItem(KEY, \'{{"ZZZZZ": [5, 9], "{id_}": [4, 9]}}\')')
    browser.open(page)
    assert browser.value(BOXES)[1:] == [0, 0, 0, 1, 0]
    assert json.loads(browser.value("localStorage.getItem(KEY)")) == {id_: [4, 9]}
    for damaged in (
        "{",
        "null",
        "7",
        f'{{"{id_}": 3}}',
        f'{{"{id_}": [9, 9]}}',
        f'{{"{id_}": [2]}}',
    ):
        browser.value(f"localStorage.setItem(KEY, {json.dumps(damaged)})")
        browser.open(page)
        assert browser.value(BOXES)[1:] == [0] * 5, damaged
        assert browser.value("at('asked').hidden") is False, damaged
        assert browser.value("at('forgets').hidden") is True


@pytest.mark.browser
def test_a_station_has_a_memory_of_its_own_and_may_begin_again(page: str, browser: Browser) -> None:
    browser.value(f"{ANSWER}(true)")
    assert browser.value(BOXES)[2] == 1
    browser.open(page.replace("index.html", "at-bar.html"))
    assert browser.value(BOXES)[2] == 0
    browser.value(f"{ANSWER}(true)")
    browser.open(page)
    assert browser.value(BOXES)[2] == 1
    browser.value("at('forget').click()")
    assert browser.value(BOXES)[1:] == [0] * 5
    assert browser.value("document.activeElement.id") == "title"
    browser.open(page)
    assert browser.value(BOXES)[1:] == [0] * 5
    browser.open(page.replace("index.html", "at-bar.html"))
    assert browser.value(BOXES)[2] == 1


@pytest.mark.browser
@pytest.mark.parametrize(
    "refused",
    [
        "get localStorage() { throw new DOMException('no') }",
        "localStorage: {getItem: () => null, setItem() { throw new DOMException('full') }}",
    ],
)
def test_without_memory_practice_goes_on_and_says_so(
    refused: str, page: str, browser: Browser
) -> None:
    number = browser.before_pages(
        f"Object.defineProperties(window, Object.getOwnPropertyDescriptors({{{refused}}}))"
    )
    try:
        browser.open(page)
        assert browser.value("at('forgets').offsetParent !== null") is True
        assert browser.value(f"{ANSWER}(true)")[1] == "Right."
        browser.value("at('next').click()")
        assert browser.value(f"{ANSWER}(false)")[1] == "Not right. It is:"
        assert browser.value(BOXES)[1:] == [1, 1, 0, 0, 0]
        browser.value("at('forget').click()")
        assert browser.value(BOXES)[1:] == [0] * 5
    finally:
        browser.no_more(number)


@pytest.mark.browser
def test_by_keys_alone(page: str, browser: Browser) -> None:
    """Tab, Enter and letters: a question with gaps, then one to put in order."""
    of_form(browser, "fill")
    values = browser.value("queue[0].fill.map(row => row[2]).filter(value => value !== null)")
    assert browser.value("document.activeElement.id") == "title"
    browser.press("Tab")
    for value in values:
        browser.types(f"{value:g}".replace(".", ","))
        browser.press("Enter", "\r")  # to the next gap, and from the last one on: Check
    assert browser.value("at('verdict').textContent") == "Right."
    assert browser.value("document.activeElement.id") == "verdict"
    order = []
    while browser.value("document.activeElement.id") != "next":
        browser.press("Tab")
        order.append(browser.value("document.activeElement.closest('#look, #next').id"))
        assert len(order) < 20
    assert order == ["look"] * (len(order) - 1) + ["next"]
    of_form(browser, "arrange")
    browser.press("Tab")
    name = browser.value("document.activeElement.closest('li').textContent")
    browser.press("Tab")
    browser.press("Enter", "\r")
    assert browser.value("document.querySelector('.order').children[1].textContent") == name
    assert browser.value("document.activeElement.textContent") == "↓"  # still on what was moved
    assert browser.value("at('verdict').textContent").endswith(
        browser.value("`place 2 of ${queue[0].arrange.texts.length}`")
    )


@pytest.mark.browser
def test_nothing_given_is_asked_about_once(page: str, browser: Browser) -> None:
    browser.value("at('check').click()")
    assert browser.value("at('verdict').textContent").startswith("Nothing is answered yet.")
    assert browser.value("at('result').hidden") is True
    browser.value("at('check').click()")
    assert browser.value("at('verdict').textContent") == "Not right. It is:"


@pytest.mark.browser
def test_a_screen_reader_is_told_what_each_thing_is(page: str, browser: Browser) -> None:
    of_form(browser, "fill")
    told = browser.told()
    labels = browser.value("queue[0].fill.filter(r => r[2] !== null).map(r => r[0] + ' ' + r[1])")
    assert [name for role, name in told if role == "textbox"] == labels
    asked = browser.value("queue[0].ask")
    assert ("group", asked) in told
    assert ("region", browser.value("queue[0].title")) in told
    assert "status" in dict(told)
    of_form(browser, "arrange")
    texts = browser.value("queue[0].arrange.texts")
    buttons = {name for role, name in browser.told() if role == "button"}
    assert {f"{way}: {text}" for text in texts for way in ("Up", "Down")} < buttons
    of_form(browser, "choose")
    roles = [(r, n) for r, n in browser.told() if r in ("radio", "checkbox")]
    assert [name for _, name in roles] == browser.value("queue[0].choose.options")
    used = ("link", "button", "textbox", "radio", "checkbox")
    assert not [role for role, name in browser.told() if not name and role in used]


@pytest.mark.browser
@pytest.mark.parametrize("dark", [False, True])
def test_size_contrast_and_width_on_a_small_phone(dark: bool, page: str, browser: Browser) -> None:
    """Targets of 44 px (WCAG 2.2, 2.5.5), text contrast of 4.5 (1.4.3), no scrolling sideways at
    360 px (1.4.10 asks for 320)."""
    browser.window(360, dark)
    browser.open(page)
    browser.value("document.querySelector('details').open = true")
    for kind in ("fill", "arrange", "choose"):
        of_form(browser, kind)
        for _ in range(2):
            small = browser.value(
                """[...document.querySelectorAll(
                  'nav a, button, .gap input, .option, summary, #look a')]
                .filter(e => e.offsetParent).map(e => [e.outerHTML, e.getBoundingClientRect()])
                .filter(([, box]) => box.height < 44 || box.width < 44).map(([text]) => text)"""
            )
            assert small == []
            wide = browser.value("document.documentElement.scrollWidth")
            assert wide == 360, kind
            contrasts = browser.contrasts()
            assert len(contrasts) > 10
            assert min(contrasts)[0] >= 4.5, min(contrasts)
            browser.value(f"{ANSWER}(false)")


@pytest.mark.browser
def test_a_drinks_name_is_text_whatever_stands_in_it(page: str, browser: Browser) -> None:
    browser.value("queue = [questions.find(q => q.title.includes('Cloud'))]; asked = 1; next(true)")
    assert NAME in browser.value("at('title').textContent")
    assert browser.value("at('asked').querySelectorAll('b, script').length") == 0


@pytest.mark.browser
def test_once_loaded_it_is_there_without_a_connection(site: Path, browser: Browser) -> None:
    with serving(site) as (address, asked, server):
        browser.open(f"{address}/index.html")
        browser.value("navigator.serviceWorker.ready.then(() => true)")
        assert "/practice/en/at-bar.html" in asked  # kept, though nobody opened it
        browser.open(f"{address}/practice/en/at-bar.html")
        (first, *_) = browser.value(f"{ANSWER}(true)")
        server.shutdown()
        server.server_close()
        time.sleep(1)  # until connections made in advance are closed
        browser.open(f"{address}/practice/en/at-bar.html")
        browser.wait("!document.getElementById('offline').hidden")
        assert browser.value(BOXES)[2] == 1
        assert browser.value(f"{ANSWER}(true)")[1] == "Right."
        assert browser.value("queue[0].id") != first
        browser.open(f"{address}/practice/en/")
        assert browser.value("document.querySelector('h1').textContent") == "Practice: All stations"
