"""One check: values that others publish, and ours beside them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import NamedTuple


class Row(NamedTuple):
    """A value: what of, as it is published, as it is worked out here, and by how much it differs.

    off: in the unit of its check; None where a difference is no number.
    """

    what: str
    published: str
    ours: str
    off: float | None


class Check(NamedTuple):
    """Values of one authority.

    about: which part of the work it holds, as `pages.PARTS` names them. module, names: where in
    `tests/authorities` its values are. unit: that of the differences. digits: to which they are
    told. but: what must be known to read them.
    """

    title: str
    about: str
    module: str
    names: tuple[str, ...]
    unit: str
    digits: int
    rows: list[Row]
    but: str = ""

    @property
    def anchor(self) -> str:
        """Where it stands on the page."""
        return self.title.lower().replace(" ", "-").replace(",", "").replace("'", "")

    @property
    def most(self) -> float | None:
        """The greatest difference, by its size."""
        sizes = [abs(row.off) for row in self.rows if row.off is not None]
        return max(sizes, default=None)


def numbers(pairs: Mapping[str, tuple[float, float]], digits: int) -> list[Row]:
    """Rows of numbers: what, and a pair of the published value and ours."""
    return [
        Row(what, f"{theirs:.{digits}f}", f"{ours:.{digits}f}", ours - theirs)
        for what, (theirs, ours) in pairs.items()
    ]


def clocks(events: Iterable[tuple[str, str | None, dt.datetime | None]]) -> list[Row]:
    """Rows of moments: what, "HHMM" as published or None for never, and ours by the same clock."""
    return [_clock_row(what, hhmm, moment) for what, hhmm, moment in events]


def _clock_row(what: str, hhmm: str | None, moment: dt.datetime | None) -> Row:
    theirs = f"{hhmm[:2]}:{hhmm[2:]}" if hhmm else "never"
    ours = f"{moment:%H:%M:%S}" if moment else "never"
    if hhmm is None or moment is None:
        return Row(what, theirs, ours, 0.0 if theirs == ours else None)
    published_s = int(hhmm[:2]) * 3600 + int(hhmm[2:]) * 60
    own_s = moment.hour * 3600 + moment.minute * 60 + moment.second
    return Row(what, theirs, ours, (own_s - published_s + 43_200) % 86_400 - 43_200)


def moments(pairs: Iterable[tuple[str, str, dt.datetime]]) -> list[Row]:
    """Rows of moments to the second: what, in ISO form as published, and ours."""
    return [
        Row(
            what,
            f"{dt.datetime.fromisoformat(iso):%H:%M:%S}",
            f"{ours.astimezone(dt.datetime.fromisoformat(iso).tzinfo):%H:%M:%S}",
            (ours - dt.datetime.fromisoformat(iso)).total_seconds(),
        )
        for what, iso, ours in pairs
    ]
