from __future__ import annotations

import math

import pytest

from terrain.ground.accuracy import Accuracy


def test_each_part_by_hand() -> None:
    accuracy = Accuracy(raster_m=10.0, position_m=8.0, refraction=0.05)
    doubt = accuracy.of_altitude(10_000.0, slope=0.5, refraction_deg=0.3)
    assert doubt.raster_deg == pytest.approx(math.degrees(math.sqrt(200.0) / 10_000.0), rel=1e-5)
    assert doubt.position_deg == pytest.approx(math.degrees(4.0 / 10_000.0), rel=1e-5)
    bending = math.degrees(10_000.0 * 0.05 / (2.0 * 6_371_000.0))
    assert doubt.refraction_deg == pytest.approx(math.hypot(bending, 0.03))
    squares = doubt.raster_deg**2 + doubt.position_deg**2 + doubt.refraction_deg**2
    assert doubt.total_deg == pytest.approx(math.sqrt(squares))


def test_nearer_ground_is_less_certain() -> None:
    near, far = (
        Accuracy().of_altitude(d, slope=0.2, refraction_deg=0.0) for d in (500.0, 20_000.0)
    )
    # forty times as far: an error of the ground subtends a fortieth, and the bending forty times
    assert near.raster_deg == pytest.approx(40.0 * far.raster_deg, rel=1e-3)
    assert near.position_deg == pytest.approx(40.0 * far.position_deg, rel=1e-3)
    assert 40.0 * near.refraction_deg == pytest.approx(far.refraction_deg)


def test_perfect_inputs_leave_no_doubt() -> None:
    perfect = Accuracy(raster_m=0.0, position_m=0.0, refraction=0.0)
    assert perfect.of_altitude(5000.0, slope=1.0, refraction_deg=0.0).total_deg == 0.0


@pytest.mark.parametrize("name", ["raster_m", "position_m", "refraction"])
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_no_such_error(name: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"{name} must be .* got {value}"):
        Accuracy(**{name: value})
