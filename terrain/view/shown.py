"""How much of a hill shows from a spot: how far down from its summit, and how much of its ground.

::

            summit  .-'''-.   ^
                  .'       '. | height_m: down to the lowest of its ground that is seen
      ridge     .'           '.
    ___/\\______'_ _ _ _ _ _ _ _v_
                 hidden by the ridge
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.ground.places import Spot
from terrain.sight.viewshed import margin
from terrain.view.scene import Scene

__all__ = ["Shown", "hill_shown"]


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What of a hill is seen over ground and mist.

    Attributes
    ----------
    height_m : float
        From its summit down to the lowest of its own ground that is seen, metres, 0 where none is.
    share : float
        Of its own ground above the mist, by area on the map, 0 to 1.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> round(terrain.hill_shown(scene, spot).share, 2)
    0.62
    """

    height_m: float
    share: float


def hill_shown(scene: Scene, spot: Spot) -> Shown:
    """How much of the hill of a scene shows from a spot.

    A cell of the hill's own ground is seen where nothing need rise on it to be seen.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    spot : Spot
        Where the camera stands, and its height over the ground.

    Returns
    -------
    Shown
        Its height and its share.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> round(terrain.hill_shown(scene, spot).height_m)
    300
    """
    hidden_m = margin(scene.seen, spot, refraction=scene.refraction)
    own = scene.own_ground
    seen = own & (hidden_m == 0.0)
    if not seen.any():
        return Shown(height_m=0.0, share=0.0)
    lowest_m = float(scene.seen.heights_m[seen].min())
    return Shown(
        height_m=max(scene.hill.height_m - lowest_m, 0.0),
        share=float(np.count_nonzero(seen) / np.count_nonzero(own)),
    )
