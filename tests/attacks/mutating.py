"""Files that are almost good: bytes and words of a good one changed, by a seed."""

from __future__ import annotations

import re
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from terrain.errors import TerrainError

ODD_WORDS: Final = (
    *(b"nan", b"inf", b"-inf", b"1e308", b"-1", b"0", b"", b"1e-320", b"99999999999999999999"),
    *(b"\0", b"\xff\xfe", b"<", b"]]>", b"{", b"[[[[", b"'", b'"', b"\n", b"90.0", b"-181"),
    *(b"x" * 3000, b"/etc/hostname", b"../..", b"http://127.0.0.1:1/a", "é".encode()),
)
MOST_LETTERS: Final = 1500
_NUMBER: Final = re.compile(rb"-?\d+(\.\d+)?")
_WORD: Final = re.compile(rb"[A-Za-z_]{3,}")


@dataclass(frozen=True)
class Kind:
    """Good files of one kind, and what reads them; text: whether its words can be changed."""

    name: str
    good: bytes
    read: Callable[[Path], object]
    text: bool = False

    @property
    def file_name(self) -> str:
        """What the file is called."""
        return self.name.rpartition("/")[2]


def mutant(rng: np.random.Generator, good: bytes, *, text: bool) -> bytes:
    """A file that differs from a good one in one to four places."""
    ways = (_flipped, _cut, _doubled, _without, _filled)
    ways = (*ways, _other_number, _other_number, _other_word) if text else ways
    content = good
    for _ in range(int(rng.integers(1, 5))):
        if content:
            content = ways[int(rng.integers(len(ways)))](rng, content)
    return content


def _place(rng: np.random.Generator, content: bytes) -> tuple[int, int]:
    # the beginning of a file is what says most
    most = len(content) if rng.random() < 0.5 else min(len(content), 600)
    first = int(rng.integers(most))
    return first, min(first + int(rng.integers(1, 40)), len(content))


def _flipped(rng: np.random.Generator, content: bytes) -> bytes:
    first, _ = _place(rng, content)
    return content[:first] + bytes([int(rng.integers(256))]) + content[first + 1 :]


def _cut(rng: np.random.Generator, content: bytes) -> bytes:
    return content[: int(rng.integers(len(content)))] if rng.random() < 0.3 else content


def _doubled(rng: np.random.Generator, content: bytes) -> bytes:
    first, last = _place(rng, content)
    return content[:last] + content[first:last] * int(rng.integers(1, 60)) + content[last:]


def _without(rng: np.random.Generator, content: bytes) -> bytes:
    first, last = _place(rng, content)
    return content[:first] + content[last:]


def _filled(rng: np.random.Generator, content: bytes) -> bytes:
    first, last = _place(rng, content)
    return (
        content[:first] + bytes([int(rng.choice([0, 255, 127]))]) * (last - first) + content[last:]
    )


def _other_number(rng: np.random.Generator, content: bytes) -> bytes:
    return _other(rng, content, _NUMBER)


def _other_word(rng: np.random.Generator, content: bytes) -> bytes:
    return _other(rng, content, _WORD)


def _other(rng: np.random.Generator, content: bytes, what: re.Pattern[bytes]) -> bytes:
    found = list(what.finditer(content))
    if not found:
        return content
    one = found[int(rng.integers(len(found)))]
    odd = ODD_WORDS[int(rng.integers(len(ODD_WORDS)))]
    return content[: one.start()] + odd + content[one.end() :]


def complaint(read: Callable[[], object]) -> str | None:
    """What is wrong with how a file was read; None for an answer, and for one line about it."""
    with _unheard() as told:
        wrong = _complaint(read)
    return wrong or next((f"prints a traceback: {words[:200]}" for words in told), None)


def _complaint(read: Callable[[], object]) -> str | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read()
    except TerrainError as error:
        said = str(error)
        if not said or "\n" in said or len(said) > MOST_LETTERS or "\0" in said:
            return f"says {said[:200]!r} of {len(said)} letters"
    except Exception as error:
        return f"{type(error).__name__}: {str(error)[:200]}"
    return None


@contextmanager
def _unheard() -> Iterator[list[str]]:
    """What is raised in the block where nobody can hear it, which Python prints by itself."""
    told: list[str] = []
    before = sys.unraisablehook
    sys.unraisablehook = lambda raised: told.append(repr(raised.exc_value))
    try:
        yield told
    finally:
        sys.unraisablehook = before


def attacks(kind: Kind, folder: Path, seeds: range) -> Iterator[str]:
    """What is wrong with how mutants of a kind are read, with the seed of each."""
    path = folder / kind.file_name
    for seed in seeds:
        path.write_bytes(mutant(np.random.default_rng(seed), kind.good, text=kind.text))
        wrong = complaint(lambda: kind.read(path))
        if wrong:
            yield f"{kind.name} {seed}: {wrong}"


def mutants(kind: Kind, seeds: range) -> Iterator[tuple[str, bytes]]:
    """What mutants of a kind are called, and what they hold."""
    for seed in seeds:
        rng = np.random.default_rng(seed)
        yield f"{kind.name} {seed}", mutant(rng, kind.good, text=kind.text)
