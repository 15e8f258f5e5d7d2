"""A number goes in; the files of one hurt menu come out, always the same for the same number.

Two in five are whole small menus, the others single sections, read in a tenth of the time.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache
from random import Random
from typing import Any

import yaml
from fuzz_grammar import NUMBERS, WORDS, Data, Grammar, Path, Site, names, reader, sites
from fuzz_menus import seeds

from buildsheets.menu.schema import keys_of

SCALAR = re.compile(r'(?<=[:\[{,] )[^\s\[{#,"][^,}\]\n]*|"[^"\n]*"|(?<=[\[{])[^\[{,}\]\n:]+')
"""A word or amount after a colon, a comma or an opening bracket, up to what ends it."""
PLAIN = re.compile(r"[A-Za-z0-9½][A-Za-z0-9½ %°/.ÄÖÜäöüßé-]*(?<! )")
CHARACTERS = "\t\r\n \"'#&*!|>%@`{}[],:-?\\\0\x07\x85\ufeff\u2028\u202e\u200b½é漢🍵\ud7ff0a"
MARKS = (
    "---\n",
    "...\n",
    "<<: x\n",
    "%YAML 1.1\n",
    "&a ",
    "*a",
    "!!set ",
    "? ",
    "- ",
    "\t",
    "[" * 30,
)

Files = dict[str, str]


def hurt(number: int) -> Files:
    """The files of the menu with this number."""
    random = Random(number)
    small, weights = _seeds()
    (seed,) = random.choices(small, weights)
    how = random.random()
    if how < 0.2:
        return {"menu.yaml": _text_changed(random, seed)}
    data, places = _read(seed)
    if how < 0.8:
        return {"menu.yaml": written(_section(random, data))}
    for _ in range(random.choice((1, 1, 2, 3))):
        data, places = _changed(random, data, random.choice(places)), places
    text = written(data)
    if random.random() < 0.05:
        at = text.rfind("\n", 0, random.randrange(len(text))) + 1
        return {"a.yaml": text[:at], "b.yaml": text[at:]}
    return {"menu.yaml": text}


@cache
def _seeds() -> tuple[tuple[str, ...], list[float]]:
    """The small menus, and how often each is taken: the smaller, the more often."""
    return seeds(), [1 / len(one) ** 3 for one in seeds()]


@cache
def _read(seed: str) -> tuple[Data, list[Site]]:
    data: Data = yaml.load(seed, reader())
    return data, sites(data)


# Texts.


def _text_changed(random: Random, text: str) -> str:
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        text = random.choice(TEXT_CHANGES)(random, text)
    return text


def _scalar(random: Random, text: str) -> str:
    places = [match.span() for match in SCALAR.finditer(text)]
    if not places:
        return text
    start, end = random.choice(places)
    other = random.choice(places)
    word = random.choice(
        (
            *(random.choice(WORDS), random.choice(NUMBERS)),
            *(text[slice(*other)], re.sub(r"[0-9.]+", random.choice(NUMBERS), text[start:end])),
        )
    )
    return text[:start] + word + text[end:]


def _slip(random: Random, text: str) -> str:
    """One letter left out, doubled, put in or exchanged."""
    at = random.randrange(len(text) + 1)
    new = random.choice((random.choice(CHARACTERS), text[at : at + 1] * 2, ""))
    return text[:at] + new + text[at + random.randint(0, 1) :]


def _lines(random: Random, text: str) -> str:
    """Lines left out, doubled, moved, indented or cut."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    at = random.randrange(len(lines))
    piece = lines[at : at + random.choice((1, 1, 1, 2, 5))]
    rest = lines[:at] + lines[at + len(piece) :]
    to = random.randrange(len(rest) + 1)
    changed = [
        rest,
        lines[:at] + piece + lines[at:],
        rest[:to] + piece + rest[to:],
        [*lines[:at], *(f" {line}" for line in piece), *lines[at + len(piece) :]],
        lines[:at],
        [*lines[:at], random.choice(MARKS), *lines[at:]],
    ]
    return "".join(random.choice(changed))


def _all_lines(random: Random, text: str) -> str:
    change = random.choice(
        (("\n", "\r\n"), ("\n", "\r"), (": ", ":"), ("  ", "\t"), (" ", "\u00a0"))
    )
    return text.replace(*change, random.choice((1, 5, -1)))


TEXT_CHANGES: tuple[Callable[[Random, str], str], ...] = (
    *(_scalar, _scalar, _scalar, _scalar, _slip, _slip, _lines, _lines, _all_lines),
)


# Trees.


def _section(random: Random, data: Data) -> Data:
    """One or two sections alone with an entry each, changed."""
    assert isinstance(data, dict)
    picked = random.sample([*data], min(len(data), random.choice((1, 1, 2))))
    small: Data = {name: _one_entry(random, data[name]) for name in picked}
    for _ in range(random.choice((1, 1, 2))):
        small = _changed(random, small, random.choice(sites(small)))
    return small


def _one_entry(random: Random, section: Data) -> Data:
    if not isinstance(section, dict) or not all(isinstance(one, dict) for one in section.values()):
        return section
    name = random.choice([*section])
    return {name: section[name]}


def _changed(random: Random, data: Data, site: Site) -> Data:
    """A menu with one change within one of its records."""
    record = _at(data, site.path)
    if not isinstance(record, dict):  # another change has taken it away
        return data
    keys = keys_of(site.record)
    how = random.random()
    new: Data
    if how < 0.45:
        key = random.choice([*keys.values()])
        new = {**record, key.key: Grammar(random, names(data)).value(key)}
    elif how < 0.6 and record:
        new = {name: value for name, value in record.items() if name != random.choice([*record])}
    elif how < 0.7 and record:
        at = random.choice([*record])
        new = {**record, at: random.choice((random.choice(WORDS), random.choice(NUMBERS)))}
    elif how < 0.8 and record:
        at = random.choice([*record])
        new = {_misspelt(random, name) if name == at else name: v for name, v in record.items()}
    elif how < 0.9 and record:
        at = random.choice([*record])
        new = {**record, at: _shuffled(random, record[at])}
    else:
        new = {**Grammar(random, names(data)).record(site.record, 1)}
    return _with(data, site.path, new)


def _misspelt(random: Random, word: str) -> str:
    at = random.randrange(len(word)) if word else 0
    return word[:at] + random.choice(("", "x", word[at : at + 1] * 2, "_", " ")) + word[at + 1 :]


def _shuffled(random: Random, value: Data) -> Data:
    """A value doubled, turned round, put into a list, or taken out of one."""
    if isinstance(value, list) and value:
        return random.choice((value * 2, value[::-1], value[:-1], [value], value[0], value * 40))
    if isinstance(value, dict) and value:
        pairs = [*value.items()]
        one = random.choice(pairs)
        return random.choice(
            (dict(pairs[::-1]), dict(pairs[1:]), [value], one[1], {**value, "x": one[1]})
        )
    return random.choice(([value], {"en": value}, [value, value], ""))


def _at(data: Any, path: Path) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _with(data: Any, path: Path, value: Data) -> Data:
    """The data with a value at a path; what is not on the way is shared."""
    if not path:
        return value
    copy = data.copy()
    copy[path[0]] = _with(data[path[0]], path[1:], value)
    changed: Data = copy
    return changed


def written(data: Data) -> str:
    """The data as YAML: sections and entries on lines of their own, the rest in brackets."""
    if not isinstance(data, dict):
        return _flow(data) + "\n"
    lines = []
    for name, section in data.items():
        if not isinstance(section, dict):
            lines.append(f"{_word(name)}: {_flow(section)}\n")
            continue
        lines.append(f"{_word(name)}:\n")
        lines += [f"  {_word(one)}: {_flow(entry)}\n" for one, entry in section.items()]
    return "".join(lines)


def _flow(data: Data) -> str:
    if isinstance(data, str):
        return _word(data)
    if isinstance(data, list):
        return f"[{', '.join(map(_flow, data))}]"
    return f"{{{', '.join(f'{_word(name)}: {_flow(value)}' for name, value in data.items())}}}"


@cache
def _word(text: str) -> str:
    return text if PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)
