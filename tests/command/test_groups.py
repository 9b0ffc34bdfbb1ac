"""Options that belong together are parameters of their own on the command line, in their place."""

from __future__ import annotations

import inspect
from dataclasses import dataclass

import pytest

from terrain.command.groups import flat


@dataclass(frozen=True, kw_only=True)
class Size:
    """Two options."""

    width: float
    height: float = 2.0


@dataclass(frozen=True, kw_only=True)
class Box(Size):
    """One more, and another default."""

    height: float = 5.0
    depth: int = 1


def test_a_group_stands_for_its_fields_where_it_stands() -> None:
    def command(*, first: str = "a", box: Box, last: bool = False) -> None: ...

    parameters = inspect.signature(flat(command)).parameters
    assert list(parameters) == ["first", "width", "height", "depth", "last"]
    assert parameters["width"].default is inspect.Parameter.empty
    assert parameters["height"].default == 5.0
    assert parameters["depth"].annotation is int
    assert all(one.kind is inspect.Parameter.KEYWORD_ONLY for one in parameters.values())


def test_the_command_gets_its_groups_whole() -> None:
    got = {}

    def command(*, name: str, size: Size) -> None:
        got.update(name=name, size=size)

    flat(command)(name="n", width=3.0, height=4.0)
    assert got == {"name": "n", "size": Size(width=3.0, height=4.0)}
    with pytest.raises(KeyError):
        flat(command)(name="n", width=3.0)
