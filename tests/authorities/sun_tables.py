"""Published tables of the rising and setting of the sun, to the minute.

Times are "HHMM"; None where the table says that the sun stays above or below the horizon.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

# U.S. Naval Observatory, Rise and Set for the Sun for 2019, Universal Time
# (https://aa.usno.navy.mil/data/RS_OneYear), longitude 0, latitude 60 N.
NORTH_60 = {
    (1, 1): ("0902", "1505"),
    (1, 15): ("0848", "1531"),
    (2, 1): ("0815", "1613"),
    (2, 15): ("0739", "1650"),
    (3, 1): ("0659", "1726"),
    (3, 15): ("0618", "1801"),
    (4, 1): ("0526", "1843"),
    (4, 15): ("0445", "1917"),
    (5, 1): ("0359", "1957"),
    (5, 15): ("0323", "2031"),
    (6, 1): ("0250", "2107"),
    (6, 15): ("0236", "2125"),
    (7, 1): ("0242", "2125"),
    (7, 15): ("0303", "2108"),
    (8, 1): ("0340", "2031"),
    (8, 15): ("0413", "1954"),
    (9, 1): ("0454", "1905"),
    (9, 15): ("0527", "1822"),
    (10, 1): ("0605", "1734"),
    (10, 15): ("0638", "1652"),
    (11, 1): ("0721", "1605"),
    (11, 15): ("0757", "1531"),
    (12, 1): ("0834", "1503"),
    (12, 15): ("0857", "1453"),
}

# U.S. Naval Observatory, the same tables, longitude 150 W, latitude 60 S: rise and set of one
# universal day, of which the set comes first, for it belongs to the local day before.
SOUTH_60_WEST_150 = {
    (1, 1): ("1243", "0724"),
    (2, 1): ("1357", "0631"),
    (3, 1): ("1512", "0514"),
    (4, 1): ("1629", "0340"),
    (5, 1): ("1741", "0215"),
    (6, 1): ("1847", "0110"),
    (7, 1): ("1904", "0103"),
    (8, 1): ("1815", "0157"),
    (9, 1): ("1651", "0308"),
    (10, 1): ("1521", "0418"),
    (11, 1): ("1350", "0536"),
    (12, 1): ("1243", "0654"),
}

# U.S. Naval Observatory, the same tables, longitude 0, latitude 80 N, around the beginnings and
# ends of the polar day and night.
NORTH_80 = {
    (1, 1): (None, None),
    (2, 20): (None, None),
    (2, 21): ("1120", "1310"),
    (2, 22): ("1052", "1338"),
    (3, 20): ("0555", "1825"),
    (4, 12): ("0125", "2302"),
    (4, 13): ("0057", None),
    (4, 14): (None, None),
    (7, 1): (None, None),
    (8, 29): (None, None),
    (8, 30): (None, "2301"),
    (8, 31): ("0103", "2234"),
    (10, 20): ("1029", "1258"),
    (10, 21): ("1103", "1223"),
    (10, 22): (None, None),
    (12, 15): (None, None),
}

# U.S. Naval Observatory, Sun and Moon Data for One Day. Place: lon_deg, lat_deg, date, and the
# events of its local day in universal time. Atlanta (as quoted in the handbook of PyEphem, "Rise
# and set"), Bluffton (as quoted in Skyfield's tests).
ONE_DAY = {
    "Atlanta": (
        -84.4,
        33.8,
        date(2009, 9, 6),
        {
            "civil_dawn": "1050",
            "sunrise": "1115",
            "transit": "1736",
            "sunset": "2356",
            "civil_dusk": "0021",
        },
    ),
    "Bluffton": (-83.8917, 40.8939, date(2018, 9, 12), {"sunrise": "1113", "sunset": "2350"}),
}

# All eight bounds of twilight at Defiance, Ohio: Skyfield's tests (JPL ephemeris DE421).
DEFIANCE = (
    -84.362778,
    41.281944,
    date(2019, 11, 8),
    {
        "astronomical_dawn": "1042",
        "nautical_dawn": "1115",
        "civil_dawn": "1148",
        "sunrise": "1217",
        "sunset": "2225",
        "civil_dusk": "2254",
        "nautical_dusk": "2327",
        "astronomical_dusk": "2359",
    },
)

# U.S. Naval Observatory, one-year tables for 2015, clock of the place (UTC - 7 h, UTC + 8 h), as
# quoted in pvlib's tests.
GOLDEN_2015 = {
    (1, 2): ("0719", "1649"),
    (4, 2): ("0543", "1824"),
    (8, 2): ("0501", "1910"),
    (12, 2): ("0701", "1638"),
}
BEIJING_2015 = {
    (1, 2): ("0736", "1700"),
    (4, 2): ("0558", "1839"),
    (8, 2): ("0513", "1928"),
    (12, 2): ("0717", "1650"),
}
# Least and greatest distance of the sun, astronomical units: IMCCE, "Earth in perihelion"
# (imcce.fr/en/actualites, 2006); neoprogrammics.com/earth_perihelion_aphelion_calculator, 2021.
APSIDES_AU = {
    datetime(2006, 1, 4, 15, tzinfo=UTC): 0.983326979,
    datetime(2021, 7, 5, 22, 27, tzinfo=UTC): 1.016729224,
}

# The sun's semi-diameter at distance 1: J. Meeus, Astronomical Algorithms, chapter 55.
SEMIDIAMETER_AT_UNIT_ARCSEC = 959.63

GOLDEN_LON_LAT_DEG = (-105.0, 39.0)
BEIJING_LON_LAT_DEG = (116.383, 39.917)

# Day of the year, from 0, and clock in UTC, of the solstices of June and December: U.S. Naval
# Observatory, Earth's Seasons, 2000 to 2025.
SOLSTICES = {
    2017: ((171, "04:24"), (354, "16:28")),
    2018: ((171, "10:07"), (354, "22:23")),
    2019: ((171, "15:54"), (355, "04:19")),
}
