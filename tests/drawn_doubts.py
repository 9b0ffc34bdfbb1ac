"""The ± of a moment, and its spread where every input is drawn at random (seeded).

The sun of the draws is that of the slow twin, which shares nothing with the package.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from terrain.ground.accuracy import Accuracy
from terrain.plan.stages import when_clear, when_it_appears
from terrain.view.contact import sun_contact
from tests.scenes import Floats, ring
from tests.twin import Sky

SLANTS: Final = (0.0, 0.25, -0.25)
"""Slopes of the skyline where the sun comes up, degrees of altitude a degree of azimuth."""

CAUSES: Final = ("raster", "position", "refraction", "raster position refraction")
DAY: Final = dt.date(2026, 3, 20)
ACCURACY: Final = Accuracy(raster_m=2.0, position_m=8.0, refraction=0.12)
SPOT_SLOPE, DISTANCE_M, RADIUS_M, DRAWS = 0.3, 6000.0, 6_371_000.0, 600


class Together(NamedTuple):
    """A moment and an azimuth: what is told of them, and how the draws of all inputs spread."""

    middle_s: float
    told_s: float
    drawn_s: float
    told_deg: float
    drawn_deg: float


class Part(NamedTuple):
    """One moment ("appears" or "clear") and the part of its ± that some causes make, seconds."""

    moment: str
    told_s: float
    drawn_s: float


def lowered_deg(rng: np.random.Generator, causes: str) -> tuple[Floats, Floats, Floats]:
    """How far each draw lowers the skyline, and moves it aside, degrees; and errors of the air."""
    own, far = rng.normal(0.0, ACCURACY.raster_m, (2, DRAWS)) * ("raster" in causes)
    along, aside = rng.normal(0.0, ACCURACY.position_m, (2, DRAWS)) * ("position" in causes)
    k = rng.normal(0.0, ACCURACY.refraction, DRAWS) * ("refraction" in causes)
    air = rng.normal(0.0, 0.1, DRAWS) * ("refraction" in causes)
    lower = (far - own - SPOT_SLOPE * along) / DISTANCE_M + k * DISTANCE_M / (2.0 * RADIUS_M)
    return np.degrees(lower), np.degrees(aside / DISTANCE_M), air


def drawn_together(slant: float) -> Together:
    """The ± of the first appearance, all inputs together, over a skyline that slopes."""
    skyline = ring(lambda a: 2.0 + slant * (a - 93.0), distance_m=DISTANCE_M)
    found = sun_contact(skyline, DAY, accuracy=ACCURACY, spot_slope=SPOT_SLOPE)
    lower, aside, air = lowered_deg(np.random.default_rng(20), CAUSES[-1])
    since_s = np.arange(-900.0, 900.0, 10.0)
    azimuth, over, lift = _over(found.appears.timestamp() + since_s, slant)
    seconds = [
        np.interp(0.0, (over + a * lift - s).max(axis=1), since_s)
        for a, s in zip(air, lower + slant * aside, strict=True)
    ]
    turns = float(np.polyfit(since_s, azimuth.mean(axis=1), 1)[0])
    return Together(
        middle_s=float(np.median(seconds)),
        told_s=found.uncertainty_s,
        drawn_s=float(np.std(seconds)),
        told_deg=found.uncertainty_deg,
        drawn_deg=turns * float(np.cos(np.radians(2.0)) * np.std(seconds)),
    )


def drawn_parts(slant: float, causes: str) -> Iterator[Part]:
    """The part of the ± of both moments that some causes make; the rim free wholly or in part."""
    skyline = ring(lambda a: 2.0 + slant * (a - 93.0), distance_m=DISTANCE_M)
    found = sun_contact(skyline, DAY, accuracy=ACCURACY, spot_slope=SPOT_SLOPE)
    assert found.clears is not None
    lower, aside, air = lowered_deg(np.random.default_rng(7), causes)
    since_s = np.arange(-900.0, 1200.0, 10.0)
    for name, moment, doubt, least in (
        ("appears", found.appears, when_it_appears(found), False),
        ("clear", found.clears, when_clear(found), True),
    ):
        assert doubt is not None
        _, over, lift = _over(moment.timestamp() + since_s, slant)
        heights = (over + a * lift - s for a, s in zip(air, lower + slant * aside, strict=True))
        rims = (h.min(axis=1) if least else h.max(axis=1) for h in heights)
        spread_s = float(np.std([np.interp(0.0, rim, since_s) for rim in rims]))
        yield Part(name, getattr(doubt, f"{causes}_s", doubt.total_s), spread_s)


def _over(times: Floats, slant: float) -> tuple[Floats, Floats, Floats]:
    """Azimuths of the rim, how high it stands over the skyline, and how far the air lifts it."""
    sky = Sky(-24.0, 54.4, 100.0)
    azimuth, apparent = sky.rim(times)
    lift = (sky.lifted(sky.true(times)[1]) - sky.true(times)[1])[:, np.newaxis]
    return azimuth, apparent - (2.0 + slant * (azimuth - 93.0)), lift
