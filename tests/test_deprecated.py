"""How a name goes: it answers as ever, warns where it is called, and is gone when it said."""

from __future__ import annotations

import ast
import warnings
from importlib.metadata import version
from pathlib import Path

import pytest

from terrain.deprecated import deprecated, warn_deprecated

PACKAGE = Path(__file__).resolve().parents[1] / "terrain"


@deprecated(removed_in="2.0", instead="`height_m`")
def elevation(metres: float, *, twice: bool = False) -> float:
    """The height."""
    return 2.0 * metres if twice else metres


def test_a_deprecated_function_answers_and_warns_at_the_line_that_calls_it() -> None:
    words = "elevation is deprecated and goes in terrain 2.0: use `height_m`"
    with pytest.warns(DeprecationWarning, match=words) as said:
        assert elevation(3.0, twice=True) == 6.0
    assert [warning.filename for warning in said] == [__file__]
    assert elevation.__name__ == "elevation"
    assert elevation.__doc__ == "The height."


def test_an_argument_that_goes_is_told_of_at_the_line_of_the_user() -> None:
    def ask(height_m: float = 0.0, elevation_m: float | None = None) -> float:
        if elevation_m is None:
            return height_m
        warn_deprecated("elevation_m", removed_in="2.0", instead="height_m")
        return elevation_m

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert ask(height_m=5.0) == 5.0
    with pytest.warns(DeprecationWarning, match="elevation_m .* use height_m") as said:
        assert ask(elevation_m=5.0) == 5.0
    assert said[0].filename == __file__


def promised() -> list[tuple[str, str]]:
    """Where in the package something is marked to go, and in which version."""
    return [
        (f"{file.name}:{node.lineno}", str(word.value.value))
        for file in PACKAGE.rglob("*.py")
        if file.name != "deprecated.py"
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Call)
        for word in node.keywords
        if word.arg == "removed_in" and isinstance(word.value, ast.Constant)
    ]


def test_nothing_is_kept_beyond_the_version_that_it_was_to_go_in() -> None:
    now = tuple(map(int, version("terrain").split(".")))
    late = [where for where, last in promised() if tuple(map(int, last.split("."))) <= now]
    assert late == []
