"""The tables of a year against the published moments at which the sun turns."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from terrain.year.tables import sun_year

# day of the year, from 0, and clock in UTC, of the solstices: from memory, as almanacs give them
SOLSTICES = {
    2024: ((171, "20:51"), (355, "09:21")),
    2025: ((171, "02:42"), (354, "15:03")),
    2026: ((171, "08:25"), (354, "20:50")),
}
# apparent solar time less mean time at the solstices, minutes: from memory
EQUATION_MIN = (-1.8, 2.0)


@pytest.mark.parametrize("year", SOLSTICES)
def test_the_sun_turns_at_the_solstices(year: int) -> None:
    tables = sun_year(year, ZoneInfo("UTC"))
    turns = []
    for (day, clock), equation_min in zip(SOLSTICES[year], EQUATION_MIN, strict=True):
        hours, minutes = map(int, clock.split(":"))
        turns.append(day + (60.0 * hours + minutes + equation_min) / 1440.0)
    # six hours lie between the samples of a declination that hardly changes
    assert [tables.south[-1], tables.south[0]] == pytest.approx(turns, abs=0.01)
    assert [tables.north[-1], tables.north[0] + tables.clock.size] == pytest.approx(turns, abs=0.01)
