"""Files of cards in; their PDFs out, only what is not in the cache rendered, in parallel.

A card's print depends on its view, the layouts, the fonts and the versions of the engine alone:
that is its key. Cards not found under their keys are rendered in documents of a fixed number of
cards, then taken apart, so that the bytes depend neither on the number of workers nor on what was
in the cache. A run that finds everything imports neither the engine nor the PDF library.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from typing import TypeVar

from buildsheets.findings.finding import Severity
from buildsheets.print.cache import Cache
from buildsheets.print.join import describe, join
from buildsheets.print.layouts import shipped_root
from buildsheets.print.leaf import Leaf, print_leaves
from buildsheets.print.render import RenderedPdf, RenderOptions
from buildsheets.print.versions import engine_versions, tool_version
from buildsheets.views.cards import Card, View
from buildsheets.views.digest import digest_of, print_digest

T = TypeVar("T")
RenderChunk = Callable[[Sequence[View]], list[Leaf]]

# Cards a document: more take a worker's memory (2 MB a card), fewer its time (the style sheet is
# read anew for each). Two documents are the least that pay for a second worker.
CHUNK = 15


@dataclass(frozen=True, slots=True)
class Press:
    """How to print: options, where finished cards are kept, how many workers.

    ``executor`` may be any ``concurrent.futures`` executor, one that spans machines too; its
    workers need this package and the same layouts. Without one, a pool of processes is used.
    """

    options: RenderOptions = RenderOptions()  # noqa: RUF009 - frozen
    cache: Cache | None = None
    workers: int | None = None  # None: as many as there are processors
    executor: Executor | None = None
    progress: Callable[[int, int], None] | None = None  # cards rendered, cards to render


@dataclass(frozen=True, slots=True)
class Printed:
    """The files by name, and how many cards had to be rendered for them."""

    files: Mapping[str, RenderedPdf]
    rendered: int


def print_files(files: Mapping[str, Sequence[Card]], press: Press) -> Printed:
    """A PDF for each named list of cards; cards with an error are left out and in the findings.

    Cards of one run have distinct codes. Raises ``NativeLibrariesMissing`` when something has to
    be rendered and the engine's libraries are not there.
    """
    base = base_digest(press.options)
    keys = {name: [card_key(card, base) for card in cards] for name, cards in files.items()}
    done: dict[str, RenderedPdf] = {}
    for name in files:
        if (kept := _kept_file(keys[name], _for_file(files[name], press))) is not None:
            done[name] = kept
    wanted = {
        key: card
        for name, cards in files.items()
        if name not in done
        for key, card in zip(keys[name], cards, strict=True)
    }
    leaves, rendered = render_all(wanted, press)
    new = [name for name in files if name not in done]
    jobs = [
        partial(
            _file, [leaves[key] for key in keys[name]], keys[name], _for_file(files[name], press)
        )
        for name in new
    ]
    done |= zip(new, in_parallel(jobs, press), strict=True)
    return Printed({name: done[name] for name in files}, rendered)


def _for_file(cards: Sequence[Card], press: Press) -> Press:
    """What a file's own job takes along: neither the pool it runs in nor the progress of them all.

    A file whose cards are all in one language is marked as being in that language.
    """
    press = replace(press, executor=None, progress=None)
    languages = {card.key.language for card in cards}
    if len(languages) != 1:
        return press
    return replace(press, options=replace(press.options, language=languages.pop()))


def render_all(
    cards: Mapping[str, Card], press: Press, render_chunk: RenderChunk | None = None
) -> tuple[dict[str, Leaf], int]:
    """A leaf for every card by its key, from the cache or rendered; and how many were rendered."""
    leaves: dict[str, Leaf] = {}
    missing: dict[str, dict[str, Card]] = {}
    for key, card in cards.items():
        kept = press.cache.get(key) if press.cache else None
        if kept is not None:
            leaves[key] = Leaf.from_bytes(kept)
        else:  # a document is in one language, which it may be set by
            missing.setdefault(card.key.language, {})[key] = card
    chunks = [
        (language, keys[start : start + CHUNK])
        for language, held in sorted(missing.items())
        for keys in [list(held)]
        for start in range(0, len(keys), CHUNK)
    ]
    views = [[cards[key].view for key in keys] for _, keys in chunks]
    jobs = [
        partial(
            render_chunk or partial(print_leaves, options=_leaf_options(press.options, language)),
            part,
        )
        for (language, _), part in zip(chunks, views, strict=True)
    ]
    total = sum(len(keys) for _, keys in chunks)
    done = 0
    for (_, keys), made in zip(chunks, in_parallel(jobs, press, engine=True), strict=True):
        done += len(keys)
        if press.progress is not None:
            press.progress(done, total)
        for key, leaf in zip(keys, made, strict=True):
            leaves[key] = leaf
            if press.cache and leaf.sound:  # at once, so that a run broken off is not lost
                press.cache.put(key, leaf.to_bytes())
    if press.cache and chunks:
        press.cache.trim()
    return leaves, total


def _leaf_options(options: RenderOptions, language: str) -> RenderOptions:
    return replace(options, title="", author="", edition="", language=language, workers=1)


def in_parallel(
    jobs: Sequence[Callable[[], T]], press: Press, *, engine: bool = False
) -> Iterator[T]:
    """The jobs' results in order, whoever does them; ``engine`` says that they need it."""
    workers = min(press.workers or os.cpu_count() or 1, len(jobs))
    if press.executor is None and workers < 2:
        yield from (job() for job in jobs)
        return
    with contextlib.ExitStack() as stack:
        pool = press.executor or stack.enter_context(_pool(workers, engine))
        futures: list[Future[T]] = [pool.submit(job) for job in jobs]
        yield from (future.result() for future in futures)


def _pool(workers: int, engine: bool) -> Executor:
    """Processes that share the imported engine where forking is safe, as it is not on macOS."""
    context = get_context("fork" if sys.platform == "linux" else "spawn")
    if engine and sys.platform == "linux":
        from buildsheets.print.engine import native_versions

        native_versions()  # imports the engine once, before the workers part
    return ProcessPoolExecutor(workers, context, initializer=_begin_work)


def _begin_work() -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Workers of a run that was killed would else wait for work for ever."""
    if (parent := parent_process()) is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _file(leaves: Sequence[Leaf], keys: Sequence[str], press: Press) -> RenderedPdf:
    findings = tuple(finding for leaf in leaves for finding in leaf.findings)
    sound = [leaf for leaf in leaves if leaf.sound]
    pages = tuple(page for leaf in sound for page in leaf.pages)
    pdf = join(sound, press.options, partial(_keep, press.cache)) if sound else b""
    notes = tuple(f.message for f in findings if f.severity is Severity.NOTE)
    made = RenderedPdf(pdf, pages, notes, findings)
    if press.cache and len(sound) == len(leaves):
        held = Leaf(pages, findings, pdf)
        press.cache.put(_file_key(keys, press.options), held.to_bytes())
    return made


def _kept_file(keys: Sequence[str], press: Press) -> RenderedPdf | None:
    kept = press.cache.get(_file_key(keys, press.options)) if press.cache else None
    if kept is None:
        return None
    held = Leaf.from_bytes(kept)
    notes = tuple(f.message for f in held.findings if f.severity is Severity.NOTE)
    return RenderedPdf(held.pdf, held.pages, notes, held.findings)


def _file_key(keys: Sequence[str], options: RenderOptions) -> str:
    return digest_of({"file": list(keys), **describe(options)})


def _keep(cache: Cache | None, key: str, make: Callable[[], bytes]) -> bytes:
    kept = cache.get(key) if cache else None
    if kept is None:
        kept = make()
        if cache:
            cache.put(key, kept)
    return kept


def card_key(card: Card, base: str) -> str:
    """The key a card's print is kept under."""
    return f"{print_digest(card.view)} {card.key.language} {base}"


def base_digest(options: RenderOptions) -> str:
    """Digest of all that shapes a card beside its view: layouts, fonts, versions, our own code."""
    from buildsheets.print import fonts

    here = Path(__file__).parent
    roots = [shipped_root(), Path(fonts.__file__).parent]
    if options.layouts is not None:
        roots.append(options.layouts)
    files = [sorted(path for path in root.rglob("*") if path.is_file()) for root in roots]
    shaping = {
        "layouts and code": [_files_digest(*of) for of in zip(roots, files, strict=True)],
        "own code": _files_digest(here, [here / name for name in OWN_CODE]),
        "fonts": fonts.digest(),
        "tool": tool_version(),
        "engines": engine_versions(),
        "pouch": options.pouch_border_mm,
        "stocks": options.largest_stocks,
        "parts": options.most_parts,
    }
    return digest_of(shaping)


# What of this room shapes a print.
OWN_CODE = ("leaf.py", "join.py", "faces.py")


def _files_digest(root: Path, paths: Sequence[Path]) -> str:
    total = hashlib.sha256()
    for path in paths:
        if path.suffix != ".pyc":
            data = path.read_bytes()
            total.update(json.dumps([path.relative_to(root).as_posix(), len(data)]).encode())
            total.update(data)
    return total.hexdigest()
