"""Reading: exact places, every fault in one run, and both of PyYAML's parsers alike."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from buildsheets.findings.catalogue import catalogue
from buildsheets.findings.finding import Finding, Source
from buildsheets.menu import files, read
from buildsheets.menu.files import load_sources
from buildsheets.menu.nodes import Mapping, Node, Scalar, Sequence, text_at

LOADERS = [yaml.SafeLoader, yaml.CSafeLoader] if yaml.__with_libyaml__ else [yaml.SafeLoader]


@pytest.fixture(params=LOADERS, ids=lambda loader: loader.__name__)
def _loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read, "LOADER", request.param)


def read_texts(*texts: str) -> tuple[Mapping | None, list[Finding]]:
    names = [f"{chr(ord('a') + number)}.yaml" for number in range(len(texts))]
    return read.read({name: Source(name, t) for name, t in zip(names, texts, strict=True)})


def codes(findings: list[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def places(findings: list[Finding]) -> list[str]:
    return [f"{finding.code} {finding.span}" for finding in findings]


def nodes(node: Node) -> Iterator[Node]:
    yield node
    if isinstance(node, Sequence):
        for item in node.items:
            yield from nodes(item)
    elif isinstance(node, Mapping):
        for pair in node.pairs:
            yield pair.key
            yield from nodes(pair.value)


def cut(text: str, node: Node) -> str:
    """The text a span covers, found by counting lines and characters in the test itself."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    span = node.span
    covered = lines[span.line - 1 : span.end_line]
    covered[-1] = covered[-1][: span.end_column - 1]
    covered[0] = covered[0][span.column - 1 :]
    return "\n".join(covered)


@pytest.mark.usefixtures("_loader")
class TestPlaces:
    @pytest.mark.parametrize("line_break", ["\n", "\r\n", "\r"])
    @pytest.mark.parametrize("mark", ["", "\ufeff"])
    def test_spans_cover_what_was_written(self, line_break: str, mark: str) -> None:
        lines = [
            "# comment",
            "shop:",
            "  name: 'Tea 茶 🧋'   # more",
            "  list: [one, {two: 3}]",
            "  steps:",
            "    - 30 ml",
            "    - add: tea",
            "      amount: 1 1/2 tsp",
            "",
            "  note: |",
            "    first",
            "    second",
            "",
            "  last: x",
            "",
        ]
        data = (mark + line_break.join(lines)).encode()
        text = files.decode_text("a.yaml", data, [])
        assert text is not None
        root, findings = read_texts(text)
        assert findings == []
        assert isinstance(root, Mapping)
        found = [cut(text, node) for node in nodes(root)]
        assert found[3:] == [
            "name",
            "'Tea 茶 🧋'",
            "list",
            "[one, {two: 3}]",
            "one",
            "{two: 3}",
            "two",
            "3",
            "steps",
            "- 30 ml\n    - add: tea\n      amount: 1 1/2 tsp",
            "30 ml",
            "add: tea\n      amount: 1 1/2 tsp",
            "add",
            "tea",
            "amount",
            "1 1/2 tsp",
            "note",
            "|\n    first\n    second",
            "last",
            "x",
        ]

    def test_texts_stay_as_written(self) -> None:
        # yaml.safe_load makes 750, False, 8, 1.1 and None of the first five
        written = ["12:30", "no", "010", "1.10", "2026-12-01"]
        root, findings = read_texts("a: [" + ", ".join(written) + "]\n")
        assert findings == []
        assert root is not None
        items = root.get("a")
        assert isinstance(items, Sequence)
        assert [item.text for item in items.items if isinstance(item, Scalar)] == written

    def test_absent_values(self) -> None:
        root, _ = read_texts("a:\nb: null\nc: ~\nd: ''\ne: 'null'\n")
        assert root is not None
        values = [pair.value for pair in root.pairs]
        assert [v.absent for v in values if isinstance(v, Scalar)] == [True] * 3 + [False] * 2

    # One menu for each fault, and where it must be reported (line:column, counted by hand).
    FAULTY = [  # noqa: RUF012
        ("a: 1\na: 2\n", ["TXT11 a.yaml:2:1"]),
        ("a:\n  - x: {b: 1, b: 2}\n", ["TXT11 a.yaml:2:15"]),
        ("a: &one 1\nb: *one\n", ["TXT12 a.yaml:1:4", "TXT12 a.yaml:2:4"]),
        (
            "a: !!int 3\nb: !mine &x [1]\n",
            ["TXT13 a.yaml:1:4", "TXT13 a.yaml:2:4", "TXT12 a.yaml:2:10"],
        ),
        ("a:\n  <<: {b: 1}\n", ["TXT14 a.yaml:2:3"]),
        ("a: 1\n---\na: 2\n", ["TXT15 a.yaml:2:1"]),
        ("a:\n  ? [x]\n  : 1\n", ["TXT16 a.yaml:2:5"]),
        ("~: 1\n", ["TXT16 a.yaml:1:1"]),
        ("a:\n\tb: 1\n", ["TXT09 a.yaml:2:1"]),
        ("- a\n- b\n", ["TXT10 a.yaml:1:1"]),
        ("just words\n", ["TXT10 a.yaml:1:1"]),
        ("a: x\0y\n", ["TXT06 a.yaml:1:5"]),
        ("a: x\u2028y\n", ["TXT06 a.yaml:1:5"]),
        ('a: "\\0"\n', ["TXT06 a.yaml:1:4"]),
        ("# nothing\n", ["TXT18 a.yaml:1:1"]),
        ("", ["TXT18 a.yaml:1:1"]),
        ("a: " + "[" * 30 + "]" * 30 + "\n", ["TXT17 a.yaml:1:23"]),
        ("a: b: c\n", ["TXT08 a.yaml:1:5"]),
        ("a: 'x\nb: 1\n", ["TXT08 a.yaml:1:4"]),
        ("a: 1\nfoo\nb: 2\n", ["TXT08 a.yaml:2:1"]),
        ("a: [1, 2\nb: 3\n", ["TXT08 a.yaml:2:2"]),
        ("a: {b: 1\nc: 2\n", ["TXT08 a.yaml:2:2"]),
        ("a: [1,\n", ["TXT08 a.yaml:1:7"]),
        ("a: - b\n", ["TXT08 a.yaml:1:4"]),
        ("a: @x\n", ["TXT08 a.yaml:1:4"]),
        ("a: *\n", ["TXT08 a.yaml:1:5"]),
        ("a:\n  b: 1\n c: 2\n", ["TXT08 a.yaml:3:2"]),
        ("%YAML 9.9\n---\na: 1\n", ["TXT08 a.yaml:1:1"]),
    ]

    @pytest.mark.parametrize(("text", "expected"), FAULTY)
    def test_each_fault_at_its_place(self, text: str, expected: list[str]) -> None:
        _, findings = read_texts(text)
        assert places(findings) == expected
        for finding in findings:
            assert "this is not YAML" not in finding.message  # it has words of its own
            assert finding.name == catalogue()[finding.code].name

    def test_duplicate_key_shows_the_first(self) -> None:
        root, findings = read_texts("a: 1\nb: 2\na: 3\n")
        assert [str(label.span) for label in findings[0].labels] == ["a.yaml:1:1"]
        assert text_at(root, "a") == "1"


@pytest.mark.parametrize(
    ("text", "fixes"),
    [
        ("{small: 4,50}", ["4.50"]),
        ("{small: 4,50, large: 5,50}", ["4.50", "5.50"]),
        ("{small: 4,5 ml, large: 5 ml}", ["4.5 ml"]),
        ("{small: 1,500 g}", ["1.500 g", "1500 g"]),
        ("{small: -1,5}", ["-1.5"]),
    ],
)
def test_a_number_cut_in_two_by_its_comma_is_one_finding(text: str, fixes: list[str]) -> None:
    for whole in (f"a: {text}", f"a:\n  - {text}"):
        root, findings = read.read({"a": Source("a", whole)})
        assert root is not None
        assert {one.code for one in findings} == {"VAL03"}
        assert [fix.replacement for one in findings for fix in one.fixes] == fixes
        first = findings[0].span
        assert first is not None
        assert whole.splitlines()[first.line - 1][first.column - 1 :].startswith(text[8:11])


@pytest.mark.parametrize(
    "text",
    ["{small: 4, 50}", "{small: '4',50}", "{small: 4,'50'}", "{small: a,50}", "{small: 4,b}",
     "{small: 4,50: 3}", "[4,50]"],
)  # fmt: skip
def test_another_comma_is_none_of_a_number(text: str) -> None:
    _, findings = read.read({"a": Source("a", f"a: {text}")})
    assert findings == []


def test_sections_of_several_files_are_joined() -> None:
    root, findings = read_texts("cups:\n  s: 1\nshop: x\n", "cups:\n  m: 2\ndrinks:\n  t: 3\n")
    assert findings == []
    assert (text_at(root, "cups", "s"), text_at(root, "cups", "m")) == ("1", "2")
    assert (text_at(root, "shop"), text_at(root, "drinks", "t")) == ("x", "3")
    assert root is not None
    assert not root.broken


def test_duplicates_across_files_label_both() -> None:
    _, findings = read_texts("cups:\n  s: 1\nshop: x\n", "shop: y\ncups:\n  s: 2\n")
    assert sorted(places(findings)) == ["TXT11 b.yaml:1:1", "TXT11 b.yaml:3:3"]
    labelled = sorted(str(label.span) for finding in findings for label in finding.labels)
    assert labelled == ["a.yaml:2:3", "a.yaml:3:1"]


def test_a_broken_file_hides_nothing_in_the_others() -> None:
    root, findings = read_texts("a: [\n", "b: 1\nb: 2\n", "# empty\n")
    assert codes(findings) == ["TXT08", "TXT11", "TXT07"]
    assert root is not None
    assert root.broken  # what it lacks may stand in the file that could not be read


def test_all_faults_of_a_file_in_one_run() -> None:
    _, findings = read_texts("a: &x 1\na: 2\nb: !t 3\nc: x\x07\nd: *x\n<<: {e: 1}\n")
    assert sorted(codes(findings)) == ["TXT06", "TXT11", "TXT12", "TXT12", "TXT13", "TXT14"]


class TestFiles:
    def test_folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        menu = tmp_path / "menu"
        (menu / "inner").mkdir(parents=True)
        for name in ("b.yml", "a.yaml", ".hidden.yaml", "notes.txt", "inner/c.yaml", "C.YAML"):
            (menu / name).write_text("x: 1\n")
        monkeypatch.chdir(tmp_path)
        sources, findings = load_sources(menu)
        assert list(sources) == ["menu/C.YAML", "menu/a.yaml", "menu/b.yml"]
        assert findings == []
        assert list(load_sources("menu/a.yaml")[0]) == ["menu/a.yaml"]

    def test_missing_path_suggests(self, tmp_path: Path) -> None:
        (tmp_path / "menu").mkdir()
        sources, findings = load_sources(tmp_path / "menus")
        assert (sources, codes(findings)) == ({}, ["TXT01"])
        assert str(tmp_path / "menu") in findings[0].hint

    def test_empty_folder(self, tmp_path: Path) -> None:
        (tmp_path / "menu.txt").write_text("x")
        _, findings = load_sources(tmp_path)
        assert codes(findings) == ["TXT03"]
        assert "menu.txt" in findings[0].hint

    def test_unreadable(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        (tmp_path / "a.yaml").write_text("a: 1\n")
        (tmp_path / "b.yaml").write_text("b: 1\n")
        real_open = Path.open

        def refuse(self: Path, *args: object, **kwargs: object) -> object:
            if self.name == "a.yaml":
                raise PermissionError(13, "Permission denied")
            return real_open(self, *args, **kwargs)  # type: ignore[call-overload]

        monkeypatch.setattr(Path, "open", refuse)
        sources, findings = load_sources(tmp_path)
        assert (len(sources), codes(findings)) == (1, ["TXT02"])
        assert "Permission denied" in findings[0].message

    def test_dangling_link_and_strange_names(self, tmp_path: Path) -> None:
        (tmp_path / "a.yaml").symlink_to(tmp_path / "nowhere")
        assert codes(load_sources(tmp_path)[1]) == ["TXT02"]
        assert codes(load_sources("no\0name")[1]) in (["TXT02"], ["TXT01"])

    def test_limits(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(files, "MAX_FILE_BYTES", 10)
        monkeypatch.setattr(files, "MAX_FILES", 2)
        (tmp_path / "a.yaml").write_bytes(b"a: 1234567")
        (tmp_path / "b.yaml").write_bytes(b"a: 12345678")
        (tmp_path / "c.yaml").write_bytes(b"a: 1")
        sources, findings = load_sources(tmp_path)
        assert codes(findings) == ["TXT04", "TXT04"]
        assert [source.text for source in sources.values()] == ["a: 1234567"]

    def test_many_large_files_are_not_read_to_the_end(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(files, "MAX_MENU_BYTES", 10)
        for name in "abc":
            (tmp_path / f"{name}.yaml").write_bytes(b"a: 1\n")
        sources, findings = load_sources(tmp_path)
        assert codes(findings) == ["TXT04"]
        assert "c.yaml" in findings[0].message
        assert [Path(name).name for name in sources] == ["a.yaml", "b.yaml"]

    def test_bad_utf8_is_quoted_with_its_place(self) -> None:
        findings: list[Finding] = []
        text = files.decode_text("a.yaml", b"a: 1\r\nb: caf\xe9 \xc3(\n", findings)
        assert text == "a: 1\r\nb: caf\ufffd \ufffd(\n"
        assert places(findings) == ["TXT05 a.yaml:2:7", "TXT05 a.yaml:2:9"]
        assert "0xe9" in findings[0].message
        assert "é" in findings[0].hint  # ISO 8859-1 and Windows-1252: 0xE9 is é

    def test_many_bad_bytes_are_summed_up(self) -> None:
        findings: list[Finding] = []
        files.decode_text("a.yaml", b"\xff" * 3 + b"\xfe" * 100_000, findings)
        assert len(findings) == files.MAX_BAD_BYTES_REPORTED + 1
        assert "more" in findings[-1].message

    @pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
    def test_utf16(self, encoding: str) -> None:
        findings: list[Finding] = []
        assert files.decode_text("a.yaml", "a: 1\n".encode(encoding), findings) is None
        assert codes(findings) == ["TXT05"]

    def test_byte_order_mark_does_not_move_columns(self) -> None:
        assert files.decode_text("a.yaml", b"\xef\xbb\xbfa: 1\n", []) == "a: 1\n"


YAMLISH = st.text(
    alphabet="ab:-?[]{}#&*!|>'\"%@`,<~ \n\r\t\\0\u2028\ufeff茶🧋\x00\ud800", max_size=60
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(), YAMLISH))
@example('a: "\\UFFFFFFFF"\n')
@example('a: "\\ud800"\n')
@example("%YAML 1." + "9" * 5000 + "\n---\na: 1\n")
@example("[" * 3000)
@example("- " * 3000)
@example("a: *x\n<<: *x\n")
def test_any_text_gives_findings_never_an_error(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    read_by_loader = []
    for loader in LOADERS:
        monkeypatch.setattr(read, "LOADER", loader)
        root, findings = read_texts(text)
        assert root is not None or findings
        for finding in findings:
            assert finding.span is not None
            lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
            assert 1 <= finding.span.line <= len(lines)
            assert 1 <= finding.span.column <= len(lines[finding.span.line - 1]) + 1
        read_by_loader.append((root, findings))
    if any(not findings for _, findings in read_by_loader):
        # what one parser reads without a fault, the other reads alike, to the column
        assert read_by_loader[0] == read_by_loader[-1]


@given(st.binary())
@example(b"\xef\xbb\xbf")
@example(b"\xff\xfe")
@example(b"a: \xed\xa0\x80\n")
def test_any_bytes_give_findings_never_an_error(data: bytes) -> None:
    findings: list[Finding] = []
    text = files.decode_text("a.yaml", data, findings)
    if text is None:
        assert findings
        return
    root, more = read_texts(text)
    assert root is not None or findings + more


@pytest.mark.parametrize("mark", ["\u202e", "\u202a", "\u2066", "\u2069"])
def test_marks_that_turn_the_text_round_are_refused(mark: str) -> None:
    """UAX #9: an override makes a reader see other words than the file holds."""
    assert codes(read_texts(f"shop:\n  name: Tea{mark}aeT\n")[1]) == ["TXT06"]
    escaped = f'shop:\n  name: "Tea\\u{ord(mark):04x}aeT"\n'
    assert codes(read_texts(escaped)[1]) == ["TXT06"]
