"""What the kernels are told of the air."""

from __future__ import annotations

from functools import cache

from terrain.glow._path_kernels import Media
from terrain.glow.air import ClearAir
from terrain.glow.layers import layers_of
from terrain.glow.spectrum import bands_of


@cache
def media_of(air: ClearAir, count: int) -> Media:
    """Layers and bands of this air.

    Of the light that haze scatters a share of asymmetry² goes so little aside that it is counted
    to the beam wherever light is scattered again (delta-M, Wiscombe 1977, J. Atmos. Sci. 34, 1408).
    """
    bands = bands_of(air, count)
    scattered = air.aerosol_albedo * bands.haze
    kept = air.aerosol_asymmetry**2
    return Media(
        layers=layers_of(air),
        molecules=bands.molecules,
        haze=bands.haze,
        passed=bands.haze - kept * scattered,
        scattered=scattered,
        aside=(1.0 - kept) * scattered,
        ozone=bands.ozone,
    )
