"""The light of sun and sky, and the colours of the pictures as they are seen."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

import terrain
from docs.checks.check import Check, Row, numbers
from terrain.glow.layers import LAYER_M, layers_of, standard_density
from terrain.glow.spectrum import AIR_PER_M3, BANDS, LUMINANCE, bands_of, rayleigh_m2
from terrain.show.paper import palette
from tests.authorities import colour_vision, daylight
from tests.glow.lux import HAZY, lux
from tests.show.paper.seen import NEIGHBOURS, as_seen, contrast

_LIGHT, _COLOURS = "The light of the pictures", "The colours of the maps"


def checks() -> Iterator[Check]:
    """All checks of light and colours."""
    yield from (_ground(), _dusk(), _molecules(), _density(), _constant())
    yield from (_contrast(), _vision())


def _ground() -> Check:
    rows = []
    for sun_deg in (-10, -6, -4, -2, 0, 2, 6, 10, 20, 40):
        theirs = daylight.ground_illuminance_lux(sun_deg)
        ours = lux(HAZY, float(sun_deg))
        off = 100.0 * (ours / theirs - 1.0)
        rows.append(Row(f"sun at {sun_deg}°", f"{theirs:.3g}", f"{ours:.3g}", off))
    names = ("GROUND_ILLUMINANCE", "ground_illuminance_lux")
    but = (
        "Lux on level ground. The table does not say how hazy its air was; ours has an optical "
        "depth of 0.2."
    )
    return Check("How bright it is", _LIGHT, "daylight", names, "%", 0, rows, but)


def _dusk() -> Check:
    rows = []
    ends = zip((-0.833, -6.0), daylight.CIVIL_DUSK_LUX.items(), strict=True)
    for sun_deg, (name, (least, most)) in ends:
        ours = lux(HAZY, sun_deg)
        off = ours - min(max(ours, least), most)
        rows.append(Row(f"it {name}", f"{least:g} to {most:g}", f"{ours:.3g}", off))
    names = ("CIVIL_DUSK_LUX",)
    but = "The difference is how far beyond the span ours lies."
    return Check("Civil dusk", _LIGHT, "daylight", names, "lux", 2, rows, but)


def _molecules() -> Check:
    column_m = layers_of(terrain.ClearAir())[:, 0].sum() * LAYER_M

    def depth(wavelength: float) -> float:
        return float(rayleigh_m2(np.array([wavelength]))[0] * AIR_PER_M3 * column_m)

    pairs = {"550 nm, Bodhaine": (daylight.RAYLEIGH_DEPTH_550, depth(550.0))}
    pairs |= {
        f"{nm:.0f} nm, Hansen and Travis": (daylight.hansen_travis_depth(nm), depth(nm))
        for nm in (400.0, 450.0, 650.0, 700.0)
    }
    names = ("RAYLEIGH_DEPTH_550", "hansen_travis_depth")
    rows = numbers(pairs, 4)
    return Check("What molecules scatter", _LIGHT, "daylight", names, "", 4, rows)


def _density() -> Check:
    rows = []
    for height, theirs in daylight.STANDARD_DENSITY.items():
        ours = 1.225 * float(standard_density(np.array([height]))[0])
        off = 100.0 * (ours / theirs - 1.0)
        rows.append(Row(f"at {height:.0f} m", f"{theirs:.5g}", f"{ours:.5g}", off))
    names = ("STANDARD_DENSITY",)
    return Check("Air at heights", _LIGHT, "daylight", names, "%", 3, rows)


def _constant() -> Check:
    ours = float(bands_of(terrain.ClearAir(), BANDS).to_rgb.sum(axis=1) @ LUMINANCE)
    theirs = daylight.SOLAR_CONSTANT_LUX
    row = Row("lux", f"{theirs:.0f}", f"{ours:.0f}", 100.0 * (ours / theirs - 1.0))
    names = ("SOLAR_CONSTANT_LUX",)
    return Check("Sunlight outside the air", _LIGHT, "daylight", names, "%", 2, [row])


def _contrast() -> Check:
    pairs = {
        "words on paper": (palette.INK, palette.PAPER, colour_vision.TEXT_CONTRAST),
        "small words on paper": (palette.QUIET, palette.PAPER, colour_vision.TEXT_CONTRAST),
        "a shore on mist": (palette.SHORE, palette.MIST, colour_vision.MARK_CONTRAST),
        "the sun on low sky": (palette.SUN, palette.SKY_LOW, colour_vision.MARK_CONTRAST),
        "a path on mist": (palette.PATH, palette.MIST, colour_vision.MARK_CONTRAST),
    }
    rows = []
    for what, (first, second, least) in pairs.items():
        ours = contrast(first, second)
        rows.append(Row(what, f"at least {least:g}", f"{ours:.1f}", min(ours - least, 0.0)))
    names = ("TEXT_CONTRAST", "MARK_CONTRAST")
    title = "Contrast on paper"
    but = "Ratios of luminances; the difference is how far ours falls short."
    return Check(title, _COLOURS, "colour_vision", names, "", 1, rows, but)


def _vision() -> Check:
    rows = []
    for name in ("DEUTERANOPIA", "PROTANOPIA"):
        matrix = getattr(colour_vision, name)
        least = min(
            abs(
                colour_vision.lightness(as_seen(first, matrix))
                - colour_vision.lightness(as_seen(second, matrix))
            )
            for first, second in NEIGHBOURS
        )
        what = f"{name.lower()}, the least of {len(NEIGHBOURS)} pairs"
        rows.append(Row(what, "told apart", f"{least:.0f}", None))
    names = ("DEUTERANOPIA", "PROTANOPIA", "lightness")
    but = (
        "How far two colours that lie beside each other differ in lightness, 0 to 100, to a "
        "reader who sees colours so."
    )
    return Check("Colours as others see them", _COLOURS, "colour_vision", names, "", 0, rows, but)
