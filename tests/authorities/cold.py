"""Published figures for how cold wind feels."""

from __future__ import annotations

# Temperature in degrees C, wind in km/h, and how cold it feels in whole degrees: Wind Chill
# Calculation Chart of the Meteorological Service of Canada
# (msc.ec.gc.ca/education/windchill/windchill_chart_e.cfm, as it stood in February 2006).
WIND_CHILL_C = [
    (0.0, 20.0, -5),
    (0.0, 40.0, -7),
    (-10.0, 20.0, -18),
    (-10.0, 60.0, -23),
    (-20.0, 30.0, -33),
    (-20.0, 50.0, -35),
    (-40.0, 20.0, -56),
    (5.0, 10.0, 3),
    (5.0, 5.0, 4),
]
