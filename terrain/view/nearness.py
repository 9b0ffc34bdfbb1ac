"""How near the sun comes to a summit on one day: as it appears behind the hill, or in its passage.

That is all that a year asks of most of its days, and a small part of the work of a `Contact`.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, lru_cache
from typing import Final, NamedTuple

from terrain.ground.geodesy import wrap_deg
from terrain.view.look import View
from terrain.view.passage import Nearest, Showing, sun_passage
from terrain.view.reasons import is_behind
from terrain.view.scene import Scene
from terrain.view.touch import Touch, first_touch

UP_TO_DEG: Final = 6.0  # the light is good (common practice, no source)
_ABOVE_DEG: Final = 2.0
_NIGHT: Final = dt.timedelta(hours=6)
"""A sun that goes so soon after midnight does so in the evening of the day before."""


class BestAt(StrEnum):
    """When the sun is best placed behind a hill or over it.

    Examples
    --------
    >>> import terrain
    >>> [str(each) for each in terrain.BestAt]
    ['contact', 'passage']
    """

    CONTACT = "contact"
    PASSAGE = "passage"


class Best(NamedTuple):
    """The best moment of a passage: which, when, and how far the sun is from the summit, degrees.

    At the contact that is along the circle of equal altitude; in the passage from the sun's centre
    to where the sky begins over the summit.
    """

    which: BestAt
    at: dt.datetime
    away_deg: float


@dataclass(frozen=True, kw_only=True)
class Nearness:
    """The sun's first appearance of a day, or its last, and its passage, beside a summit.

    touch: when and where it appears. offset_deg, behind: as `Backlight` has them.
    """

    view: View
    touch: Touch
    offset_deg: float
    behind: bool

    @cached_property
    def passage(self) -> tuple[Showing, ...]:
        """As `Backlight` has it."""
        view, touch = self.view, self.touch
        begun = touch.appears - (_NIGHT if touch.evening else dt.timedelta())
        higher_deg = max(view.sky_from_deg, touch.sun_altitude_deg) + _ABOVE_DEG
        up_to_deg = min(max(UP_TO_DEG, higher_deg), 90.0)
        return _passage(view, begun.date(), up_to_deg, touch.evening)

    @property
    def nearest(self) -> Nearest | None:
        """The moment of the passage at which the sun is nearest to the summit."""
        moments = (each for showing in self.passage for each in showing.nearest)
        return min(moments, key=lambda each: each.apart_deg, default=None)

    @cached_property
    def best(self) -> Best:
        """As it appears behind the hill, or where the sun is nearest, if that is nearer."""
        nearest, aside_deg = self._nearest_low, abs(self.offset_deg)
        if nearest is None or (self.behind and aside_deg <= nearest.apart_deg):
            return Best(BestAt.CONTACT, self.touch.appears, aside_deg)
        return Best(BestAt.PASSAGE, nearest.at, nearest.apart_deg)

    @property
    def _nearest_low(self) -> Nearest | None:
        """The nearest, while the light is good."""
        nearest = self.nearest
        return nearest if nearest and nearest.sun_altitude_deg <= UP_TO_DEG else None

    def first_within(self, tolerance_deg: float) -> bool:
        """Whether it appears behind the hill, no farther than that from its summit."""
        return self.behind and abs(self.offset_deg) <= tolerance_deg

    def within(self, tolerance_deg: float) -> bool:
        """Whether it comes so near to a summit in sight: as it appears behind it, or later.

        Later is no higher than 6 degrees.
        """
        if self.first_within(tolerance_deg) or not self.view.visible:
            return self.first_within(tolerance_deg)
        return self._nearest_low is not None and self._nearest_low.apart_deg <= tolerance_deg


@lru_cache(maxsize=4)
def _passage(view: View, day: dt.date, up_to_deg: float, evening: bool) -> tuple[Showing, ...]:
    """The last are kept: what holds by them is looked at whole, and asks for the same."""
    toward = view.azimuth_deg, view.sky_from_deg
    return sun_passage(view.skyline, day, up_to_deg=up_to_deg, evening=evening, toward=toward)


def nearness(scene: Scene, view: View, day: dt.date, *, evening: bool = False) -> Nearness:
    """How near the sun comes on a local day to the hill of a view; errors of `backlight`."""
    return nearness_of(scene, view, first_touch(view.skyline, day, evening=evening))


def nearness_of(scene: Scene, view: View, touch: Touch) -> Nearness:
    """The same of a known appearance."""
    level = math.cos(math.radians(touch.altitude_deg))
    return Nearness(
        view=view,
        touch=touch,
        offset_deg=float(wrap_deg(touch.azimuth_deg - view.azimuth_deg)) * level,
        behind=is_behind(scene, view, touch),
    )
