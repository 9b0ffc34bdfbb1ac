"""What a survey needs beside the package, and one line for whoever has not got it."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from typing import Final

from terrain.errors import TerrainError

_NEEDED: Final = ("dask", "distributed", "pyarrow")


def check_installed(*, pages: bool = False) -> None:
    """TerrainError where the libraries of a survey are not installed; pages: those about it too."""
    _check((*_NEEDED, "bokeh") if pages else _NEEDED)


def check_readable() -> None:
    """TerrainError where what reads the tables of a survey is not installed."""
    _check(("pyarrow",))


def _check(needed: Sequence[str]) -> None:
    missing = [name for name in needed if find_spec(name) is None]
    if missing:
        raise TerrainError(f"a survey needs {', '.join(missing)}: pip install 'terrain[country]'")
