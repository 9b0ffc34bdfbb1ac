"""What to type where nothing answers: the command line as it was, with one option loosened."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from contextlib import suppress
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
    "evening": ("--evening", 1.0),
    "seeds": ("--mist-from", 1.0),
    "ceiling_m": ("--mist-ceiling", 1.0),
}
"""For each argument of the library its option, and how many of the option's units are one."""

_LOWER: Final = "mist_lower_by_m"
"""How much lower a mist along the valley floors has to be: asked for as so much less depth."""

_LEVEL: Final = "level_top_m"
"""The top of a level mist in place of one of another kind."""

_DEPTHS: Final = ("--mist-depth", "--depth")
_OTHER_MIST: Final = (*_DEPTHS, "--mist-ceiling", "--ceiling", "--mist-from", "--hollow")
_FLAGS: Final = ("--evening",)
_MOST_LETTERS: Final = 300


def with_what_to_type(
    error: NoAnswer, name: str, words: Sequence[str], known: Sequence[str]
) -> NoAnswer:
    """An error with the command line that asks for the nearest miss, where the command has one.

    words: of the command line after the command's name. known: the options that it takes.
    """
    for change in error.loosen:
        options = _options(change, words)
        if options and set(options) <= set(known) and _can(options, words):
            line = shlex.join(["terrain", name, *_changed(words, options)])
            short = " ".join(word for part in options.items() for word in part if word)
            return NoAnswer(to_type(str(error), line, short), loosen=error.loosen)
    return error


def to_type(said: str, line: str, short: str = "") -> str:
    """What was said with the command line to type; with what is short in place of a long one."""
    shown = line if len(line) <= _MOST_LETTERS else short
    return f"{said}; try: {shown}" if shown else said


def _options(change: Mapping[str, Any], words: Sequence[str]) -> dict[str, str | None]:
    """Options with their values, "" for one that has none, None for one to leave out."""
    if _LOWER in change:
        return _less_deep(words, change[_LOWER])
    if _LEVEL in change:
        others: dict[str, str | None] = dict.fromkeys(_given(words) & set(_OTHER_MIST))
        return {**others, "--mist-top": f"{change[_LEVEL]:.10g}"}
    if "ceiling_m" in change and "--ceiling" in _given(words):
        return {"--ceiling": None}
    return {_OPTIONS[key][0]: _written(key, value) for key, value in change.items()}


def _less_deep(words: Sequence[str], by_m: float) -> dict[str, str | None]:
    """The depth over the valley floors that was asked for, less so much; none where none was."""
    for at, word in enumerate(words):
        option, equals, value = word.partition("=")
        if option in _DEPTHS:
            with suppress(ValueError, IndexError):
                depth_m = float(value if equals else words[at + 1]) - by_m
                return {option: f"{depth_m:.10g}"} if depth_m > 0.0 else {}
    return {}


def _written(key: str, value: Any) -> str | None:
    if isinstance(value, bool):
        return "" if value else None
    scale = _OPTIONS[key][1]
    return value if value is None or isinstance(value, str) else f"{value * scale:.10g}"


def _can(options: Mapping[str, str | None], words: Sequence[str]) -> bool:
    """Whether the options go with the others: a level mist with no other, a day with no span."""
    given = _given(words)
    if "--mist-top" in options and given & set(_OTHER_MIST) - set(options):
        return False
    return not ("--year" in options and given & {"--from", "--to", "--year"})


def _given(words: Sequence[str]) -> set[str]:
    """The options among the words, and whatever else stands there."""
    return {word.partition("=")[0] for word in words}


def _changed(words: Sequence[str], options: Mapping[str, str | None]) -> list[str]:
    """The words without these options, and with them at the end where they have a value."""
    kept, skip = [], False
    for word in words:
        if skip:
            skip = False
        elif word in options:
            skip = word not in _FLAGS
        elif word.partition("=")[0] not in options:
            kept.append(word)
    said = [(option, value) for option, value in options.items() if value is not None]
    return [*kept, *(word for part in said for word in part if word)]
