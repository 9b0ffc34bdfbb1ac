"""Whether a case came out clean: what must hold for every one, whatever was tried."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tests.attacks import HANG_S, Case, Left
from tests.attacks.readable import unreadable
from tests.attacks.running import lay

# of a number that is none, of one in the wrong form, or of Python's own words for a value
UNWANTED: Final = re.compile(
    r"(?<![\w-])nan(?![\w-])|\bNaN\b|\d e[+]\d|\de\+\d|np\.float|Timestamp\("
)
_NO_NUMBER: Final = re.compile(r"\bnan|\de[+-]?\d|\d{7}", re.IGNORECASE)
_ONE_OF_MANY: Final = re.compile(
    r"(?<![\w.,:+−-])1 (?:summits|hills|tops|vantages|places|passes|islands|valleys|names|tiles"
    r"|tasks|mornings|evenings|days|minutes|hours|moments|pictures)\b"
)
_NOTES: Final = (
    "note: ",
    "the first run of each command",
    "wrote ",
    "ground: ",
    "vantages: ",
    "the work is shown at ",
)


def complaints(case: Case, left: Left) -> Iterator[str]:
    """What is wrong with what a case left behind, a line each."""
    if left.code in (-signal.SIGALRM, -signal.SIGXCPU, 128 + signal.SIGXCPU):
        yield f"hung for {HANG_S} s"
        return
    if left.code not in case.codes:
        yield f"ended with {left.code}: {left.err.strip()[-300:]}"
    yield from left.halves
    yield from _of_words(case, left)
    yield from _of_files(case, left)
    try:
        yield from case.holds(left)
    except Exception as error:
        yield f"what it left cannot be looked at: {type(error).__name__}: {error}"


def _of_words(case: Case, left: Left) -> Iterator[str]:
    said = left.out + left.err
    for word in ("Traceback", "this is a defect", "Warning:", "Exception ignored"):
        if word in said:
            yield f"says {word!r}"
    for found in () if _may_quote(case, left) else UNWANTED.finditer(said):
        yield f"says {said[max(found.start() - 20, 0) : found.end() + 20]!r}"
    for found in _ONE_OF_MANY.finditer(said):
        yield f"says {said[max(found.start() - 20, 0) : found.end() + 20]!r}"
    lines = [line for line in left.err.splitlines() if not line.startswith(_NOTES)]
    if left.code == 2 and (len(lines) != 1 or not lines[0].startswith("terrain: ")):
        yield f"ends with 2 and not one line: {left.err[-300:]!r}"
    if left.code == 0 and lines:
        yield f"ends with 0 and says {lines[:3]}"
    longest = max(map(len, [*lines, ""]))
    if longest > 1000:
        yield f"says a line of {longest} letters"


def _may_quote(case: Case, left: Left) -> bool:
    """Whether such words were given: by a file, or, where it is refused, on the command line."""
    given = list(case.words) if left.code == 2 else []
    for laid in case.files.values():
        text = laid.decode(errors="ignore") if isinstance(laid, bytes) else laid
        # numbers of a raster are no words
        given += [text] if isinstance(text, str) and "\0" not in text else []
    return _NO_NUMBER.search(" ".join(given)) is not None


def _of_files(case: Case, left: Left) -> Iterator[str]:
    # laid anew beside it, to compare with what is there now
    beside = left.folder.with_name("again")
    for name, laid in case.files.items():
        lay(beside / name, laid)
    kept = {path.relative_to(beside) for path in _files(beside)}
    for name in sorted(kept):
        now, before = left.folder / name, beside / name
        if name.as_posix() in case.replaces:
            continue
        if not now.exists() and before.exists():
            yield f"{name} is gone"
        elif before.is_file() and not _same(now, before):
            yield f"{name} is no longer what it was"
    for path in _files(left.folder):
        name = path.relative_to(left.folder)
        if any(part.startswith(".") for part in name.parts) and name not in kept:
            yield f"{name} is left behind"
        elif not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(left.folder)):
            continue  # a link that leads out
        elif name not in kept or (name.as_posix() in case.replaces and path.is_file()):
            yield from unreadable(path)


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if not path.is_dir()]


def _same(now: Path, before: Path) -> bool:
    return now.is_file() and now.read_bytes() == before.read_bytes()
