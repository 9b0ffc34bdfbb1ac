"""The light over the minutes: a picture after another, as an animation or each in its file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from terrain.errors import TerrainError
from terrain.frame.lens import Kit, Orientation
from terrain.show.files.whole import whole_file
from terrain.show.view.aim import aim
from terrain.show.view.moment import moment_at
from terrain.show.view.moments import minutes_about, triptych
from terrain.show.view.photograph import Camera
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene
from terrain.words.clocks import to_second

WIDTH_PX: Final = 960
EVERY: Final = dt.timedelta(minutes=2)
MOVING: Final = (".webp", ".gif")

_SHOWN_MS, _LAST_MS = 160, 1500
_MOST: Final = 240


def save_strip(
    scene: Scene,
    backlight: Backlight,
    path: str | Path,
    *,
    every: dt.timedelta = EVERY,
    kit: Kit | None = None,
    held: Orientation | None = None,
    width_px: int = WIDTH_PX,
    progress: Callable[[float], None] = lambda share: None,
) -> list[Path]:
    """Write the light from a spot over the minutes, from before the colour until the sun is up.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    backlight : Backlight
        As `check_backlight` or `backlight` gives it; of an evening until the colour has gone.
    path : path
        The file: .webp or .gif for an animation, .png for a file of each picture beside it, whose
        name ends in its hour and minute.
    every : timedelta, optional
        From one picture to the next.
    kit : Kit, optional
        The lenses to choose from.
    held : Orientation, optional
        How the camera is held; as takes in the most unless given.
    width_px : int, optional
        Width of each picture.
    progress : callable, optional
        Called with the share done.

    Returns
    -------
    list of path
        The files that were written.

    Raises
    ------
    TerrainError
        For another ending, where a file cannot be written, and for more pictures than 240.

    Examples
    --------
    >>> import datetime as dt
    >>> import tempfile
    >>> from pathlib import Path
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> found = terrain.check_backlight(cone, spot, hill, dt.date(2025, 3, 30))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     to, every = Path(folder, "light.webp"), dt.timedelta(minutes=30)
    ...     [file.name for file in terrain.save_strip(scene, found, to, every=every, width_px=90)]
    ['light.webp']
    """
    path = Path(path)
    if path.suffix.lower() not in (*MOVING, ".png"):
        raise TerrainError(f"cannot draw {path}: the name must end in .webp, .gif or .png")
    if not every > dt.timedelta(0):
        raise TerrainError(f"{every} from one picture to the next is not above 0")
    moments = minutes_about(backlight, every)
    if len(moments) > _MOST:
        raise TerrainError(f"{len(moments)} pictures are more than {_MOST}: take them less often")
    suns = triptych(backlight)
    frame = aim(scene, backlight, suns, kit=kit, held=held)
    camera = Camera(scene=scene, spot=backlight.view.spot, frame=frame, width_px=width_px)
    pictures = _pictures(camera, backlight, moments, progress)
    if path.suffix.lower() in MOVING:
        _save_moving(list(pictures), path)
        return [path]
    files = [path.with_name(f"{path.stem}-{to_second(at):%H%M}{path.suffix}") for at in moments]
    for file, picture in zip(files, pictures, strict=True):
        with whole_file(file, "draw", ".png") as partial:
            Image.fromarray(picture).save(partial)
    return files


def _pictures(
    camera: Camera,
    backlight: Backlight,
    moments: Sequence[dt.datetime],
    progress: Callable[[float], None],
) -> Iterator[NDArray[np.uint8]]:
    for number, moment in enumerate(moments):
        yield camera.picture(moment_at(backlight, backlight.sun_path.seconds(moment)))
        progress((number + 1.0) / len(moments))


def _save_moving(pictures: Sequence[NDArray[np.uint8]], path: Path) -> None:
    first, *others = [Image.fromarray(picture) for picture in pictures]
    shown_ms = [*[_SHOWN_MS] * len(others), _LAST_MS]
    how: dict[str, Any] = {"quality": 88, "method": 3} if path.suffix.lower() == ".webp" else {}
    with whole_file(path, "draw", *MOVING) as partial:
        first.save(partial, save_all=True, append_images=others, duration=shown_ms, loop=0, **how)
