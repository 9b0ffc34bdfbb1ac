"""The moments of a triptych: before the colour, at its best, and ten minutes on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.light.colour import colour_begins, colour_ends, light_at
from terrain.sun.path import SunPath
from terrain.view.backlight import Backlight
from terrain.view.nearness import BestAt

ON: Final = dt.timedelta(minutes=10)
"""After the best moment, in an evening before it, the third picture is taken."""

_MOST: Final = dt.timedelta(minutes=2)
_BEFORE: Final = dt.timedelta(minutes=15)
_SLACK: Final = dt.timedelta(seconds=2)
"""By which the two searches for a moment may differ."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Suns:
    """The sun at several moments of one day, and what each is called."""

    path: SunPath
    moments: Sequence[dt.datetime]
    words: Sequence[str]

    @property
    def times_s(self) -> Floats:
        """The moments as seconds of the path, (n,)."""
        return np.array([self.path.seconds(moment) for moment in self.moments])

    @property
    def at_deg(self) -> tuple[Floats, Floats]:
        """Azimuths and altitudes of its middle, (n,) each."""
        return self.path.at(self.times_s)


def best_moment(answer: Backlight) -> dt.datetime:
    """When the picture is at its best, with half of the disc out where that is as it appears.

    Nearest to the summit the sun may stand while less of it is out: then too when half is.
    """
    best, contact = answer.best, answer.contact
    if contact.clears is None:
        return best.at
    half = (contact.clears - contact.appears) / 2.0
    half_out = contact.appears + max(min(half, _MOST), -_MOST)
    first, last = sorted([contact.appears, half_out])
    appears = best.which is BestAt.CONTACT or first - _SLACK <= best.at <= last
    return half_out if appears else best.at


def triptych(answer: Backlight) -> Suns:
    """Before the colour of a morning begins, at the best moment, and ten minutes on, by the clock.

    Of an evening ten minutes before the best moment, at it, and after the colour has ended.
    """
    best, contact, light = best_moment(answer), answer.contact, light_at(answer)
    touch = "going" if contact.evening else "coming out"
    near = answer.best.which is not BestAt.CONTACT
    word = "the sun nearest the summit" if near else f"the sun {touch}"
    path = answer.sun_path
    if contact.evening:
        moments = [best - ON, best, colour_ends(light, contact.appears) + _BEFORE]
        words = ["ten minutes before", word, "after the colour"]
    else:
        moments = [colour_begins(light, contact.appears) - _BEFORE, best, best + ON]
        words = ["before the colour", word, "ten minutes on"]
    return Suns(path=path, moments=[_within(path, each) for each in moments], words=words)


def at_moments(answer: Backlight, moments: Sequence[dt.datetime]) -> Suns:
    """The sun at moments that were asked for."""
    return Suns(path=answer.sun_path, moments=moments, words=[""] * len(moments))


def minutes_about(answer: Backlight, every: dt.timedelta) -> list[dt.datetime]:
    """Moments from the first of a triptych to ten minutes past the last, by the clock."""
    suns = triptych(answer)
    first, last = suns.moments[0], suns.moments[-1]
    if not answer.contact.evening:
        last += ON
    count = max(round((last - first) / every), 1)
    return [_within(suns.path, first + step * every) for step in range(count + 1)]


def _within(path: SunPath, moment: dt.datetime) -> dt.datetime:
    """A moment of the day that the path knows."""
    seconds = float(np.clip(path.seconds(moment), 0.0, path.length_s))
    return path.time(seconds)
