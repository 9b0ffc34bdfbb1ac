"""Options that belong together as one parameter of a command: a dataclass with a field for each.

A field's default is its option, which the command line reads: `flat` alone makes these.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, get_type_hints


def flat(command: Callable[..., None]) -> Callable[..., None]:
    """A command that takes each field of its groups as a parameter of its own, in their place.

    A group is a parameter whose type is a dataclass. All parameters are keyword-only.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: kind for name, kind in hints.items() if is_dataclass(kind)}

    @functools.wraps(command)
    def called(**given: Any) -> None:
        whole = {
            name: kind(**{part.name: given.pop(part.name) for part in fields(kind)})
            for name, kind in groups.items()
        }
        command(**given, **whole)

    parameters = list(_parameters(command, hints))
    called.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    called.__annotations__ = {one.name: one.annotation for one in parameters}
    return called


def _parameters(command: Callable[..., None], hints: dict[str, Any]) -> Iterator[inspect.Parameter]:
    for one in inspect.signature(command).parameters.values():
        kind = hints[one.name]
        if not is_dataclass(kind):
            yield one.replace(annotation=kind)
            continue
        types = get_type_hints(kind, include_extras=True)
        for part in fields(kind):
            default = inspect.Parameter.empty if part.default is MISSING else part.default
            yield inspect.Parameter(
                part.name, one.kind, default=default, annotation=types[part.name]
            )
