"""Files of cards in; their PDFs out, only what is not in the cache rendered, in parallel.

A card's print depends on its view, the layouts, the fonts and the versions of the engine alone:
that is its key. A run that finds everything imports neither the engine nor the PDF library.
"""

from __future__ import annotations

import contextlib
import gc
import os
import platform
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from multiprocessing import active_children, connection, get_context, parent_process
from typing import TypeVar

from buildsheets.findings.finding import Finding
from buildsheets.print.cache import Cache
from buildsheets.print.checks import texts_of
from buildsheets.print.inputs import shaping
from buildsheets.print.join import describe, join
from buildsheets.print.parts import NOTHING, Kept
from buildsheets.print.render import Printed, RenderOptions, render_cards
from buildsheets.print.spool import Spool
from buildsheets.views.card import Card, digest_of
from buildsheets.views.types import View

T = TypeVar("T")

Proof = Callable[[View, Printed], Sequence[Finding]]

# A job has at most so many cards, which take a worker's memory (2 MB a page), and at least so many
# letters, about three cards, as each job makes documents of its own.
MOST_CARDS, LEAST_LETTERS = 15, 4000

# The cache holds at least so much, and so many times a print of all: its cards, their parts and its
# files take up to three times what its files do, and edits come on top.
CACHE_BYTES, CACHE_PRINTS = 500_000_000, 5


@dataclass(frozen=True, slots=True)
class Press:
    """How to print: options, where finished cards are kept, how many workers.

    ``executor`` may be any ``concurrent.futures`` executor, one that spans machines too; its
    workers need this package, the same layouts and fonts, and refuse work where any differs.
    Without one, a pool of processes is used.
    """

    options: RenderOptions = RenderOptions()  # noqa: RUF009 - frozen
    cache: Cache | None = None
    workers: int | None = None  # None: as many as there are processors
    executor: Executor | None = None
    progress: Callable[[int, int], None] | None = None  # cards rendered, cards to render
    proof: Proof | None = None  # of each card as soon as it is rendered


def print_files(
    files: Mapping[str, Sequence[Card]], press: Press
) -> tuple[Mapping[str, Printed], int]:
    """A PDF for each named list of cards, and how many cards had to be rendered for them.

    Cards with an error are left out and in the findings. Cards of one run have distinct codes.
    Raises ``NativeLibrariesMissing`` when something has to be rendered and the engine's libraries
    are not there.
    """
    base = base_digest(press.options)
    keys = {name: [card_key(card, base) for card in cards] for name, cards in files.items()}
    options = {name: _file_options(cards, press.options) for name, cards in files.items()}
    kept = Spool(bytes)
    for name in files:
        data = press.cache and press.cache.get(_file_key(keys[name], options[name]))
        if data:
            kept.put(name, data)
    wanted = {
        key: card
        for name, cards in files.items()
        if name not in kept
        for key, card in zip(keys[name], cards, strict=True)
    }
    made, rendered = render_all(wanted, press)
    found = Spool(Printed.from_bytes)
    for name in files:
        data = kept.get(name)
        if data is None:
            cards = [made[key] for key in keys[name]]
            data = joined(cards, options[name]).to_bytes()
            if press.cache and all(card.sound for card in cards):
                press.cache.put(_file_key(keys[name], options[name]), data)
        found.put(name, data)
    if press.cache and rendered:
        press.cache.trim(max(CACHE_BYTES, CACHE_PRINTS * found.size_bytes))
    return found, rendered


def _file_options(cards: Sequence[Card], options: RenderOptions) -> RenderOptions:
    """A file whose cards are all in one language is marked as being in that language."""
    languages = {card.key.language for card in cards}
    return replace(options, language=languages.pop()) if len(languages) == 1 else options


def joined(cards: Sequence[Printed], options: RenderOptions) -> Printed:
    """The sound ones of some cards as one file, and what there was to say of them all."""
    sound = [card for card in cards if card.sound]
    return Printed(
        tuple(page for card in sound for page in card.pages),
        tuple(finding for card in cards for finding in card.findings),
        join(sound, options) if sound else b"",
    )


def render_all(cards: Mapping[str, Card], press: Press) -> tuple[Mapping[str, Printed], int]:
    """Every card printed, by its key, from the cache or anew; and how many anew."""
    made = Spool(Printed.from_bytes)
    missing: list[str] = []
    for key in cards:
        kept = press.cache.get(key) if press.cache else None
        if kept is not None:
            made.put(key, kept)
        else:
            missing.append(key)
    # Cards of a kind and language together: they share a document. Backwards, so that station
    # cards, which take longest, are not what everybody waits for at the end.
    missing.sort(key=lambda key: (cards[key].key.kind, cards[key].key.language), reverse=True)
    workers = press.workers or os.cpu_count() or 1
    letters = {key: sum(map(len, texts_of(cards[key].view))) for key in missing}
    chunks = _chunks(letters, workers)
    base = base_digest(press.options) if chunks else ""
    # Another machine's worker is told what to compare with its own; it has no such cache.
    told = ("", Kept(press.cache, base)) if press.executor is None else (base, NOTHING)
    jobs = [
        partial(rendered_cards, [cards[key] for key in chunk], press.options, press.proof, *told)
        for chunk in chunks
    ]
    done = 0
    for chunk, printed in zip(chunks, in_parallel(jobs, press, engine=True), strict=True):
        done += len(chunk)
        if press.progress is not None:
            press.progress(done, len(missing))
        for key, one in zip(chunk, printed, strict=True):
            data = one.to_bytes()
            made.put(key, data)
            if press.cache and one.sound:  # at once, so that a run broken off is not lost
                press.cache.put(key, data)
    return made, len(missing)


def _chunks(letters: Mapping[str, int], workers: int) -> list[list[str]]:
    """Keys of cards in order, in jobs that get shorter, so that all workers end about together: as
    many as make half of what is left for a worker, by their letters."""
    left, used = sum(letters.values()), 0
    chunks: list[list[str]] = [[]]
    for key, count in letters.items():
        if used >= max(LEAST_LETTERS, left / (2 * workers)) or len(chunks[-1]) == MOST_CARDS:
            left, used = left - used, 0
            chunks.append([])
        chunks[-1].append(key)
        used += count
    return chunks if letters else []


class OtherMachine(OSError):
    """A worker would not make the same bytes as the machine that asked it to."""


def rendered_cards(
    cards: Sequence[Card],
    options: RenderOptions,
    proof: Proof | None,
    base: str = "",
    kept: Kept = NOTHING,
) -> list[Printed]:
    """The cards printed, those that came out proofed too. ``base`` is what shapes them where they
    were asked for: a worker where that differs raises ``OtherMachine``."""
    if base and base != _base_here(options):
        host = platform.node()
        raise OtherMachine(
            0, "this worker has another buildsheets, other layouts, fonts or libraries", host
        )
    views = [card.view for card in cards]
    made = render_cards(views, options, kept)
    if proof is None:
        return made
    return [
        replace(card, findings=(*card.findings, *proof(view, card))) if card.sound else card
        for view, card in zip(views, made, strict=True)
    ]


def in_parallel(
    jobs: Sequence[Callable[[], T]], press: Press, *, engine: bool = False
) -> Iterator[T]:
    """The jobs' results in order, whoever does them; ``engine`` says that they need it."""
    workers = min(press.workers or os.cpu_count() or 1, len(jobs))
    if press.executor is None and workers < 2:
        yield from (job() for job in jobs)
        return
    others = set(active_children())
    pool = press.executor or _pool(workers, engine)
    futures: deque[Future[T]] = deque()
    try:
        with _uninterrupted():
            futures += (pool.submit(job) for job in jobs)
        while futures:
            yield futures.popleft().result()  # and let go of
    except BaseException:  # nobody waits for the rest: an error, Ctrl-C
        for future in futures:
            future.cancel()
        if press.executor is None:
            for worker in set(active_children()) - others:
                worker.terminate()
        raise
    finally:
        if press.executor is None:
            pool.shutdown()


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """Processes begun within never hear of Ctrl-C: this one alone ends them, in one line."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _pool(workers: int, engine: bool) -> Executor:
    """Processes that share the imported engine where forking is safe, as it is not on macOS."""
    context = get_context("fork" if sys.platform == "linux" else "spawn")
    if engine and sys.platform == "linux":
        from buildsheets.print.engine import load_engine

        load_engine()  # once, before the workers part
        gc.freeze()  # what they all begin with is no garbage; nobody need look through it
    return ProcessPoolExecutor(workers, context, initializer=_begin_work)


def _begin_work() -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Workers of a run that was killed would else wait for work for ever."""
    if (parent := parent_process()) is not None:
        connection.wait([parent.sentinel])
        os._exit(1)


def _file_key(keys: Sequence[str], options: RenderOptions) -> str:
    return digest_of({"file": list(keys), **describe(options)})


def card_key(card: Card, base: str) -> str:
    """The key a card's print is kept under."""
    return f"{digest_of(card.view)} {card.key.language} {base}"


@lru_cache(maxsize=8)
def _base_here(options: RenderOptions) -> str:
    return base_digest(options)


def base_digest(options: RenderOptions) -> str:
    """Digest of all that shapes a card beside its view: layouts, fonts, versions, our own code."""
    return digest_of({**shaping(options.layouts), "pouch": options.pouch_border_mm})
