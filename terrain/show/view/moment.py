"""All the light of one moment, as the kernels of a picture take it: from scattering in clear air.

The light of the sky on a surface that leans any way is nine numbers a colour, its spherical
harmonics of the second degree (Ramamoorthi and Hanrahan 2001, Proc. SIGGRAPH, 497), which are
within some per cent of the whole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.glow.air import ClearAir
from terrain.glow.disc import sun_disc
from terrain.glow.haze import haze
from terrain.glow.scattered import lights_of
from terrain.glow.sky import Sky, sky
from terrain.glow.spectrum import BANDS
from terrain.glow.sunlight import sun_seen_deg, sunlight
from terrain.show.view._scenery_kernels import Air
from terrain.sun.path import SunPath
from terrain.view.backlight import Backlight

AIR: Final = ClearAir()

_HEIGHTS: Final = 9
_NODES: Final = (26, 6)
_NODE_DEG: Final = 3.0
_UNDER: Final = 0.75
_BACK: Final = 0.25
"""Albedo of all the ground about, mist or not, as it lights a slope that leans over it."""


def prepare() -> None:
    """Have ready what is the same for every moment: all light that the air has scattered before."""
    lights_of(AIR, BANDS)


@dataclass(frozen=True, kw_only=True)
class Moment:
    """The sun over a spot at a moment, and the light that it makes.

    azimuth_deg: of the sun, from true north; true_deg: its true altitude; both of its centre.
    seen_deg: the altitude at which the air shows it. eye_m: height of the eye above the sea.
    """

    azimuth_deg: float
    true_deg: float
    semidiameter_deg: float
    eye_m: float
    air: ClearAir = AIR

    @cached_property
    def sky(self) -> Sky:
        """The sky over the spot."""
        return sky(self.air, sun_altitude_deg=self.true_deg, eye_height_m=self.eye_m)

    @cached_property
    def seen_deg(self) -> float:
        """Altitude at which the centre of the disc is seen, degrees."""
        return sun_seen_deg(self.air, sun_altitude_deg=self.true_deg, height_m=max(self.eye_m, 0.0))

    def exposure(self, azimuth_deg: float) -> float:
        """For `develop`, of a picture that looks that way: for the sky, so that it keeps colour."""
        return _UNDER * self.sky.exposure(azimuth_from_sun_deg=azimuth_deg - self.azimuth_deg)

    def sun_at(self, low_m: float, high_m: float) -> Floats:
        """Light of the sun on what faces it, lux, at even heights between two, (n, 3)."""
        heights = np.linspace(low_m, high_m, _HEIGHTS)
        light = sunlight(self.air, sun_altitude_deg=self.true_deg, height_m=heights)
        return np.maximum(light, 0.0)

    def sky_at(self, azimuths_deg: Floats, altitudes_deg: Floats) -> Floats:
        """Light of the sky, (altitudes, azimuths, 3)."""
        return self.sky.radiance(
            azimuth_from_sun_deg=azimuths_deg - self.azimuth_deg,
            altitude_deg=altitudes_deg[:, np.newaxis],
        )

    def disc_at(self, azimuths_deg: Floats, altitudes_deg: Floats) -> Floats:
        """Light of the sun's own disc, (altitudes, azimuths, 3)."""
        return sun_disc(
            self.air,
            sun_altitude_deg=self.true_deg,
            azimuth_from_sun_deg=azimuths_deg - self.azimuth_deg,
            altitude_deg=altitudes_deg[:, np.newaxis],
            eye_height_m=self.eye_m,
            semidiameter_deg=self.semidiameter_deg,
        )

    def round(self, turn_deg: float) -> Floats:
        """Light of the sky on surfaces that lean any way, (9, 3), lux; see `sky_on`.

        turn_deg: what a direction on the grid is less than its azimuth from true north.
        """
        altitudes, azimuths = np.arange(-87.0, 90.0, 6.0), np.arange(0.0, 360.0, 10.0)
        above = altitudes > 0.0
        light = np.empty((altitudes.size, azimuths.size, 3))
        light[above] = self.sky_at(azimuths, altitudes[above])
        light[~above] = _BACK / math.pi * (self.sky.irradiance() + self._level_sun())
        part = np.cos(np.radians(altitudes)) * np.radians(6.0) * np.radians(10.0)
        return _harmonics(light * part[:, np.newaxis, np.newaxis], altitudes, azimuths - turn_deg)

    def _level_sun(self) -> Floats:
        light = sunlight(self.air, sun_altitude_deg=self.true_deg, height_m=self.eye_m)
        return np.asarray(light * max(math.sin(math.radians(self.seen_deg)), 0.0))

    def hazes(
        self, azimuths_deg: tuple[float, float], far_m: float, heights_m: tuple[float, float]
    ) -> Air:
        """The air between the eye and all ground within a distance and between two heights."""
        return _hazes(self, azimuths_deg, far_m, heights_m)


def moment_at(answer: Backlight, t_s: float) -> Moment:
    """The light at the spot of a morning or evening, so many seconds along its sun's path."""
    path: SunPath = answer.sun_path
    azimuth, true = path.true_at(t_s)
    return Moment(
        azimuth_deg=float(azimuth),
        true_deg=float(true),
        semidiameter_deg=path.semidiameter_deg,
        eye_m=answer.view.skyline.eye_height_m,
    )


@lru_cache(maxsize=8)
def _hazes(
    moment: Moment, ends_deg: tuple[float, float], far_m: float, heights_m: tuple[float, float]
) -> Air:
    across = max(math.ceil((ends_deg[1] - ends_deg[0]) / _NODE_DEG), 2) + 1
    roots = np.linspace(0.0, math.sqrt(far_m), _NODES[0])
    found = haze(
        moment.air,
        sun_altitude_deg=moment.true_deg,
        azimuth_from_sun_deg=np.linspace(*ends_deg, across) - moment.azimuth_deg,
        distance_m=np.maximum(roots**2, 0.1)[:, np.newaxis, np.newaxis],
        eye_height_m=moment.eye_m,
        target_height_m=np.linspace(*heights_m, _NODES[1])[:, np.newaxis],
    )
    both = np.concatenate([found.transmittance, found.light], axis=-1)
    return Air(haze=both, far_root=math.sqrt(far_m), low_m=heights_m[0], high_m=heights_m[1])


def _harmonics(light: Floats, altitudes_deg: Floats, azimuths_deg: Floats) -> Floats:
    """From light by direction (altitudes, azimuths, 3) to the nine numbers of its irradiance."""
    up, aside = np.radians(altitudes_deg)[:, np.newaxis], np.radians(azimuths_deg)
    east, north = np.cos(up) * np.sin(aside), np.cos(up) * np.cos(aside)
    up = np.sin(up) + 0.0 * east
    # the clamped cosine: pi, 2 pi / 3 and pi / 4 in the three degrees
    first, second, third = 0.25, 0.5, 15.0 / 16.0
    shapes = [
        (np.ones_like(up), first),
        (east, second),
        (north, second),
        (up, second),
        (east * north, third),
        (north * up, third),
        (east * up, third),
        (3.0 * up**2 - 1.0, third / 12.0),
        (east**2 - north**2, third / 4.0),
    ]
    return np.array([k * np.einsum("ij,ijc->c", shape, light) for shape, k in shapes])
