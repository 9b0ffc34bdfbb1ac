"""The tables of a year against the published moments at which the sun turns."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pvlib.solarposition import equation_of_time_spencer71

from terrain.year.tables import sun_year
from tests.authorities.sun_tables import SOLSTICES


@pytest.mark.parametrize("year", SOLSTICES)
def test_the_sun_turns_at_the_solstices(year: int) -> None:
    tables = sun_year(year, ZoneInfo("UTC"))
    turns = []
    for day, clock in SOLSTICES[year]:
        hours, minutes = map(int, clock.split(":"))
        # Spencer (1971), as pvlib has it: apparent solar time less mean time
        equation_min = equation_of_time_spencer71(day + 1)
        turns.append(day + (60.0 * hours + minutes + equation_min) / 1440.0)
    # six hours lie between the samples of a declination that hardly changes
    assert [tables.south[-1], tables.south[0]] == pytest.approx(turns, abs=0.01)
    assert [tables.north[-1], tables.north[0] + tables.clock.size] == pytest.approx(turns, abs=0.01)


def test_the_clock_is_behind_the_sun_by_the_equation_of_time() -> None:
    """Spencer (1971), as pvlib has it, good to three quarters of a minute."""
    tables = sun_year(2019, ZoneInfo("UTC"))
    equation_min = equation_of_time_spencer71(np.arange(1, 366))
    assert np.ptp(equation_min) > 30.0
    np.testing.assert_allclose(-1440.0 * tables.clock, equation_min, atol=0.75)
