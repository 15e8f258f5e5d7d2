"""The folder of published editions in; what was ever published, checked for damage, out.

One YAML file an edition, written once. The first document has the edition and one line a card;
the second says in full what each card says that is new in this edition. A last line holds the
digest of all before it, and ``follows`` names the digest of the edition published before: a file
changed, taken away or put in by hand does not go unseen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import yaml

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.ledger import codes
from buildsheets.ledger.card_texts import CardTexts
from buildsheets.views.card import CardKey

T = TypeVar("T")

FORMAT = 1
BACK = "back its rights, or bring it back from your backup"
MOST_REVISIONS = 9999
"""As many as a typed revision has room for (``payload.py``)."""

_COMMENT = """\
# An edition as it was published. Files here are added and never changed: what hangs on the wall
# is told from them. The last line is the digest of all lines above it.
"""
_CARDS = "\ncards:\n"
_TEXTS = "\n---\n"
_DIGEST = "# sha256 "
_ESCAPED = {code: f"\\u{code:04x}" for code in (0x85, 0x2028, 0x2029, 0xFEFF)}
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DUMPER: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


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
class PublishedEdition:
    """One published edition.

    ``follows`` is the digest of the edition published before, "" for the first. ``feet`` are the
    foot texts (edition, validity) by language; ``texts_yaml`` has the texts of its new cards.
    """

    number: int
    code: str
    names: Mapping[str, str]
    valid_from: date
    valid_to: date
    follows: str
    feet: Mapping[str, tuple[str, str]]
    entries: tuple[Entry, ...]
    digest: str
    texts_yaml: str = field(repr=False)

    @property
    def file_name(self) -> str:
        """Sorts by the day it starts: "2026-12-01-W26.yaml"."""
        plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in self.code)
        return f"{self.valid_from:%Y-%m-%d}-{plain}.yaml"

    def by_code(self) -> dict[str, Entry]:
        return {entry.code: entry for entry in self.entries}


@dataclass(frozen=True, slots=True)
class Ledger:
    """All published editions in the order of publishing, and what is wrong with their files."""

    folder: Path
    editions: tuple[PublishedEdition, ...] = ()
    findings: tuple[Finding, ...] = ()

    def edition(self, code: str) -> PublishedEdition | None:
        """The edition of that code, however its letters are cased."""
        wanted = code.casefold()
        return next((e for e in self.editions if e.code.casefold() == wanted), None)

    def in_force(self, day: date) -> PublishedEdition | None:
        """The edition that holds on ``day``: of those begun, the one that began last."""
        begun = [e for e in self.editions if e.valid_from <= day]
        return max(begun, key=lambda e: (e.valid_from, e.number), default=None)

    def printed(self) -> dict[tuple[str, int], Entry]:
        """Every card ever published, by code and revision."""
        return {(e.code, e.revision): e for edition in self.editions for e in edition.entries}

    def texts(self, entry: Entry) -> CardTexts:
        """All that a published card says."""
        source = self.edition(entry.since)
        return _card_texts(source.texts_yaml).get(entry.code, {}) if source else {}


def next_of(ahead: Iterable[PublishedEdition]) -> PublishedEdition | None:
    """Of editions yet to begin the first; of those of one day the one published last."""
    return min(ahead, key=lambda e: (e.valid_from, -e.number), default=None)


@lru_cache(maxsize=32)
def _card_texts(texts_yaml: str) -> Mapping[str, CardTexts]:
    return yaml.load(texts_yaml, Loader=_LOADER) or {}


def edition_file(
    head: Mapping[str, Any], entries: Iterable[Entry], texts: Mapping[str, CardTexts]
) -> str:
    """The text of an edition's file: its head, a line a card, and what its new cards say, by code.

    A line a card, so that a comparison of two files by any tool shows the cards that differ.
    """
    cards = "".join(f"- {_line(entry)}\n" for entry in entries)
    body = _COMMENT + _block({"format": FORMAT, **head}).rstrip("\n") + _CARDS + cards
    body += "---\n" + (_block(dict(sorted(texts.items()))) if texts else "{}\n")
    return body + _DIGEST + _digest_of(body) + "\n"


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


def _digest_of(body: str) -> str:
    return hashlib.sha256(body.encode("utf-8", "surrogatepass")).hexdigest()


class Damaged(ValueError):
    """A ledger file that is not as it was written."""


def read_edition(text: str) -> PublishedEdition:
    """An edition from the text of its file. Raises :class:`Damaged`.

    How an operating system ends the lines does not matter.
    """
    plain = text.replace("\r\n", "\n")
    body, mark, digest = plain.rpartition(_DIGEST)
    if not mark or not plain.endswith("\n"):
        raise Damaged("its last line, the digest, is missing")
    if _digest_of(body) != digest.strip():
        raise Damaged("it was changed after it was published: the digest does not agree")
    first, _, texts_yaml = body.partition(_TEXTS)
    head_text, _, lines = first.partition(_CARDS)
    try:
        head = yaml.load(head_text, Loader=_LOADER)
        if head["format"] != FORMAT:
            raise Damaged(f"it has format {head['format']}; this version reads format {FORMAT}")
        cards = [json.loads(line[2:]) for line in lines.removesuffix("\n").split("\n") if line]
        return PublishedEdition(
            number=_of_type(int, head["number"]),
            code=str(head["edition"]),
            names={lang: _of_type(str, name) for lang, name in head["name"].items()},
            valid_from=_of_type(date, head["from"]),
            valid_to=_of_type(date, head["to"]),
            follows=_of_type(str, head["follows"]),
            feet={lang: (f["edition"], f["valid"]) for lang, f in head["feet"].items()},
            entries=tuple(map(_entry, cards)),
            digest=digest.strip(),
            texts_yaml=texts_yaml,
        )
    except Damaged:
        raise
    except (yaml.YAMLError, LookupError, TypeError, AttributeError, ValueError) as error:
        raise Damaged(f"it cannot be read: {error}") from error
    except RecursionError as error:
        raise Damaged("it cannot be read: it is nested too deep") from error


def _of_type(kind: type[T], value: object) -> T:
    if type(value) is not kind:
        raise TypeError(f"{value!r} stands where a {kind.__name__} should")
    return value


def _entry(card: dict[str, Any]) -> Entry:
    """A card's line, held to its types: its code becomes the name of a page, so it must be one."""
    entry = Entry(key=CardKey(*card.pop("card")), **card)
    key = entry.key
    texts = (entry.since, entry.digest, entry.label, key.kind, key.subject, key.cup, key.language)
    sound = all(isinstance(text, str) for text in texts) and all(
        type(number) is int and 0 <= number <= MOST_REVISIONS
        for number in (entry.revision, entry.parts)
    )
    if not sound or codes.parse(entry.code) != entry.code:
        raise Damaged(f"it cannot be read: {entry.code!r} is no card of ours")
    return entry


def load(folder: Path) -> Ledger:
    """Every edition in ``folder`` (none if it is not there), with findings for damaged files."""
    editions: list[PublishedEdition] = []
    findings: list[Finding] = []
    try:
        paths = sorted(path for path in folder.iterdir() if path.match("[!.]*.yaml"))
    except FileNotFoundError:
        paths = []
    except OSError as error:
        why = f"{folder} is no folder that can be read: {error.strerror}"
        return Ledger(folder, (), (finding("PUB02", None, why, hint=f"give the folder {BACK}"),))
    for path in paths:
        try:
            edition = read_edition(path.read_bytes().decode("utf-8"))
        except OSError as error:
            why = f"{path} cannot be read: {error.strerror}"
            findings.append(finding("PUB02", None, why, hint=f"give the file {BACK}"))
            continue
        except (Damaged, UnicodeDecodeError) as error:
            findings.append(_damaged(path, str(error)))
            continue
        if path.name != edition.file_name:
            findings.append(_damaged(path, f"it was published as {edition.file_name}"))
        editions.append(edition)
    editions.sort(key=lambda e: (e.number, e.file_name))
    if not findings:  # a damaged file breaks the chain as well: one cause, one finding
        findings = _breaks_of_chain(folder, editions)
    return Ledger(folder, tuple(editions), tuple(findings))


def _breaks_of_chain(folder: Path, editions: Sequence[PublishedEdition]) -> list[Finding]:
    before = ""
    for place, edition in enumerate(editions, 1):
        if edition.number < place:
            why = f"edition number {edition.number} is there twice"
        elif edition.number > place:
            why = f"edition number {place} is missing from the folder"
        elif edition.follows != before:
            why = "it was published after another edition than the one before it"
        else:
            before = edition.digest
            continue
        return [_damaged(folder / edition.file_name, why)]
    return []


def _damaged(path: Path, why: str) -> Finding:
    return finding(
        "PUB02",
        None,
        f"{path.name} is not the edition file as it was published: {why}",
        hint=f"bring back the published {path.parent.name}/{path.name} from your backup or version "
        "control; to change a card, change the menu and publish an edition with a new code",
    )
