"""The two modules of pvlib that are used here, loaded alone.

pvlib's own beginning loads all of it, with all that it stands on: a sixth of a second, before any
command can answer.
"""

from __future__ import annotations

from importlib.util import find_spec, module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType


def _alone(name: str) -> ModuleType:
    """A module of pvlib; ModuleNotFoundError where that is not installed."""
    package = find_spec("pvlib")
    for folder in (package and package.submodule_search_locations) or ():
        found = spec_from_file_location(f"pvlib.{name}", Path(folder) / f"{name}.py")
        if found is not None and found.loader is not None:
            module = module_from_spec(found)
            found.loader.exec_module(module)
            return module
    raise ModuleNotFoundError("pvlib is not installed", name=f"pvlib.{name}")


spa = _alone("spa")
atmosphere = _alone("atmosphere")
