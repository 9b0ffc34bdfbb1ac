"""What the air is made of that sunlight passes through, as far as it scatters or swallows light."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Final

from terrain.errors import TerrainError

_LIMITS: Final = {
    "aerosol_optical_depth": (0.0, 3.0),
    "aerosol_scale_height_m": (200.0, 8000.0),
    "aerosol_angstrom": (-0.5, 3.0),
    "aerosol_albedo": (0.0, 1.0),
    "aerosol_asymmetry": (0.0, 0.95),
    "inversion_top_m": (0.0, 10_000.0),
    "inversion_factor": (1.0, 100.0),
    "stratospheric_optical_depth": (0.0, 0.5),
    "ozone_du": (0.0, 700.0),
    "ground_albedo": (0.0, 1.0),
    "sea_level_pressure_hpa": (850.0, 1100.0),
}


@dataclass(frozen=True, kw_only=True)
class ClearAir:
    """Cloudless air over a round earth of sea; the defaults are clear air of mountains.

    Molecules thin out as in the U.S. Standard Atmosphere 1976; ozone lies between 10 and 40 km,
    thickest at 25 km (Bruneton 2017, IEEE Trans. Vis. Comput. Graph. 23, 2641).

    Attributes
    ----------
    aerosol_optical_depth : float
        Vertical optical depth of haze at 550 nm from sea level upwards, without what the inversion
        adds and without the stratosphere's; 0.064 is the clean continental air of OPAC (Hess and
        others 1998, Bull. Amer. Meteor. Soc. 79, 831; from memory).
    aerosol_scale_height_m : float
        Height in which haze thins to 1/e (1200 m: Bruneton 2017).
    aerosol_angstrom : float
        Exponent with which the optical depth falls with wavelength (from memory, as OPAC).
    aerosol_albedo : float
        What share of the light that haze takes from a beam it scatters (from memory, as OPAC).
    aerosol_asymmetry : float
        Mean cosine of the angle by which haze scatters (from memory, as OPAC).
    inversion_top_m : float
        Height above the sea under which haze is thicker, metres; 0 is without an inversion.
    inversion_factor : float
        How many times thicker it is there.
    stratospheric_optical_depth : float
        Optical depth at 550 nm of the droplets about 20 km up, without which no dusk turns purple;
        0.002 to 0.005 is ordinary between eruptions (from memory).
    ozone_du : float
        Column of ozone, Dobson units (300 to 350 are ordinary in middle latitudes, from memory).
    ground_albedo : float
        What share of light the ground throws back, grey.
    sea_level_pressure_hpa : float
        Pressure of the air at sea level, hPa.

    Raises
    ------
    TerrainError
        If a value is outside what air can be.

    Examples
    --------
    >>> import terrain
    >>> round(terrain.ClearAir().visibility_m() / 1000.0)
    60
    >>> round(terrain.ClearAir().visibility_m(height_m=1500.0) / 1000.0)
    156
    """

    aerosol_optical_depth: float = 0.064
    aerosol_scale_height_m: float = 1200.0
    aerosol_angstrom: float = 1.3
    aerosol_albedo: float = 0.97
    aerosol_asymmetry: float = 0.70
    inversion_top_m: float = 0.0
    inversion_factor: float = 1.0
    stratospheric_optical_depth: float = 0.002
    ozone_du: float = 320.0
    ground_albedo: float = 0.15
    sea_level_pressure_hpa: float = 1013.25

    def __post_init__(self) -> None:
        for field in fields(self):
            value, (low, high) = getattr(self, field.name), _LIMITS[field.name]
            if not low <= value <= high:
                raise TerrainError(
                    f"{field.name} of the air {value:g} is not between {low:g} and {high:g}"
                )

    def visibility_m(self, *, height_m: float = 0.0) -> float:
        """How far a dark hill is seen against the sky in level air, metres.

        height_m: metres above the sea. The contrast is then 2 % (Koschmieder 1924: 3.912 over the
        extinction at 550 nm).
        """
        molecules = 1.163e-5 * math.exp(-height_m / 9000.0)
        haze = self.aerosol_optical_depth / self.aerosol_scale_height_m
        haze *= math.exp(-height_m / self.aerosol_scale_height_m)
        thicker = self.inversion_factor if height_m < self.inversion_top_m else 1.0
        return 3.912 / (molecules + haze * thicker)
