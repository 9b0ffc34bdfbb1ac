"""Try all attacks, and say how many were tried, how many came out clean, and what did not.

python -m tests.attacks [--quick] [--seconds] [--part=1/4] [MODULE[.py] | WORDS OF A NAME]...
                                            # modules that are named come in that order
python -m tests.attacks --twice ...         # forks a second time, as processes of their own
python -m tests.attacks --fuzz SECONDS      # reads almost good files, each a new one, for so long
"""

from __future__ import annotations

import functools
import itertools
import pkgutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Final

import tests.attacks
from tests.attacks import Case
from tests.attacks.environment import COMMANDS
from tests.attacks.fuzz import fuzz
from tests.attacks.judging import complaints
from tests.attacks.running import cleared, differences, run_case, warm


@functools.cache
def modules() -> list[str]:
    """The modules that take part: those with cases."""
    names = [module.name for module in pkgutil.iter_modules(tests.attacks.__path__)]
    return [name for name in names if not name.startswith(("__", "test_")) and _takes_part(name)]


def _takes_part(name: str) -> bool:
    return hasattr(import_module(f"tests.attacks.{name}"), "cases")


def all_cases(first: Iterable[str] = ()) -> Iterator[tuple[str, Case]]:
    """Every case, with the module that it is from. first: modules that come before the others."""
    for module in dict.fromkeys([*(name for name in first if name in modules()), *modules()]):
        for case in import_module(f"tests.attacks.{module}").cases():
            yield module, case


_OPTIONS: Final = ("--quick", "--seconds", "--twice", "--part=")


def main(words: list[str]) -> int:
    """Try those that are asked for, and return how many did not come out clean."""
    if "--fuzz" in words:
        return fuzz(float(words[words.index("--fuzz") + 1]))
    unknown = [word for word in words if word.startswith("--") and not word.startswith(_OPTIONS)]
    if unknown:
        print(__doc__)
        return 0
    quick, timed, twice = (word in words for word in ("--quick", "--seconds", "--twice"))
    part, parts = _part(words)
    asked = [word.removesuffix(".py") for word in words if not word.startswith("--")]
    if not quick:
        warm(COMMANDS)
    tried: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for module, case in itertools.islice(all_cases(asked), part, None, parts):
            if not _is_asked(asked, module, case) or (quick and not case.quick):
                continue
            began = time.perf_counter()
            place = cleared(Path(folder, "case"))
            left = run_case(case, place)
            found = list(dict.fromkeys(complaints(case, left)))
            if twice:
                found += differences(case, left, cleared(Path(folder, "anew")))
            tried[module] += 1
            bad[module] += bool(found)
            if timed:
                print(f"{time.perf_counter() - began:6.2f} s  {module}: {case.name}", flush=True)
            for complaint in found:
                print(f"{module}: {case.name}: {complaint}", flush=True)
    for module in tried:
        print(_counted(tried[module], bad[module]), "of", module)
    print(_counted(tried.total(), bad.total()))
    return bad.total()


def _is_asked(words: list[str], module: str, case: Case) -> bool:
    """Whether one of some words is its module, or else stands in its name; without any, all are."""
    known = modules()
    return not words or any(
        word == module if word in known else word in case.name for word in words
    )


def _part(words: list[str]) -> tuple[int, int]:
    """Which of how many parts is asked for: of `--part=2/4` every fourth case from the second."""
    asked = [word.partition("=")[2] for word in words if word.startswith("--part=")]
    first, _, parts = (asked or ["1/1"])[0].partition("/")
    return int(first) - 1, int(parts)


def _counted(tried: int, bad: int) -> str:
    return f"{tried} tried, {tried - bad} clean, {bad} not"


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
