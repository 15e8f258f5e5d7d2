"""The guide: what it tells to do can be done, in its order, and it is whole in every form."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pytest
from command_samples import ROOT, own_process, run
from guide_pictures import CARDS, first_page
from guide_samples import commands, put_in, shown, told, write
from PIL import Image, ImageChops, ImageDraw, ImageFilter

from buildsheets.cli.arguments import parser
from buildsheets.guide.chapters import CODE, FOLDER, NAMES, Chapter, chapters, plain
from buildsheets.guide.pages import guide_pages, guide_pdf, place
from buildsheets.pipeline import check
from buildsheets.rulebook import rulebook

BRANDS = re.compile(
    r"\b(windows|mac ?os|linux|android|iphone|adobe|acrobat|chrome|firefox|safari|excel|google)\b",
    re.IGNORECASE,
)
"""Names that an owner may not have; the guide says "a viewer", "a spreadsheet"."""


UNTIL_STOPPED = ("--watch", "preview")
"""Words of commands that run until somebody stops them: their own tests run them."""


def by_name() -> dict[str, Chapter]:
    return {one.name: one for one in chapters()}


# the texts ---------------------------------------------------------------------------------------


def test_every_text_and_picture_is_a_chapters() -> None:
    assert {path.stem for path in (FOLDER / "text").iterdir()} == set(NAMES)
    used = set(re.findall(r"\(\.\./pictures/([\w-]+\.png)\)", "".join(c.text for c in chapters())))
    assert {path.name for path in (FOLDER / "pictures").iterdir()} == used
    for one in chapters():
        assert one.text.startswith(f"# {one.title}\n")
    without = {one.name for one in chapters() if "](../pictures/" not in one.text}
    assert without == {"commands", "findings"}


def test_every_link_leads_somewhere() -> None:
    texts = by_name()
    links = [link for one in chapters() for link in re.findall(r"\]\((?!\.\./)([^)]+)\)", one.text)]
    assert len(links) >= 8
    for link in links:
        name, _, at = link.partition("#")
        chapter = texts[name.removesuffix(".md")]
        places = {place(line.lstrip("# ")) for line in chapter.text.splitlines() if line[:1] == "#"}
        places |= set(rulebook()) if chapter.name == "findings" else set()
        assert not at or at in places, link


def test_no_product_is_named() -> None:
    for one in chapters():
        assert BRANDS.findall(one.text) == [], one.name


def test_every_code_named_is_a_findings() -> None:
    named = {code for one in chapters() for code in re.findall(r"\b[A-Z]{3,5}\d\d\b", one.text)}
    assert len(named) > 4
    assert named <= set(rulebook())


# what it tells to do -----------------------------------------------------------------------------


def test_every_command_there_is_is_shown() -> None:
    assert {words[0] for words in shown()} == set(parser().commands)


@pytest.mark.parametrize("words", shown(), ids=" ".join)
def test_every_command_shown_can_be_parsed(words: list[str]) -> None:
    assert parser().parse_args(words).run


def test_what_a_block_says_is_found() -> None:
    assert commands("buildsheets new  # begin\na && buildsheets check x") == [
        ["new"],
        ["check", "x"],
    ]
    text = "# x\nshop:\n  name: A\n\n# tools\ntools:\n  name: B\n"
    section = "shop:\n  name: C\n  site: D\n"
    assert (
        put_in(text, section) == "# x\nshop:\n  site: D\n  name: C\n\n# tools\ntools:\n  name: B\n"
    )


@pytest.mark.slow
def test_who_does_as_told_comes_to_printed_cards_and_a_next_season(tmp_path: Path) -> None:
    """In one empty folder, every file written and every command run in the guide's order."""
    env = {"XDG_CACHE_HOME": str(tmp_path / "cache"), "PYTHONPATH": str(ROOT)}
    failed, count = {}, 0
    for chapter in chapters():
        for language, text in told(chapter):
            if language in ("yaml", "css", "csv"):
                write(tmp_path, language, text)
            for words in commands(text) if language in ("sh", "inline") else ():
                if words == ["COMMAND", "--help"] or set(UNTIL_STOPPED) & set(words):
                    continue
                # A day of the season, whatever day the test runs on.
                day = ["--day", "2026-12-20"] if words[0] == "current" else []
                ran = own_process(*words, *day, cwd=tmp_path, env=env)
                count += 1
                if ran.code or "Traceback" in ran.err:
                    failed[f"{chapter.name}: {' '.join(words)}"] = ran
        if chapter.name == "printing":
            for name, file in CARDS.items():
                assert alike(first_page(tmp_path / "out" / "W26" / "en" / file), name), (
                    f"{name} is of an older card: python tests/guide_pictures.py makes it anew"
                )
        if chapter.name == "menu":
            found = check(tmp_path / "menu").findings
            assert {one.code for one in found} <= {"NUT01"}, found
    assert failed == {}
    assert count > 60
    for made in ("out/W26", "out/S27", "out/changes.pdf", "out/site/index.html", "guide.pdf"):
        assert (tmp_path / made).exists(), made


def alike(card: Image.Image, name: str) -> bool:
    """Whether a printed card is that of a picture; loosely, since rasterisers differ."""
    held = Image.open(FOLDER / "pictures" / f"{name}.png").convert("L")
    blurred = [one.convert("L").filter(ImageFilter.GaussianBlur(1.5)) for one in (card, held)]
    apart = ImageChops.difference(*blurred).histogram()
    # Another digit leaves more; fewer colours leave no pixel that far apart.
    return card.size == held.size and sum(apart[40:]) < 5


def test_a_picture_of_another_card_is_noticed() -> None:
    picture = Image.open(FOLDER / "pictures" / "build.png")
    assert alike(picture, "build")
    assert not alike(picture, "looks")
    assert not alike(picture, "gauge")
    width, height = picture.size
    draw = ImageDraw.Draw(changed := picture.convert("L"))
    draw.rectangle((width // 2, height // 2, width // 2 + 8, height // 2 + 12), fill=0)
    assert not alike(changed, "build")


def test_the_finding_shown_is_the_one_that_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The new menu's tea, poured too high: in the guide and in the README."""
    monkeypatch.chdir(tmp_path)
    assert run(capsys, "new").code == 0
    drinks = tmp_path / "menu" / "drinks.yaml"
    drinks.write_text(drinks.read_text("utf-8").replace("420 ml", "490 ml"), "utf-8")
    ran = run(capsys, "check")
    assert ran.code == 1
    for text in (by_name()["findings"].text, (ROOT / "README.md").read_text("utf-8")):
        (sample,) = re.findall(r"(?ms)^```text\n(error FIT01.*?)^```$", text)
        assert ran.out == sample


# its forms ---------------------------------------------------------------------------------------


class Tags(HTMLParser):
    """The ids, links, pictures and headings of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def all(self, name: str) -> Iterator[str]:
        return (value for _, held in self.found if (value := held.get(name)))


def test_pages_link_to_each_other_and_to_nothing_else() -> None:
    pages = {name: Tags(page) for name, page in guide_pages().items()}
    style = pages.pop("style.css")
    assert style.found == []
    assert set(pages) == {"index.html", *(f"{name}.html" for name in NAMES)}
    for name, page in pages.items():
        ids = list(page.all("id"))
        assert len(ids) == len(set(ids)), name
        assert [tag for tag, _ in page.found].count("h1") == 1
        assert "script" not in [tag for tag, _ in page.found]
        assert "style" not in [tag for tag, _ in page.found]
        for link in page.all("href"):
            if link == "style.css":
                continue
            file, _, at = link.partition("#")
            assert not at or at in list(pages[file].all("id")), link
        for tag, held in page.found:
            if tag == "img":
                assert str(held["src"]).startswith("data:image/png;base64,")
                assert held["alt"]


def test_each_code_has_one_place_with_its_page() -> None:
    page = guide_pages()["findings.html"]
    ids = [one for one in Tags(page).all("id") if CODE.fullmatch(one)]
    assert sorted(ids) == sorted(rulebook())
    assert "At the counter" in page.split('id="FIT01"')[1].split("<h2")[0]
    assert "::</p>" not in page


def test_what_is_typed_is_text_in_a_page() -> None:
    assert "<name>" not in guide_pages()["findings.html"]


@pytest.mark.slow
def test_the_pdf_is_tagged_with_contents_and_links() -> None:
    document = pypdf.PdfReader(io.BytesIO(guide_pdf()))
    assert document.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert document.metadata is not None
    assert document.metadata.title == "The guide to buildsheets"
    contents = document.pages[0].extract_text()
    links = {str(one.get_object()["/Dest"]) for one in document.pages[0]["/Annots"]}
    assert links == set(NAMES)
    titles = {str(mark.title): mark for mark in document.outline if not isinstance(mark, list)}
    for one in chapters():
        assert one.title in contents
        number = document.get_destination_page_number(titles[one.title])
        assert one.title in document.pages[number].extract_text()
        assert re.search(rf"{re.escape(one.title)}\W+{number + 1}\b", contents)


def test_a_terminal_gets_words_alone() -> None:
    for one in chapters():
        said = plain(one)
        assert "](" not in said
        assert "```" not in said
        assert "\n|" not in said
        assert max(map(len, said.splitlines())) <= 190  # a finding's first line
    assert "(Picture: A gauge card" in plain(by_name()["cups"])
    assert "Measuring your cups and scoops (`guide cups`)" in plain(by_name()["start"])
    assert "    buildsheets new\n" in plain(by_name()["start"])


RUNS = [
    ("guide", 0, "out", "printing  Printing, cutting, laminating"),
    ("guide printing", 0, "out", "# Printing, cutting, laminating"),
    ("guide Printing", 0, "out", "# Printing, cutting, laminating"),
    ("guide printng", 2, "err", "there is no chapter 'printng'; did you mean printing"),
    ("guide zzz", 2, "err", "there is start, cups"),
    ("guide fit03", 2, "err", "buildsheets rule FIT03"),
    ("guide cups --pdf x.pdf", 2, "err", "does nothing with"),
    ("guide --pdf x.pdf --html x", 2, "err", "not allowed with"),
    ("guide --html pages", 0, "err", "17 files in pages"),
]


@pytest.mark.parametrize(("words", "code", "where", "said"), RUNS, ids=[one[0] for one in RUNS])
def test_the_command(
    words: str, code: int, where: str, said: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    ran = run(capsys, *words.split())
    assert ran.code == code
    assert said in (ran.out if where == "out" else ran.err)


def test_alone_open_shows_pages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    seen: list[str] = []
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("webbrowser.open", lambda address: seen.append(address) or True)
    assert run(capsys, "guide", "--open").code == 0
    assert seen == [(tmp_path / "out" / "guide" / "index.html").as_uri()]


def test_the_wheel_has_the_guide() -> None:
    import tomllib

    tool = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    assert "buildsheets.guide" in tool["packages"]
    held = {
        path
        for pattern in tool["package-data"]["buildsheets"]
        for path in (ROOT / "buildsheets").glob(pattern)
    }
    needed = [path for path in FOLDER.rglob("*") if path.suffix in (".md", ".png", ".css")]
    assert len(needed) > 25
    assert set(needed) <= held
