"""`terrain sounding`: what height of mist the air suggests, from an ascent or two thermometers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import Json
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import pandas as pd

    from terrain.air.suggestion import MistSuggestion

__all__ = ["sounding"]


def sounding(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE",
            help="An ascent: a table (.csv) with units in its headings, or a PRES HGHT listing.",
            show_default=False,
        ),
    ] = None,
    floor: Annotated[
        float | None,
        typer.Option(
            metavar="M", help="Height of the valley floor, metres.", show_default="the ground"
        ),
    ] = None,
    valley: Annotated[
        str | None,
        typer.Option(
            metavar="M,C[,%]", help="Instead of FILE: height, temperature, humidity in the valley."
        ),
    ] = None,
    hilltop: Annotated[
        str | None,
        typer.Option(metavar="M,C", help="With --valley: height and temperature on a hill."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Suggest heights to try for the top of the mist, and say what speaks against mist.

    It is not a forecast.
    """
    if file is None:
        _thermometers(valley, hilltop, floor, as_json)
        return
    if valley is not None or hilltop is not None:
        raise TerrainError(f"give {file} or --valley with --hilltop, not both")
    from terrain.command.report import print_json, progress

    with progress("reading the air", quiet=as_json) as done:
        from terrain.air.inversion import inversions
        from terrain.air.sounding import read_sounding
        from terrain.air.suggestion import suggest_mist_top

        done(0.2)
        ascent = read_sounding(file)
        suggestion = suggest_mist_top(ascent, floor)
        lids = inversions(ascent)
    if as_json:
        about = {"station": ascent.station, "time": ascent.time, "ground_m": ascent.ground_m}
        print_json({**about, "inversions": lids.to_dict("records"), **vars(suggestion)})
        return
    if not lids.empty:
        _list_lids(lids)
    _tell(suggestion)


def _thermometers(
    valley: str | None, hilltop: str | None, floor: float | None, as_json: bool
) -> None:
    if valley is None or hilltop is None:
        raise TerrainError("give the file of a sounding, or --valley and --hilltop")
    if floor is not None:
        raise TerrainError("--floor goes with the file of a sounding, not with --valley")
    from terrain.air.thermometers import suggest_from_two_thermometers

    low, high = _reading("--valley", valley, 3), _reading("--hilltop", hilltop, 2)
    suggestion = suggest_from_two_thermometers(low, high)  # type: ignore[arg-type]
    if as_json:
        from terrain.command.report import print_json

        print_json(vars(suggestion))
    else:
        _tell(suggestion)


def _reading(option: str, text: str, most: int) -> tuple[float, ...]:
    try:
        numbers = tuple(float(part) for part in text.split(","))
    except ValueError:
        numbers = ()
    if not 2 <= len(numbers) <= most:
        humidity = ", then humidity in % if it was read" if most > 2 else ""
        raise TerrainError(
            f"{option} {text} is no reading: give height in metres, temperature in °C{humidity}, "
            "with commas between"
        )
    return numbers


def _list_lids(lids: pd.DataFrame) -> None:
    from terrain.command.report import table

    rows = [
        [
            f"{row['base_m']:.0f}{' (ground)' if row['on_ground'] else ''}",
            f"{row['top_m']:.0f}",
            f"{row['depth_m']:.0f}",
            f"{row['strength_k']:.1f}",
            f"{-row['lapse_k_per_km']:.1f}",
            f"{row['humidity_percent']:.0f}" if row["humidity_percent"] > 0 else "-",
            "yes" if row["saturated"] else "no",
        ]
        for row in lids.to_dict("records")
    ]
    headings = ["base m", "top m", "depth m", "warms by K", "warms by K/km", "humidity %"]
    table("Inversions", [*headings, "saturated"], rows)


def _tell(suggestion: MistSuggestion) -> None:
    from terrain.command.report import line

    for sentence in suggestion.text.splitlines():
        line(sentence)
