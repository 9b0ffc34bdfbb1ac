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

    height_m: from its summit down to the lowest of its own ground that is seen, 0 where none is.
    share: of its own ground above the mist, by area on the map, 0 to 1.
    """

    height_m: float
    share: float


def hill_shown(scene: Scene, spot: Spot) -> Shown:
    """How much of the hill of a scene shows from a spot; NoGround where that has no known ground.

    A cell of the hill's own ground is seen where nothing need rise on it to be seen (`margin`).
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
