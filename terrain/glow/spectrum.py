"""Light in bands of wavelength: what air does to each, and what colour they make together.

Within the room light is counted in the sun's own: 1 in each band is sunlight outside the air. Only
the way to colours knows how much that is.
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats, sealed
from terrain.glow.air import ClearAir

BANDS: Final = 12
"""Enough: the sky has the colours of 36 within 1 %, the reddest sun within 4 (see the tests)."""

LUMEN_PER_WATT: Final = 683.0
DOBSON_PER_M2: Final = 2.687e20
"""Molecules in a column of one Dobson unit, 1/m²."""
AIR_PER_M3: Final = 2.546899e25
"""Molecules in air of 288.15 K and 1013.25 hPa, 1/m³ (Bodhaine and others 1999)."""

_FIRST_NM: Final = 380.0
_FINE_NM: Final = 10.0


def _row(text: str) -> Floats:
    return sealed(np.array([float(number) for number in text.split()]))


# means over 380-390, 390-400 ... 730-740 nm
_SUN: Final = _row("""
    1.015 1.158 1.720 1.734 1.669 1.643 1.924 2.031 2.018 2.029 1.932 1.952
    1.917 1.827 1.870 1.889 1.855 1.847 1.836 1.835 1.809 1.784 1.751 1.696
    1.680 1.644 1.600 1.523 1.555 1.509 1.473 1.445 1.409 1.365 1.341 1.312""")
"""Sunlight outside the air, W/m² nm (ASTM G173-03, its extraterrestrial column)."""

_OZONE_M2: Final = 1e-26 * _row("""
    0.02818 0.06636 0.1527 0.2763 0.5520 0.8451 1.582 2.316 3.669 4.924 7.752 9.016
    14.80 16.02 21.39 27.55 30.91 35.00 42.66 46.72 43.98 47.01 50.19 43.05
    37.40 32.15 26.62 22.38 18.52 14.73 12.09 9.423 7.455 6.566 5.105 4.150""")
"""Cross section of ozone at 233 K (Serdyuchenko and others 2014, Atmos. Meas. Tech. 7, 625, as the
means of Bruneton 2017)."""


class Bands(NamedTuple):
    """What air does to light of each band; arrays are (bands,).

    wavelength_nm: their middle. molecules: scattering by air of the density at sea level in the
    standard atmosphere, 1/m. haze: extinction by haze over that at 550 nm. ozone: cross section,
    m². to_rgb: (3, bands), from light in suns to linear sRGB, whose luminance is in candela a
    square metre, or in lux where it is light on a surface.
    """

    wavelength_nm: Floats
    molecules: Floats
    haze: Floats
    ozone: Floats
    to_rgb: Floats


@cache
def bands_of(air: ClearAir, count: int) -> Bands:
    """The bands of light between 380 and 740 nm, so many, as this air knows them.

    count: 3, 4, 6, 9, 12, 18 or 36. Means over a band are weighted by what the eye sees of
    sunlight in it.
    """
    fine_nm: Floats = _FIRST_NM + _FINE_NM * (np.arange(_SUN.size, dtype=np.float64) + 0.5)
    seen = colour_matching(fine_nm) * _SUN
    weights = seen.sum(axis=0).reshape(count, -1)

    def mean(values: Floats) -> Floats:
        total = (values.reshape(count, -1) * weights).sum(axis=1)
        return sealed(np.asarray(total / weights.sum(axis=1)))

    xyz = LUMEN_PER_WATT * _FINE_NM * seen.reshape(3, count, -1).sum(axis=2)
    return Bands(
        wavelength_nm=mean(fine_nm),
        molecules=mean(rayleigh_m2(fine_nm) * AIR_PER_M3),
        haze=mean((fine_nm / 550.0) ** -air.aerosol_angstrom),
        ozone=mean(_OZONE_M2),
        to_rgb=sealed(XYZ_TO_RGB @ xyz),
    )


XYZ_TO_RGB: Final = sealed(
    np.array(
        [
            [3.2406, -1.5372, -0.4986],
            [-0.9689, 1.8758, 0.0415],
            [0.0557, -0.2040, 1.0570],
        ]
    )
)
"""From CIE 1931 tristimulus values to linear sRGB (IEC 61966-2-1)."""

LUMINANCE: Final = _row("0.2126 0.7152 0.0722")
"""What each channel of linear sRGB adds to luminance (IEC 61966-2-1)."""


def rayleigh_m2(wavelength_nm: Floats) -> Floats:
    """Cross section by which a molecule of air scatters light, m².

    Source: Bodhaine and others 1999, J. Atmos. Oceanic Technol. 16, 1854, eq. 29.
    """
    square = (wavelength_nm / 1000.0) ** 2
    above = 1.0455996 - 341.29061 / square - 0.90230850 * square
    below = 1.0 + 0.0027059889 / square - 85.968563 * square
    return 1e-32 * above / below


def colour_matching(wavelength_nm: Floats) -> Floats:
    """The CIE 1931 colour matching functions, (3, wavelengths).

    Source: the multi-lobe fit of Wyman, Sloan and Shirley 2013, J. Comput. Graph. Tech. 2(2), 1.
    """

    def lobe(height: float, middle: float, below: float, above: float) -> Floats:
        width = np.where(wavelength_nm < middle, below, above)
        return height * np.exp(-0.5 * ((wavelength_nm - middle) / width) ** 2)

    return np.stack(
        [
            lobe(1.056, 599.8, 37.9, 31.0)
            + lobe(0.362, 442.0, 16.0, 26.7)
            + lobe(-0.065, 501.1, 20.4, 26.2),
            lobe(0.821, 568.8, 46.9, 40.5) + lobe(0.286, 530.9, 16.3, 31.1),
            lobe(1.217, 437.0, 11.8, 36.0) + lobe(0.681, 459.0, 26.0, 13.8),
        ]
    )
