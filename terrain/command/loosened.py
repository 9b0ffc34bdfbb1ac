"""What to type where nothing answers: the command line as it was, with one option loosened."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from typing import Any, Final

from terrain.errors import NoAnswer

_OPTIONS: Final[Mapping[str, tuple[str, float]]] = {
    "tolerance_deg": ("--within", 1.0),
    "freeboard_m": ("--freeboard", 1.0),
    "max_slope_deg": ("--steepest", 1.0),
    "min_distance_m": ("--nearest", 1e-3),
    "max_distance_m": ("--farthest", 1e-3),
    "against": ("--against", 1.0),
    "mist_share": ("--mist-share", 1.0),
    "within_min": ("--walk", 1.0),
    "min_prominence_m": ("--prominence", 1.0),
    "min_depth_m": ("--prominence", 1.0),
    "mist_top_m": ("--mist-top", 1.0),
    "day": ("--date", 1.0),
    "year": ("--year", 1.0),
}
"""For each argument of the library its option, and how many of the option's units are one."""

_OTHER_MIST: Final = ("--mist-depth", "--mist-ceiling", "--mist-from", "--hollow")
_MOST_LETTERS: Final = 300


def with_what_to_type(
    error: NoAnswer, name: str, words: Sequence[str], known: Sequence[str]
) -> NoAnswer:
    """An error with the command line that asks for the nearest miss, where the command has one.

    words: of the command line after the command's name. known: the options that it takes.
    """
    for change in error.loosen:
        options = {_OPTIONS[key][0]: _written(key, value) for key, value in change.items()}
        if set(options) <= set(known) and _can(options, words):
            line = shlex.join(["terrain", name, *_changed(words, options)])
            if len(line) > _MOST_LETTERS:
                line = " ".join(word for part in options.items() for word in part if word)
            return NoAnswer(f"{error}; try: {line}", loosen=error.loosen)
    return error


def _written(key: str, value: Any) -> str | None:
    scale = _OPTIONS[key][1]
    return value if value is None or isinstance(value, str) else f"{value * scale:.10g}"


def _can(options: Mapping[str, str | None], words: Sequence[str]) -> bool:
    """Whether the options go with the others: a level mist with no other, a day with no span."""
    given = {word.partition("=")[0] for word in words}
    if "--mist-top" in options and given & set(_OTHER_MIST):
        return False
    return not ("--year" in options and given & {"--from", "--to", "--year"})


def _changed(words: Sequence[str], options: Mapping[str, str | None]) -> list[str]:
    """The words without these options, and with them at the end where they have a value."""
    kept, skip = [], False
    for word in words:
        if skip:
            skip = False
        elif word in options:
            skip = True
        elif word.partition("=")[0] not in options:
            kept.append(word)
    said = [(option, value) for option, value in options.items() if value is not None]
    return [*kept, *(word for part in said for word in part)]
