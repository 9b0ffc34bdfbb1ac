"""Ways down and catchments: every cell counts once, along the way that is said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.mist.drainage import drain

MakeDem = Callable[..., Dem]

GROUND = hnp.arrays(
    np.float32,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=8),
    elements=st.integers(-2, 9).map(lambda height: height if height >= 0 else np.nan),
)


@settings(max_examples=120, deadline=None)
@given(ground=GROUND)
def test_a_catchment_is_every_cell_whose_way_leads_there(
    make_dem: MakeDem, ground: NDArray[np.float32]
) -> None:
    dem = make_dem(ground)
    if np.isnan(ground).all():
        with pytest.raises(NoGround):
            drain(dem)
        return
    drainage = drain(dem)
    expected = np.zeros(drainage.down.size)
    for cell in np.flatnonzero(drainage.known).tolist():
        at = cell
        while at >= 0:
            expected[at] += 1
            at = int(drainage.down[at])
    np.testing.assert_allclose(drainage.catchment_km2 / (dem.cell_m**2 / 1e6), expected, rtol=1e-5)
    # a way goes down to a neighbour that is known
    falls = np.flatnonzero(drainage.down >= 0)
    to = drainage.down[falls]
    assert drainage.known[to].all()
    assert (drainage.floor_m[to] < drainage.floor_m[falls]).all()
