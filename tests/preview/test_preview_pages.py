"""The pages of the preview: who is answered, what is shown, and that nothing is written."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from command_samples import demo_copy, run, snapshot
from menu_samples import SMALL, swapped
from PIL import Image
from preview_samples import HERE, PORT, Asked, words_of
from werkzeug.test import Client

from buildsheets.cup.scan import choices
from buildsheets.findings.catalogue import finding
from buildsheets.menu.files import load_sources
from buildsheets.preview.order import figured, read_order
from buildsheets.preview.pages import Preview
from buildsheets.preview.watch import Watch
from buildsheets.print.engine import NativeLibrariesMissing
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import Printed

CLOUD = "/en/card/build/cloud/medium"


@pytest.fixture(scope="module")
def kiosk(tmp_path_factory: pytest.TempPathFactory) -> Asked:
    """The small menu, which no test of this fixture changes."""
    return Asked.of(tmp_path_factory.mktemp("kiosk") / "menu")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Asked:
    """The demo menu."""
    folder = demo_copy(tmp_path_factory.mktemp("demo") / "menu")
    watch = Watch(folder)
    watch.take(*load_sources(folder))
    return Asked(folder / "drinks.yaml", watch, Client(Preview(watch, PORT, lambda *_: "")))


# who is answered --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host", [f"localhost:{PORT}", f"127.0.0.1:{PORT}", f"[::1]:{PORT}", f"LocalHost:{PORT}"]
)
def test_this_machine_is_answered_by_its_own_names(kiosk: Asked, host: str) -> None:
    assert kiosk.client.get("/en/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["menu.example", f"menu.example:{PORT}", "localhost", "localhost:80", f"127.0.0.2:{PORT}",
     f"localhost.menu.example:{PORT}", f"localhost:{PORT}@menu.example", f"0.0.0.0:{PORT}", ""],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/en/", "/state", "/style.css", CLOUD])
def test_another_name_that_leads_here_is_refused(kiosk: Asked, host: str, path: str) -> None:
    """A site whose name is made to lead to this machine could read the menu otherwise."""
    answer = kiosk.client.get(path, headers={"Host": host})
    assert answer.status_code == 403
    assert "for this machine alone" in answer.text
    assert "Cloud" not in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
@pytest.mark.parametrize("path", ["/", "/en/", "/en/order", "/state", CLOUD, "/nowhere"])
def test_it_only_shows(kiosk: Asked, method: str, path: str) -> None:
    answer = kiosk.client.open(path, method=method, headers=HERE, data="drink=cloud")
    assert answer.status_code == 405
    assert answer.headers["Allow"] == "GET, HEAD"


@pytest.mark.parametrize(
    "path",
    ["/../menu.yaml", "/en/../../menu.yaml", "/en/card/build/..%2f..%2fmenu.yaml/medium",
     "/en/card/../../../etc/passwd", "/en/card/build/cloud/%2e%2e%2f%2e%2e", "/menu.yaml",
     "/..%2f/", "/xx/", "/en/card/build/nothing/medium", "/en/card/site/cloud/medium",
     f"{CLOUD}/0123/1.png", f"{CLOUD}/0123/../../text", "/en/card/build/cloud/medium\0/text"],
)  # fmt: skip
def test_what_the_menu_does_not_have_is_not_there(kiosk: Asked, path: str) -> None:
    answer = kiosk.get(path)
    assert answer.status_code == 404
    assert "Corner kiosk\n" not in answer.text  # not the file


@pytest.mark.parametrize("path", ["/en/", "/nowhere", CLOUD, f"{CLOUD}/text", "/page.js"])
def test_every_answer_keeps_to_itself(kiosk: Asked, path: str) -> None:
    headers = kiosk.get(path).headers
    policy = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == "'self'"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Cache-Control"] == "no-store"
    assert "Access-Control-Allow-Origin" not in headers


HOSTILE = (
    "<script>alert(1)</script>",
    '\\"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% raw %}",
    "' onfocus='alert(1)",
    "</title></style></pre><b>",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_names_that_mean_something_elsewhere_are_text_here(tmp_path: Path, name: str) -> None:
    text = SMALL
    for plain in ("Corner kiosk", "Cloud", "Medium", "Pearls", "Bar", "Without", "Sample"):
        text = text.replace(f"name: {plain}", f'name: "{name} {plain}"')
    asked = Asked.of(tmp_path / "menu", text)
    assert asked.watch.known.sound is not None
    order = "/en/order?drink=cloud&size=medium&add=add-pearls"
    for path in ("/en/", order, CLOUD, f"{CLOUD}/text", "/en/card/station/bar/medium"):
        html = asked.get(path).text
        assert "alert(1)" in html or name not in HOSTILE[:2]
        allowed = 0 if path.endswith("/text") else 1  # the page's own, which is a file
        assert len(re.findall("<script", html)) == allowed
        assert not re.search(r"<[^>]*\son\w+=", re.sub('"[^"]*"', '""', html))
        assert "49" not in re.findall(r"<h1[^>]*>(.*?)</h1>", html)
        assert "<b> " not in html.replace("<b> <", "")
    # A finding that quotes the line, and the name in it.
    asked.save(text.replace("amount: 200 ml", "amount: 600 ml").replace('Cloud"', 'Cl\\u202eoud"'))
    html = asked.get("/en/").text
    assert len(re.findall("<script", html)) == 1
    assert "\u202e" not in html


# what is shown ----------------------------------------------------------------------------------


def test_the_guide_is_read_beside_it(kiosk: Asked) -> None:
    (first,) = re.findall(r'href="(/guide/[^"]+)"', kiosk.get("/en/").text)
    contents = kiosk.get(first)
    assert "<h1>" in contents.text
    chapters = re.findall(r'href="(\w+\.html)"', contents.text)
    assert len(chapters) > 10
    for one in chapters:
        assert kiosk.get(f"/guide/{one}").content_type == "text/html; charset=utf-8"
    assert kiosk.get("/guide/style.css").content_type == "text/css; charset=utf-8"
    for other in ("nothing.html", "..%2Fpages.py", "pages.py"):
        assert kiosk.get(f"/guide/{other}").status_code == 404


def test_a_card_is_shown_as_it_prints_page_by_page(kiosk: Asked) -> None:
    html = kiosk.get(CLOUD).text
    (picture,) = re.findall(r'<img class="print" src="([^"]*)" width="(\d+)" height="(\d+)"', html)
    answer = kiosk.get(picture[0])
    assert answer.content_type == "image/png"
    size = Image.open(io.BytesIO(answer.data)).size
    assert size == pytest.approx(tuple(map(int, picture[1:])), abs=2)
    assert size[0] == pytest.approx(size[1] / 2**0.5, rel=0.01)  # ISO 216
    assert "immutable" in answer.headers["Cache-Control"]
    assert kiosk.get(picture[0].replace("/1.png", "/2.png")).status_code == 404


def test_a_card_that_no_edition_has_is_a_draft_on_picture_and_in_text(kiosk: Asked) -> None:
    assert "Draft: not to be hung up" in kiosk.words(CLOUD)
    text = words_of(kiosk.get(f"{CLOUD}/text").text)
    assert "DRAFT" in text
    assert "Contains: milk" in text
    assert "toppings and ice can choke a child" in text  # cautions stay


def test_every_card_of_the_way_around_can_be_shown(kiosk: Asked) -> None:
    html = kiosk.get("/en/").text
    around = html[html.index('id="cards"') : html.index("<aside")]
    ways = re.findall(r'href="(/en/card/[^"]*)"', around)
    kinds = {way.split("/")[3] for way in ways}
    assert kinds == {"build", "station", "addons", "batch", "gauge", "allergens", "words"}
    assert len(ways) == len(set(ways))
    for way in ways:
        answer = kiosk.get(way)
        assert answer.status_code == 200, way
        assert 'class="print"' in answer.text, way


def test_the_last_good_card_stays_beside_an_error(tmp_path: Path) -> None:
    asked = Asked.of(tmp_path / "menu")
    picture = re.findall(r'class="print" src="([^"]*)"', asked.get(CLOUD).text)
    asked.save(swapped(SMALL, "    contains: [milk]\n", ""))
    read_at = f"{asked.watch.known.sound.at:%H:%M:%S}"  # type: ignore[union-attr]
    html = asked.get(CLOUD).text
    assert re.findall(r'class="print" src="([^"]*)"', html) == picture
    words = words_of(html)
    assert f"Older: as of {read_at}, before the error in" in words
    line = SMALL[: SMALL.index("  milk:")].count("\n") + 1
    assert f"menu.yaml:{line}. Nothing prints until it is mended." in words
    assert "1 error." in words
    assert "`milk` lacks `contains`" in words
    asked.save(SMALL)
    assert "Older" not in asked.words(CLOUD)


def test_a_finding_has_its_place_its_line_its_sum_and_its_fix(tmp_path: Path) -> None:
    text = swapped(SMALL, "amount: 200 ml", "amount: 600 ml")
    asked = Asked.of(tmp_path / "menu", text)
    html = asked.get("/en/").text
    place = text[: text.index("{do: shake")].count("\n") + 1  # where it is poured into the cup
    assert f"menu.yaml:{place}</code>" in html
    assert "<pre><code>- <mark>{do: shake, pour: strained, station: shaking}</mark>" in html
    words = words_of(html)
    (fit,) = [one for one in asked.watch.known.now.checked.findings if one.code == "FIT01"]
    assert fit.message in words
    for sum_line in fit.sums:
        assert f"{sum_line.part} {sum_line.takes_up}" in words
    for fix in fit.fixes:
        assert fix.text in words


def test_a_card_that_cannot_be_printed_says_why_beside_how_it_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = Asked.of(tmp_path / "menu")
    before = asked.get(CLOUD).text
    full = Printed((), (finding("CARD03", None, "card X does not fit <at all>"),), b"")
    monkeypatch.setattr("buildsheets.output.print_card", lambda card, options: full)
    asked.save(swapped(SMALL, "fill_to: 380 ml", "fill_to: 370 ml"))
    assert not asked.watch.known.older
    html = asked.get(CLOUD).text
    picture = r'class="print" src="([^"]*)"'
    assert re.findall(picture, html) == re.findall(picture, before) != []
    words = words_of(html)
    assert "This card cannot be printed card X does not fit &lt;at all&gt;" in words
    assert "Below is how it printed at" in words
    words = asked.words("/en/card/build/shaken/medium")  # never was printed
    assert "This card cannot be printed" in words
    assert "Below" not in words


def test_the_whole_menu_says_what_costs_and_check_say(
    demo: Asked, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    costs = run(capsys, "costs", demo.file.parent, "--format", "json").result["servings"]
    html = demo.get("/en/").text
    rows = re.findall(r"<tr[^>]*><th scope=\"row\">(.*?)</tr>", html)
    assert len(rows) == 39
    by_name = {}
    for row in rows:
        label = re.findall(r'<a href="[^"]*/build/([^"/]*)/([^"]*)"', row)[0]
        by_name[label] = re.findall(r'<td class="n">(.*?)</td>', row)
    for one in (each["now"] for each in costs):
        if one["swaps"]:
            continue
        cost, price, margin, _ = by_name[one["drink"], one["cup"]]
        assert cost == f"€{float(one['cost']):.2f}"
        assert price == f"€{float(one['price']):.2f}"
        assert margin == f"€{float(one['margin']):.2f}"


def test_an_order_is_figured_as_explain_figures_it(
    demo: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = "drink=jasmine-cloud&size=large&sweetness=50&ice=less&add=add-pearls"
    words = demo.words(f"/en/order?{asked}")
    order = ("jasmine-cloud", "large", "50", "less", "+", "add-pearls")
    menu = demo.file.parent
    (told,) = run(capsys, "explain", *order, "--menu", menu, "--format", "json").result["builds"]
    level = 5 * round(told["steps"][-1]["state"]["top_ml"] / 5)
    assert f"Stands at {level} ml" in words
    assert f"Fill limit {5 * round(told['cup']['working_ml'] / 5)} ml" in words
    assert f"fits, {5 * int(told['final']['room_ml'] / 5)} ml free" in words
    assert told["allergens_printed"] in words
    (extra,) = told["add_on_allergens"]
    assert list(extra["may_contain"]) == ["soybeans"]
    assert "With Tapioca pearls: May contain soya" in words
    assert "3 scoops Tapioca pearls" in words


def test_every_order_of_a_menu_can_be_shown(kiosk: Asked) -> None:
    sound = kiosk.watch.known.sound
    assert sound is not None
    menu, servings = sound.checked.menu, sound.checked.servings
    assert menu is not None
    words, seen = Layouts().words("en"), 0
    for serving in servings:
        for choice in choices(serving.drink, serving.cup):
            asked = {
                "drink": [serving.drink.id],
                "size": [serving.cup.id],
                "sweetness": [f"{100 * (choice.sweetness or 0):g}"],
                "ice": [choice.ice or ""],
                "add": list(choice.add_ons),
            }
            order = read_order(menu, asked)
            assert order is not None
            assert (order.choice, order.left_out) == (choice, ())
            made = figured(menu, servings, order, words, Layouts())
            assert not isinstance(made, str)
            assert made.fits == (serving.choices[choice].verdict != "too-much")
            assert made.allergens[0]
            seen += 1
    assert seen > 20


@pytest.mark.parametrize(
    "asked",
    ["drink=nothing", "size=huge&ice=hot", "sweetness=-3", "add=x&add=add-pearls&add=y",
     "swap=<b>", "drink=" + "x" * 5000, "drink=cloud&drink=shaken", "sweetness=nan"],
)  # fmt: skip
def test_an_order_nobody_offers_is_as_usual(kiosk: Asked, asked: str) -> None:
    answer = kiosk.get(f"/en/order?{asked}")
    assert answer.status_code == 200
    assert "Its figures" in words_of(answer.text)
    if "add=x" in asked:
        assert "Left out, since it does not go together: x, y" in words_of(answer.text)
    assert "<b>" not in re.findall(r'<p class="older">(.*?)</p>', answer.text)


def test_the_whole_calculation_is_that_of_the_order(kiosk: Asked) -> None:
    html = kiosk.get("/en/order?drink=shaken&sweetness=50").text
    (link,) = re.findall(r'href="(/en/order/explained[^"]*)"', html)
    assert kiosk.get(link.replace("&amp;", "&")).text == "explained shaken"


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_a_shop_reads_it_in_its_own_language(tmp_path: Path, language: str) -> None:
    text = swapped(SMALL, "languages: [en]", f"languages: [{language}]")
    asked = Asked.of(tmp_path / "menu", text)
    assert asked.get("/").headers["Location"] == f"/{language}/"
    words = Layouts().words(language)
    for path in (f"/{language}/", f"/{language}/order", f"/{language}/card/words/all/-"):
        answer = asked.get(path)
        assert answer.status_code == 200
        assert f'<html lang="{language}">' in answer.text
        for key in ("preview_menu", "preview_order", "preview_title"):
            assert words(key) in answer.text
    if language != "en":
        assert "Try an order" not in asked.get(f"/{language}/order").text


def test_what_a_page_has_shown_is_noted_by_number(kiosk: Asked) -> None:
    number = kiosk.watch.known.number
    assert kiosk.get("/state").text == str(number)
    assert kiosk.get(f"/state?seen={number}").text == str(number)
    assert kiosk.get("/state?seen=x").status_code == 200


def test_what_keeps_a_page_from_being_made_is_said(
    kiosk: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(*_: object) -> None:
        raise NativeLibrariesMissing("install them with: apt-get <this>")

    monkeypatch.setattr("buildsheets.output.print_card", missing)
    monkeypatch.setattr("buildsheets.preview.cards.digest_of", lambda view: "another")
    answer = kiosk.get(CLOUD)
    assert (answer.status_code, answer.content_type) == (500, "text/plain; charset=utf-8")
    assert "install them with: apt-get <this>" in answer.text
    assert answer.headers["Content-Security-Policy"]
    assert kiosk.get("/en/").status_code == 200


# nothing is written -----------------------------------------------------------------------------


def test_looking_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    asked = Asked.of(tmp_path / "menu")
    before = snapshot(tmp_path)
    html = asked.get(CLOUD).text
    for path in ("/", "/en/", "/en/order", f"{CLOUD}/text", *re.findall(r'src="(/[^"]*)"', html)):
        assert asked.get(path).status_code in (200, 302), path
    assert snapshot(tmp_path) == before


def test_no_line_of_it_opens_a_file_to_write() -> None:
    room = Path(__file__).parents[2] / "buildsheets" / "preview"
    code = "".join(path.read_text("utf-8") for path in room.glob("*.py"))
    assert len(code) > 10_000
    for word in ("write_", "open(", ".put(", "mkdir", "unlink", "rename"):
        assert word not in code.replace("write_pdf", ""), word
