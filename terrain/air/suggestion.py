"""Heights to try for the top of a mist, from a sounding, with what speaks for and against it.

Valley mist is cold, saturated air under a lid of warmer air::

      warmer, dry            wind over the pool stirs it, if the lid is weak for that wind
    . . . . . . . . . . . .  lid's top: no mist above it
      warming with height    <- the mist's top is somewhere in here
    . . . . . . . . . . . .  up to here the air is saturated, or the lid's base
      cold, moist
    ^^^^^^^^^^^^^^^^^^^^^^^  valley floor
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.air.inversion import LEAST_STRENGTH_K, Inversion, find_inversions
from terrain.air.objections import dry_at_ground, dry_under, not_known, tearing_wind, wind_at_ground
from terrain.air.physics import (
    DRY_ADIABATIC_K_PER_KM,
    NEAR_SATURATION_K,
    SATURATED_PERCENT,
    STANDARD_LAPSE_K_PER_KM,
    condensation_pressure_hpa,
)
from terrain.air.sounding import Sounding, interpolate
from terrain.errors import TerrainError

NOT_A_FORECAST: Final = (
    "This suggests heights to try; it is not a forecast, and does not say that there will be mist."
)

_REACH_M: Final = 1500.0
"""A lid whose base is higher than this above the valley floor is not one of valley mist, metres
(common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class MistSuggestion:
    """Heights to try for the top of a mist, and the reasons; not a forecast.

    Attributes
    ----------
    range_m : tuple of float, or None
        The lowest and the highest, metres above sea level; None where there is no reason to try
        any.
    reasons : tuple of str
        What the range rests on, one sentence each.
    against : tuple of str
        What speaks against mist.
    cautions : tuple of str
        What this cannot know.

    Examples
    --------
    >>> import terrain
    >>> tried = terrain.suggest_from_two_thermometers((210, 2.5, 98), (540, 6.0))
    >>> tried.range_m
    (210, 540)
    """

    range_m: tuple[float, float] | None
    reasons: tuple[str, ...]
    against: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def headline(self) -> str:
        """The answer in one sentence."""
        if self.range_m is None:
            return "No height to try for the top of a mist."
        lowest, highest = (f"{height_m:.0f}" for height_m in self.range_m)
        heights = f"{lowest} m" if lowest == highest else f"{lowest} to {highest} m"
        if not self.against:
            return f"Heights to try for the top of a mist: {heights}."
        return f"Heights to try for the top of a mist, if there is one: {heights}."

    @property
    def text(self) -> str:
        """The whole of it in words, a sentence a line."""
        against = [f"Against mist: {sentence}" for sentence in self.against]
        return "\n".join([self.headline, *self.reasons, *against, *self.cautions])


def suggest_mist_top(sounding: Sounding, ground_m: float | None = None) -> MistSuggestion:
    """Heights to try for the top of the mist that the air of a sounding could hold.

    Of several lids over the floor the lowest one over saturated air is taken, or else the lowest
    over nearly saturated air, or else the lowest. The range goes from the height to which the air
    is saturated, or the lid's base, to the lid's top. There is none without a lid.

    Parameters
    ----------
    sounding : Sounding
        The air.
    ground_m : float, optional
        Height of the valley floor, metres above sea level; the ground of the sounding unless given.

    Returns
    -------
    MistSuggestion
        The range, what it rests on, and what speaks against mist.

    Raises
    ------
    TerrainError
        Where the floor is not under the top of the sounding.

    Examples
    --------
    >>> night = Sounding(
    ...     pressure_hpa=np.array([1000, 990, 960]), height_m=np.array([110, 195, 450]),
    ...     temperature_c=np.array([2.0, 5.0, 4.0]), dewpoint_c=np.array([2.0, 1.0, -3.0]),
    ...     wind_speed_ms=np.array([0.0, 1.0, 3.0]), wind_from_deg=np.array([0, 90, 90]),
    ... )
    >>> suggest_mist_top(night).headline
    'Heights to try for the top of a mist: 127 to 195 m.'
    """
    floor_m = sounding.ground_m if ground_m is None else float(ground_m)
    if not -500.0 <= floor_m < sounding.top_m:
        raise TerrainError(
            f"the valley floor must lie under the top of the sounding, {sounding.top_m:g} m, "
            f"got {floor_m:g} m"
        )
    lids = _lids(sounding, floor_m, LEAST_STRENGTH_K)
    if not lids:
        return _without_lid(sounding, floor_m)
    saturated = [lid for lid in lids if lid.saturated]
    moist = [lid for lid in lids if lid.spread_k <= NEAR_SATURATION_K]
    lid = (saturated or moist or lids)[0]
    return MistSuggestion(
        range_m=_range(lid, floor_m),
        reasons=(*_about_lid(sounding, lid), *_about_others(lids, lid)),
        against=(*dry_under(lid, floor_m), *wind_at_ground(sounding), *tearing_wind(sounding, lid)),
        cautions=tuple(_cautions(sounding, floor_m, lid)),
    )


def _lids(sounding: Sounding, floor_m: float, least_k: float) -> list[Inversion]:
    """The inversions that could lie on mist over a valley floor, lowest first."""
    within_m = max(floor_m + _REACH_M - sounding.ground_m, 0.0)
    found = find_inversions(sounding, least_k=least_k, within_m=within_m)
    return [lid for lid in found if lid.top_m > floor_m]


def _range(lid: Inversion, floor_m: float) -> tuple[float, float]:
    lowest_m = lid.saturated_to_m if lid.saturated else lid.base_m
    if not lid.on_ground:
        # mixed air under a lid aloft is often saturated close to the base alone
        lowest_m = min(lowest_m, lid.base_m)
    return max(lowest_m, floor_m), lid.top_m


def _about_lid(sounding: Sounding, lid: Inversion) -> Iterator[str]:
    where = "on the ground" if lid.on_ground else f"{lid.base_m - sounding.ground_m:.0f} m above it"
    yield (
        f"The ground of the sounding is at {sounding.ground_m:.0f} m, and there is an inversion "
        f"{where}: the air warms from {lid.base_temperature_c:.1f} °C at {lid.base_m:.0f} m to "
        f"{lid.top_temperature_c:.1f} °C at {lid.top_m:.0f} m, {lid.strength_k:.1f} K over "
        f"{lid.depth_m:.0f} m."
    )
    yield f"Mist is the cold air under this lid: its top lies no higher than {lid.top_m:.0f} m."
    if lid.saturated:
        place = "at the ground" if lid.on_ground else "under the lid"
        yield (
            f"The air {place} is saturated ({lid.humidity_percent:.0f} % humidity), up to about "
            f"{lid.saturated_to_m:.0f} m: mist may already reach that high."
        )
    if not lid.on_ground:
        yield (
            f"Mist that fills all the air under a lid aloft ends near the lid's base: begin with "
            f"{lid.base_m:.0f} m."
        )
        yield from _about_cloud_base(sounding, lid)


def _about_cloud_base(sounding: Sounding, lid: Inversion) -> Iterator[str]:
    """Where the underside of the mist is, if it hangs clear of the ground."""
    ground = int(np.argmax(sounding.height_m == sounding.ground_m))
    temperature, dew_point = sounding.temperature_c[ground], sounding.dewpoint_c[ground]
    pressure = sounding.pressure_hpa[ground]
    if math.isnan(dew_point + pressure) or sounding.humidity_percent[ground] >= SATURATED_PERCENT:
        return
    base_hpa = condensation_pressure_hpa(float(pressure), float(temperature), float(dew_point))
    # the logarithm of pressure is nearly linear in height
    known = ~np.isnan(sounding.pressure_hpa)
    depth, heights_m = -np.log(sounding.pressure_hpa[known]), sounding.height_m[known]
    base_m = float(np.interp(-math.log(base_hpa), depth, heights_m))
    if base_m < lid.top_m:
        yield (
            f"Air lifted from the ground forms cloud at about {base_m:.0f} m: what is a sea of "
            "mist from above is a grey ceiling with clear air under it from below."
        )


def _about_others(lids: list[Inversion], chosen: Inversion) -> Iterator[str]:
    for lid in lids:
        over = f", over air of at most {lid.humidity_percent:.0f} % humidity"
        if lid is not chosen:
            yield (
                f"There is another inversion from {lid.base_m:.0f} to {lid.top_m:.0f} m, of "
                f"{lid.strength_k:.1f} K{'' if math.isnan(lid.humidity_percent) else over}."
            )


def _without_lid(sounding: Sounding, floor_m: float) -> MistSuggestion:
    return MistSuggestion(
        range_m=None,
        reasons=tuple(_about_no_lid(sounding, floor_m)),
        against=(
            "there is no inversion to hold cold air down: it mixes with the air above.",
            *dry_at_ground(sounding),
            *wind_at_ground(sounding),
        ),
        cautions=tuple(_cautions(sounding, floor_m, None)),
    )


def _about_no_lid(sounding: Sounding, floor_m: float) -> Iterator[str]:
    low_m, top_m = max(floor_m, sounding.ground_m), min(floor_m + _REACH_M, sounding.top_m)
    yield (
        f"The ground of the sounding is at {sounding.ground_m:.0f} m; no inversion of "
        f"{LEAST_STRENGTH_K:g} K or more begins between {low_m:.0f} and {top_m:.0f} m."
    )
    weak = _lids(sounding, floor_m, 0.0)
    if weak:
        lid = max(weak, key=lambda lid: lid.strength_k)
        yield (
            f"The most the air warms with height there is {lid.strength_k:.1f} K, from "
            f"{lid.base_m:.0f} to {lid.top_m:.0f} m: hardly more than the thermometer's error, and "
            "too little to count on as a lid."
        )
    high_m = min(low_m + 1000.0, sounding.top_m)
    low_c, high_c = interpolate(sounding.height_m, sounding.temperature_c, [low_m, high_m])
    lapse = 1000.0 * (low_c - high_c) / (high_m - low_m)
    yield (
        f"Temperature falls by {lapse:.1f} K/km from {low_m:.0f} to {high_m:.0f} m (standard "
        f"atmosphere {STANDARD_LAPSE_K_PER_KM:g}, stirred dry air {DRY_ADIABATIC_K_PER_KM:g})."
    )


def _cautions(sounding: Sounding, floor_m: float, lid: Inversion | None) -> Iterator[str]:
    source = ", ".join(part for part in (sounding.station, sounding.time) if part)
    yield NOT_A_FORECAST
    yield (
        f"It holds for the air over the station at the time of the ascent"
        f"{f' ({source})' if source else ''}; a valley makes cold air of its own."
    )
    if floor_m < sounding.ground_m:
        yield (
            f"The air between the valley floor at {floor_m:.0f} m and the ground of the sounding "
            f"at {sounding.ground_m:.0f} m was not measured."
        )
    if lid is not None and lid.top_m >= sounding.top_m:
        yield (
            f"The sounding ends at {sounding.top_m:.0f} m inside the inversion: its top may be "
            "higher."
        )
    yield from not_known(sounding, lid)
