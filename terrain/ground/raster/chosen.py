"""Which of several variables or bands of a raster file holds the heights."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rasterio.enums import ColorInterp

from terrain.errors import TerrainError
from terrain.ground.raster.files import name_of

_MOST_LISTED = 20


def address_of_variable(dataset: Any, address: str, variable: str | None) -> str:
    """What GDAL is to open for the variable asked for; the file itself where it has but one."""
    name = name_of(address)
    variables: dict[str, str] = {_variable(at, dataset.name): at for at in dataset.subdatasets}
    if not variables:
        only = dataset.tags(1).get("NETCDF_VARNAME") if dataset.count else None
        if variable not in (None, only):
            said = f"it holds {only!r}" if only else "leave variable out"
            raise TerrainError(f"{name} has no variable {variable!r}: {said}")
        return address
    if variable is None:
        raise TerrainError(
            f"{name} holds {len(variables)} variables: {_listed(list(variables))}; "
            "say with variable which are the heights"
        )
    if variable not in variables:
        raise TerrainError(
            f"{name} has no variable {variable!r}: it holds {_listed(list(variables))}"
        )
    if dataset.name not in variables[variable]:
        raise TerrainError(f"{name} says that its variable {variable!r} is in another file")
    return variables[variable]


def _variable(address: str, file: str) -> str:
    """The name of a part of a file: what its address has beyond the driver and the file.

    >>> _variable("netcdf:z.nc:height", "z.nc")
    'height'
    >>> _variable("HDF5:z.h5://survey/dem", "z.h5")
    'survey/dem'
    """
    return address.partition(":")[2].replace(file, "").strip('/":')


def band_of_heights(dataset: Any, name: str, band: int | None) -> int:
    """The number of the band of heights, from 1: the one asked for, or the only one there is."""
    bands = [
        number
        for number, colour in enumerate(dataset.colorinterp or [None] * dataset.count, start=1)
        if colour is not ColorInterp.alpha
    ]
    if not bands:
        raise TerrainError(f"{name} holds no band of heights")
    if band is None and len(bands) > 1:
        raise TerrainError(
            f"{name} has {len(bands)} bands: {_bands(dataset, bands)}; "
            "say with band which are the heights, or is this a picture?"
        )
    if band is not None and band not in bands:
        raise TerrainError(f"{name} has no band {band} of heights: it has {_bands(dataset, bands)}")
    return bands[0] if band is None else band


def _bands(dataset: Any, numbers: Sequence[int]) -> str:
    # a damaged file may have tens of thousands; each question about one takes as long as all
    first = [_band(dataset, number) for number in numbers[:_MOST_LISTED]]
    return _listed([*first, *map(str, numbers[_MOST_LISTED:])])


def _band(dataset: Any, number: int) -> str:
    """A band in words: its number, what it says it is, and its unit.

    GRIB and NetCDF write beside the bands what they hold; there each format has words of its own.
    """
    tags = dataset.tags(number)
    what = tags.get("GRIB_COMMENT") or dataset.descriptions[number - 1] or tags.get("long_name")
    at = ", ".join(
        f"{key.removeprefix('NETCDF_DIM_')} {value}"
        for key, value in tags.items()
        if key.startswith("NETCDF_DIM_")
    )
    colour = dataset.colorinterp[number - 1] if dataset.colorinterp else None
    if not what and not at and colour not in (None, ColorInterp.gray, ColorInterp.undefined):
        what = colour.name
    unit = dataset.units[number - 1]
    words = [" ".join(filter(None, [what, unit and f"[{unit}]"])), at]
    said = ", ".join(word for word in words if word)
    return f"{number} ({' '.join(said.split())})" if said else str(number)


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _MOST_LISTED
    return ", ".join(names[:_MOST_LISTED]) + (f" and {more} more" if more > 0 else "")
