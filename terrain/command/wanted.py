"""What a picture is to show, as options of the commands that look for places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import terrain
from terrain.command.area import Area
from terrain.command.kit_asked import KitOptions
from terrain.command.options import Against, Evening, option

MistShare = Annotated[
    float,
    option(
        "SHARE",
        "With a mist: least share of it in the frame under the sky, 0 to 1.",
        default=...,
        least=0.0,
        most=1.0,
    ),
]


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What a picture is to show, and with which lens it will be taken."""

    evening: Evening = False
    against: Against = None
    mist_share: MistShare = 0.05
    lens: float | None = option(
        "MM",
        "The lens that will be used: hill, mist and sun are to fit into its frame.",
        above=0.0,
        most=10_000.0,
    )

    def limits(self, area: Area, **others: Any) -> terrain.Limits:
        """What a vantage must keep to, these and others."""
        against: Any = self.against and self.against.lower()
        field_deg = self._field_deg(area)
        return terrain.Limits(
            mist_share=self.mist_share, against=against, field_deg=field_deg, **others
        )

    def _field_deg(self, area: Area) -> tuple[float, float] | None:
        """Width and height of what the lens takes in on the sensor of the area; None of none."""
        from terrain.frame.lens import Frame

        if self.lens is None:
            return None
        sensor = KitOptions(lens=None, sensor=None).over(area).sensor
        held = Frame(azimuth_deg=0.0, altitude_deg=0.0, focal_mm=self.lens, sensor=sensor)
        return held.field_deg
