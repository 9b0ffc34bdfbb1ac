"""How sure the figures of a morning are, cause by cause.

One cause shifts the moment of the sun's appearance and its place beside the summit together; the
causes themselves are independent, and so add as squares::

    raster --.
    position --> altitude of the skyline --> moment --> place beside the summit
    refraction -'                            position aside ----^
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.ground.accuracy import AltitudeDoubt
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact

__all__ = ["OffsetDoubt", "TimeDoubt", "offset_doubt", "when_clear", "when_it_appears"]


@dataclass(frozen=True, kw_only=True)
class TimeDoubt:
    """The parts of a moment's standard deviation, seconds.

    raster_s: from the heights; position_s: from where the spot really is; refraction_s: from the
    air, of sight lines and of the sun.

    >>> TimeDoubt(raster_s=30.0, position_s=0.0, refraction_s=40.0).total_s
    50.0
    """

    raster_s: float
    position_s: float
    refraction_s: float

    @property
    def total_s(self) -> float:
        """The parts together."""
        return math.hypot(self.raster_s, self.position_s, self.refraction_s)


@dataclass(frozen=True, kw_only=True)
class OffsetDoubt:
    """The parts of the standard deviation of an angle beside the summit, degrees."""

    raster_deg: float
    position_deg: float
    refraction_deg: float

    @property
    def total_deg(self) -> float:
        """The parts together."""
        return math.hypot(self.raster_deg, self.position_deg, self.refraction_deg)


def when_it_appears(contact: Contact) -> TimeDoubt:
    """The doubt of the moment at which the sun appears."""
    return _in_time(contact.doubt, contact.uncertainty_s)


def when_clear(contact: Contact) -> TimeDoubt | None:
    """The doubt of the moment at which all of the sun stands free, None where that is unknown."""
    if contact.clears_doubt is None:
        return None
    return _in_time(contact.clears_doubt, contact.clears_uncertainty_s)


def offset_doubt(answer: Backlight) -> OffsetDoubt:
    """The doubt of where the sun appears beside the summit.

    A spot that is not quite where it was meant to be changes the summit's direction besides.
    """
    contact = answer.contact
    sideways = contact.uncertainty_deg * math.cos(math.radians(contact.altitude_deg))
    bearing = math.sqrt(max(answer.uncertainty_deg**2 - sideways**2, 0.0))
    per_deg = _per(contact.doubt.total_deg, sideways)
    return OffsetDoubt(
        raster_deg=per_deg * contact.doubt.raster_deg,
        position_deg=math.hypot(per_deg * contact.doubt.position_deg, bearing),
        refraction_deg=per_deg * contact.doubt.refraction_deg,
    )


def _in_time(doubt: AltitudeDoubt, uncertainty_s: float) -> TimeDoubt:
    per_deg = _per(doubt.total_deg, uncertainty_s)
    return TimeDoubt(
        raster_s=per_deg * doubt.raster_deg,
        position_s=per_deg * doubt.position_deg,
        refraction_s=per_deg * doubt.refraction_deg,
    )


def _per(altitude_deg: float, figure: float) -> float:
    """How much of a figure a degree of altitude makes."""
    return figure / altitude_deg if altitude_deg > 0.0 else 0.0
