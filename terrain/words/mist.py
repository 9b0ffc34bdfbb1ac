"""What is said of a mist: how much of it there is, where it comes from, what it leaves and does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import geopandas as gpd

from terrain.ground.places import Hill, Spot
from terrain.mist.drainage import CHANNEL_KM2
from terrain.mist.flood import MIN_HOLLOW_M
from terrain.mist.pouring import describe_pouring
from terrain.mist.valley import MAX_FLOOR_SLOPE
from terrain.words.figures import count_of, place, sentence

_MOST_HOLLOWS = 5


def amount_words(*, area_km2: float, volume_m3: float, deepest_m: float) -> str:
    """How much mist there is, in a sentence.

    >>> amount_words(area_km2=12.34, volume_m3=1.5e9, deepest_m=80.2)
    'The mist covers 12.3 km², 1,500 million m³ of it, and is 80 m deep at most.'
    """
    return (
        f"The mist covers {area_km2:.1f} km², {volume_m3 / 1e6:,.0f} million m³ of it, and is "
        f"{deepest_m:.0f} m deep at most."
    )


def origin_words(
    sources: Sequence[Spot | Hill], is_along_floors: bool, least_hollow_m: float | None
) -> str:
    """Where a mist comes from, in a sentence; sources: none where it comes from everywhere.

    least_hollow_m: of a hollow that it wells up in by itself, None for the usual depth.
    """
    places = [spot.name or place(spot.lat_deg, spot.lon_deg) for spot in sources]
    comes = f"It comes from {' and '.join(places)} alone"
    if is_along_floors:
        return (
            f"{f'{comes} and' if places else 'It'} lies along the floors of valleys that drain "
            f"{CHANNEL_KM2:g} km² or more; where they fall more than {100 * MAX_FLOOR_SLOPE:g} m "
            "in 100 m none stays."
        )
    if places:
        return f"{comes}; the raster's edge is a wall to it."
    least_m = MIN_HOLLOW_M if least_hollow_m is None else least_hollow_m
    return (
        "It comes in over every edge of the raster and wells up in closed hollows more than "
        f"{least_m:g} m deep (--hollow)."
    )


def hollow_lines(hollows: gpd.GeoDataFrame) -> Iterator[str]:
    """The ground that stays clear below a mist's top, as `clear_hollows` has it: a line each."""
    yield "Ground below its top that it does not reach stays clear:"
    for _, row in hollows.head(_MOST_HOLLOWS).iterrows():
        yield (
            f"  {row['area_km2']:.2f} km² about {place(row.geometry.y, row.geometry.x)}, down "
            f"to {row['floor_m']:.0f} m, {row['depth_m']:.0f} m below the top"
        )
    if len(hollows) > _MOST_HOLLOWS:
        rest = hollows.iloc[_MOST_HOLLOWS:]
        yield f"  and {len(rest)} more, {rest['area_km2'].sum():.2f} km² together"


def pour_lines(poured: gpd.GeoDataFrame, most: int) -> Iterator[str]:
    """The passes that a mist pours over, as `pouring` has them, so many at most."""
    for _, row in poured.head(most).iterrows():
        yield f"{sentence(describe_pouring(row))}."
    if len(poured) > most:
        yield f"And over {count_of(len(poured) - most, 'more pass', 'more passes')}."
