"""The page of checks, in Markdown."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Final

from docs.checks import air, doubt, ground, light, sources, sun
from docs.checks.check import Check

_LONG: Final = 12

_HEAD: Final = """\
# The proof

Every value from outside that the tests hold, whose it is, and ours beside it. Nothing here is
copied: the words on each source stand in the tests, and ours were worked out as this page was
built. A change that moves one of them too far does not pass the tests named under it.

What a ± means, and what makes it large, is told in [How sure a time is](explained/how-sure.md).
Where a source says `from memory`, nobody looked the value up; such a value is not proof.

Beside these the tests hold each quick answer to a slow one that shares no code with it, to what
must hold whatever the ground is (a mist that rises uncovers nothing; who sees is seen), and, where
open ground is at hand, to surveyed heights and key cols of real hills.
"""


@cache
def all_checks() -> list[Check]:
    """The checks of all rooms, those of a ± first."""
    return [one for room in (doubt, sun, ground, air, light) for one in room.checks()]


def page() -> str:
    """The whole page."""
    found = all_checks()
    return "\n".join([_HEAD, *_summary(found), *_parts(found)]) + "\n"


def _summary(found: list[Check]) -> Iterator[str]:
    yield f"## All {len(found)} at a glance\n"
    yield "| | values | greatest difference |\n| --- | ---: | ---: |"
    for one in found:
        yield f"| [{one.title}](#{one.anchor}) | {len(one.rows)} | {_most(one)} |"
    yield ""


def _most(one: Check) -> str:
    if one.most is None:
        return ""
    return _figure(one.most, one.digits) + _after(one.unit)


def _after(unit: str) -> str:
    """A unit as it stands after a number; nothing where each row has its own."""
    if not unit or unit.startswith("in "):
        return ""
    return unit if unit in "°'\"" else f" {unit}"


def _figure(value: float, digits: int) -> str:
    least = 10.0**-digits
    if 0.0 < abs(value) < 0.5 * least:
        return f"< {least:.{digits}f}"
    return f"{value + 0.0:.{digits}f}"


def _parts(found: list[Check]) -> Iterator[str]:
    for part in dict.fromkeys(one.about for one in found):
        yield f"## {part}\n"
        for one in found:
            if one.about == part:
                yield from _check(one)


def _check(one: Check) -> Iterator[str]:
    yield f"### {one.title} {{#{one.anchor}}}\n"
    if one.names:
        yield f"{sources.said(one.module, *one.names)}\n"
    if one.but:
        yield f"{one.but}\n"
    yield from _table(one)
    if one.names:
        tests = ", ".join(f"`{file}`" for file in sources.held_by(one.module, *one.names))
        yield f"Held by {tests}.\n"


def _table(one: Check) -> Iterator[str]:
    unit = f", {one.unit}" if one.unit else ""
    long = len(one.rows) > _LONG
    if long:
        yield f'<details class="table" markdown="1"><summary>{len(one.rows)} values, '
        yield f"{_most(one)} apart at most</summary>\n"
    yield f"| what | published | ours | difference{unit} |\n| --- | ---: | ---: | ---: |"
    for row in one.rows:
        off = "" if row.off is None else f"{_figure(row.off, one.digits)}"
        yield f"| {row.what} | {row.published} | {row.ours} | {off} |"
    yield "\n</details>\n" if long else ""
