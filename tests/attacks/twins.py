"""Two places of one name: which one is meant is asked, on every way in which a place is told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from tests.attacks import AREA, Case, Left, island
from tests.attacks.asking import parameters
from tests.attacks.environment import COMMANDS

_TWINS: Final = (
    "name,lat,lon\nTwin,54.4065,-24.0274\nTwin,54.4057,-24.0589\nKnoll,54.4065,-24.0274\n"
)
_ONE: Final = "name,lat,lon\nTwin,54.4065,-24.0274\nKnoll,54.4065,-24.0274\n"
_AREA: Final = AREA.replace("[places]", '[places]\n"Twin" = [54.4057, -24.0589]')
_NEAR: Final = AREA.replace("[places]", '[places]\n"Twin" = [54.4065, -24.0274]')
_CAPITALS: Final = AREA.replace(
    "[places]", '[places]\n"Pair" = [54.4057, -24.0589]\n"pair" = [54.4065, -24.0274]'
)


def cases() -> Iterator[Case]:
    """All of them."""
    for one in parameters():
        if one.takes != "PLACE" or one.command not in COMMANDS:
            continue
        words = [one.command, "area.toml", *COMMANDS[one.command]]
        for how, name, laid in (
            ("in one list", "Twin", island(names__csv=_TWINS)),
            ("in the area and its list", "twin", island(area__toml=_AREA, names__csv=_ONE)),
            ("but for capitals", "PAIR", island(area__toml=_CAPITALS)),
        ):
            yield Case(
                f"{one.command} {one.spelling}: two of one name {how}",
                [*words, f"{one.spelling}={name}"],
                laid,
                codes=frozenset({2}),
                holds=_asks,
                quick=one.command == "skyline" and "area" in how,
            )
        yield Case(
            f"{one.command} {one.spelling}: one place written twice",
            [*words, f"{one.spelling}=Twin"],
            island(area__toml=_NEAR, names__csv=_ONE),
            holds=_does_not_ask,
        )


def _asks(left: Left) -> Iterable[str]:
    if "2 places are called" not in left.err:
        yield f"it is not asked: {left.err[:200]}"


def _does_not_ask(left: Left) -> Iterable[str]:
    if "places are called" in left.err:
        yield f"it is asked: {left.err[:200]}"
