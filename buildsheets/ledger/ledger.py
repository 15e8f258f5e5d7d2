"""The folder of published editions in; what was ever published, checked for damage, out.

One YAML file an edition, written once. The first document has the edition and one line a card;
the second says in full what each card says that is new in this edition. A last line holds the
digest of all before it, and ``follows`` names the digest of the edition published before: a file
changed, taken away or put in by hand does not go unseen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.ledger.said import Said
from buildsheets.views.cardkey import CardKey

FORMAT = 1
FOLDER = "editions"

_HEAD = """\
# An edition as it was published. Files here are added and never changed: what hangs on the wall
# is told from them. The last line is the digest of all lines above it.
"""
_CARDS = "\ncards:\n"
_SAYS = "\n---\n"
_DIGEST = "# sha256 "
_ESCAPED = {code: f"\\u{code:04x}" for code in (0x85, 0x2028, 0x2029, 0xFEFF)}


@dataclass(frozen=True, slots=True)
class Entry:
    """One card of an edition; ``since`` is the edition that brought this revision.

    ``parts`` is on how many cards it was printed ("card 1 of 2"), 0 where nobody said.
    """

    code: str
    key: CardKey
    revision: int
    since: str
    digest: str
    label: str
    parts: int = 0


@dataclass(frozen=True, slots=True)
class Published:
    """One published edition; ``feet`` are the foot texts (edition, validity) by language."""

    number: int
    code: str
    names: Mapping[str, str]
    valid_from: date
    valid_to: date
    follows: str  # digest of the edition published before, "" for the first
    menu: str
    made_with: Mapping[str, str]
    feet: Mapping[str, tuple[str, str]]
    withdrawn: tuple[str, ...]
    entries: tuple[Entry, ...]
    digest: str = ""
    says_text: str = field(default="", repr=False)

    @property
    def file_name(self) -> str:
        """Sorts by the day it starts: "2026-12-01-W26.yaml"."""
        plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in self.code)
        return f"{self.valid_from:%Y-%m-%d}-{plain}.yaml"

    def by_code(self) -> dict[str, Entry]:
        return {entry.code: entry for entry in self.entries}

    def by_key(self) -> dict[CardKey, Entry]:
        return {entry.key: entry for entry in self.entries}


@dataclass(frozen=True, slots=True)
class Ledger:
    """All published editions in the order of publishing, and what is wrong with their files."""

    folder: Path
    editions: tuple[Published, ...] = ()
    findings: tuple[Finding, ...] = ()

    def edition(self, code: str) -> Published | None:
        """The edition of that code, however its letters are cased."""
        wanted = code.casefold()
        return next((e for e in self.editions if e.code.casefold() == wanted), None)

    def in_force(self, day: date) -> Published | None:
        """The edition that holds on ``day``: of those begun, the one that began last."""
        begun = [e for e in self.editions if e.valid_from <= day]
        return max(begun, key=lambda e: (e.valid_from, e.number), default=None)

    def coming(self, day: date) -> Published | None:
        """The edition that begins next after ``day``; published twice for one day, the later."""
        ahead = [e for e in self.editions if e.valid_from > day]
        return min(ahead, key=lambda e: (e.valid_from, -e.number), default=None)

    def printed(self) -> dict[tuple[str, int], Entry]:
        """Every card ever published, by code and revision."""
        return {(e.code, e.revision): e for edition in self.editions for e in edition.entries}

    def says(self, entry: Entry) -> Said:
        """All that a published card says."""
        source = self.edition(entry.since)
        if source is None:
            return {}
        return _says(source.says_text).get(entry.code, {})


# The last few editions' texts, parsed once each.
_PARSED: dict[str, Mapping[str, Said]] = {}


def _says(text: str) -> Mapping[str, Said]:
    key = hashlib.sha256(text.encode()).hexdigest()
    if key not in _PARSED:
        _PARSED[key] = yaml.load(text, Loader=_LOADER) or {}
    return _PARSED[key]


_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DUMPER: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def write_text(edition: Published, says: Mapping[str, Said]) -> str:
    """The edition's file, ``says`` being what its new and changed cards say, by code."""
    head = {
        "format": FORMAT,
        "number": edition.number,
        "edition": edition.code,
        "name": dict(edition.names),
        "from": edition.valid_from,
        "to": edition.valid_to,
        "follows": edition.follows,
        "menu": edition.menu,
        "made_with": dict(sorted(edition.made_with.items())),
        "feet": {
            language: {"edition": foot[0], "valid": foot[1]}
            for language, foot in sorted(edition.feet.items())
        },
        "withdrawn": list(edition.withdrawn),
    }
    # A line a card, so that a comparison of two files by any tool shows the cards that differ.
    cards = "".join(f"- {_line(entry)}\n" for entry in edition.entries)
    body = _HEAD + _block(head).rstrip("\n") + _CARDS + cards
    body += "---\n" + (_block(dict(sorted(says.items()))) if says else "{}\n")
    return body + _DIGEST + text_digest(body) + "\n"


def _line(entry: Entry) -> str:
    key = entry.key
    columns = {
        "code": entry.code,
        "revision": entry.revision,
        "since": entry.since,
        "card": [key.kind, key.subject, key.cup, key.language],
        "digest": entry.digest,
        "label": entry.label,
        **({"parts": entry.parts} if entry.parts else {}),
    }
    # JSON is YAML, and quicker to read; YAML alone ends a line at these four.
    return json.dumps(columns, ensure_ascii=False).translate(_ESCAPED)


def _block(value: object) -> str:
    return str(yaml.dump(value, Dumper=_DUMPER, allow_unicode=True, sort_keys=False, width=100))


def text_digest(body: str) -> str:
    """Digest of a ledger file's lines; how an operating system ends them is no matter."""
    return hashlib.sha256(body.replace("\r\n", "\n").encode("utf-8", "surrogatepass")).hexdigest()


class Damaged(ValueError):
    """A ledger file that is not as it was written."""


def read_text(text: str) -> Published:
    """A ledger file's text as an edition. Raises :class:`Damaged`."""
    plain = text.replace("\r\n", "\n")
    body, mark, digest = plain.rpartition(_DIGEST)
    if not mark or not plain.endswith("\n"):
        raise Damaged("its last line, the digest, is missing")
    if text_digest(body) != digest.strip():
        raise Damaged("it was changed after it was published: the digest does not agree")
    first, _, says = body.partition(_SAYS)
    head_text, _, lines = first.partition(_CARDS)
    try:
        head = yaml.load(head_text, Loader=_LOADER)
        if head["format"] != FORMAT:
            raise Damaged(f"it has format {head['format']}; this version reads format {FORMAT}")
        return Published(
            number=int(head["number"]),
            code=str(head["edition"]),
            names=head["name"],
            valid_from=head["from"],
            valid_to=head["to"],
            follows=head["follows"],
            menu=head["menu"],
            made_with=head["made_with"],
            feet={lang: (f["edition"], f["valid"]) for lang, f in head["feet"].items()},
            withdrawn=tuple(head["withdrawn"]),
            entries=tuple(
                _entry(line[2:]) for line in lines.removesuffix("\n").split("\n") if line
            ),
            digest=digest.strip(),
            says_text=says,
        )
    except (yaml.YAMLError, LookupError, TypeError, AttributeError, json.JSONDecodeError) as error:
        raise Damaged(f"it cannot be read: {error}") from error


def _entry(line: str) -> Entry:
    columns = json.loads(line)
    return Entry(
        code=columns["code"],
        key=CardKey(*columns["card"]),
        revision=columns["revision"],
        since=columns["since"],
        digest=columns["digest"],
        label=columns["label"],
        parts=columns.get("parts", 0),
    )


def load(folder: Path) -> Ledger:
    """Every edition in ``folder`` (none if it is not there), with findings for damaged files."""
    editions: list[Published] = []
    findings: list[Finding] = []
    for path in sorted(folder.glob("[!.]*.yaml")) if folder.is_dir() else ():
        try:
            edition = read_text(path.read_bytes().decode("utf-8"))
        except (Damaged, OSError, UnicodeDecodeError) as error:
            findings.append(_damaged(path, str(error)))
            continue
        if path.name != edition.file_name:
            findings.append(_damaged(path, f"it was published as {edition.file_name}"))
        editions.append(edition)
    editions.sort(key=lambda e: (e.number, e.file_name))
    if not findings:  # a damaged file breaks the chain as well: one cause, one finding
        findings = _chain(folder, editions)
    return Ledger(folder, tuple(editions), tuple(findings))


def _chain(folder: Path, editions: Sequence[Published]) -> list[Finding]:
    before = ""
    for place, edition in enumerate(editions, 1):
        path = folder / edition.file_name
        if edition.number != place:
            twice = edition.number < place
            why = (
                f"edition number {edition.number} is there twice"
                if twice
                else f"edition number {place} is missing from the folder"
            )
            return [_damaged(path, why)]
        if edition.follows != before:
            return [_damaged(path, "it was published after another edition than the one before it")]
        before = edition.digest
    return []


def _damaged(path: Path, why: str) -> Finding:
    return finding(
        "PUB02",
        None,
        f"{path.name} is not the edition file as it was published: {why}",
        hint=f"bring back the published {path.parent.name}/{path.name} from your backup or version "
        "control; to change a card, change the menu and publish an edition with a new code",
    )
