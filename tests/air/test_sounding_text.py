from __future__ import annotations

import numpy as np
import pytest

from terrain.air.column_headings import meaning_of
from terrain.air.sounding_text import read_columns
from terrain.errors import TerrainError
from tests.authorities import air as published

HEAD = "pressure_hPa,height_m,temperature_C,dewpoint_C"

LISTING = """
10101 Nowhere Moor Observations at 06Z 04 Oct 2031

-------------------------------------------
   PRES   HGHT   TEMP   DWPT   DRCT   SKNT
    hPa     m      C      C     deg   knot
-------------------------------------------
 1000.0     90                  200      0
  995.0    130    6.2    6.1           1.0
  985.0    215    9.0           215     10
  900.0    990    4.5   -1.5
  800.0   1990   -1.0 -999.0    230     24

Station information and indices
           Some index: 12
"""


@pytest.mark.parametrize(
    ("heading", "key", "unit"),
    [
        ("pressure_hPa", "pressure_hpa", "hectopascal"),
        ("Pressure [Pa]", "pressure_hpa", "pascal"),
        ("PRES (mb)", "pressure_hpa", "hectopascal"),
        ("geopotential height_m", "height_m", "meter"),
        ("altitude, ft", "height_m", "foot"),
        ("height: km", "height_m", "kilometer"),
        ("temperature °C", "temperature_c", "degC"),
        ("air_temperature_K", "temperature_c", "kelvin"),
        ("temperature / °F", "temperature_c", "degF"),
        ("dew point temperature_C", "dewpoint_c", "degC"),
        ("DWPT [C]", "dewpoint_c", "degC"),
        ("relative humidity_%", "humidity_percent", "percent"),
        ("RH (1)", "humidity_percent", "dimensionless"),
        ("wind speed_m/s", "wind_speed_ms", "meter/second"),
        ("wind_speed_ms", "wind_speed_ms", "meter/second"),
        ("wind speed m s-1", "wind_speed_ms", "meter/second"),
        ("wind speed (m s^-1)", "wind_speed_ms", "meter/second"),
        ("wind speed (knots)", "wind_speed_ms", "knot"),
        ("SKNT", "wind_speed_ms", "knot"),
        ("wind direction_degree", "wind_from_deg", "degree"),
        ("wind_from_deg", "wind_from_deg", "degree"),
        ("DRCT", "wind_from_deg", "degree"),
    ],
)
def test_headings_that_mean_something(heading, key, unit):
    meaning = meaning_of(heading)
    assert (meaning.quantity.key, meaning.unit, meaning.trouble) == (key, unit, "")


@pytest.mark.parametrize(
    "heading",
    [
        "ice point temperature_C",
        "humidity wrt ice_%",
        "mixing ratio_g/kg",
        "time",
        "longitude",
        "pressure change_hPa",
        "temperature advection_K/s",
        "THTA [K]",
        "",
    ],
)
def test_headings_of_other_things(heading):
    assert meaning_of(heading) is None


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("temperature", "does not say its unit"),
        ("temperature_R", "'R'"),
        ("height (furlong)", "m, km, ft"),
        ("height(furlong)", "a unit that is not known, 'furlong'"),
    ],
)
def test_headings_with_trouble(heading, words):
    assert words in meaning_of(heading).trouble


@pytest.mark.parametrize(
    ("heading", "given", "expected"),
    [
        ("wind speed_kt", 10.0, 10.0 * published.KNOT_MS),
        ("wind speed_mph", 10.0, 10.0 * published.MILE_PER_HOUR_MS),
        ("wind speed_km/h", 36.0, 10.0),
        ("height_ft", 1000.0, 1000.0 * published.FOOT_M),
        ("height_km", 1.5, 1500.0),
        ("pressure_Pa", 98_500.0, 985.0),
        ("pressure_kPa", 98.5, 985.0),
        ("temperature_K", 280.0, 280.0 - published.ICE_POINT_K),
        *(("temperature_F", f, c) for f, c in published.FAHRENHEIT_C.items()),
        ("RH_1", 0.75, 75.0),
    ],
)
def test_units(heading, given, expected):
    assert meaning_of(heading).convert(np.array([given]))[0] == pytest.approx(expected)


def test_listing_with_blank_fields():
    columns = read_columns(LISTING)
    assert (columns.attrs["station"], columns.attrs["time"]) == (
        "10101 Nowhere Moor",
        "06Z 04 Oct 2031",
    )
    assert columns.index.tolist() == [8, 9, 10, 11, 12]
    np.testing.assert_array_equal(columns["height_m"], [90, 130, 215, 990, 1990])
    np.testing.assert_array_equal(columns["temperature_c"], [np.nan, 6.2, 9.0, 4.5, -1.0])
    np.testing.assert_array_equal(columns["dewpoint_c"], [np.nan, 6.1, np.nan, -1.5, np.nan])
    np.testing.assert_array_equal(columns["wind_from_deg"], [200, np.nan, 215, np.nan, 230])
    knots = np.array([0, 1, 10, np.nan, 24])
    np.testing.assert_allclose(columns["wind_speed_ms"], knots * published.KNOT_MS)


def test_a_rule_that_is_not_all_dashes():
    spoilt = LISTING.replace("knot\n---", "knot\n-=-")
    assert spoilt != LISTING
    assert len(read_columns(spoilt)) == 5


def test_a_listing_saved_with_its_page():
    lines = LISTING.splitlines()
    page = ["<HTML>", f"<H2>{lines[1]}</H2>", "<PRE>", *lines[3:13], "</PRE><H3>Station</H3>"]
    columns = read_columns("\n".join(page))
    assert (columns.attrs["station"], columns.attrs["time"]) == (
        "10101 Nowhere Moor",
        "06Z 04 Oct 2031",
    )
    assert len(columns) == 5


def test_units_in_a_line_of_their_own():
    text = "height;temp;td;p\nm;K;K;Pa\n\n100;280,15;279,15;98000\n"
    values = read_columns(text)
    assert values.iloc[0].to_dict() == pytest.approx(
        {"height_m": 100.0, "temperature_c": 7.0, "dewpoint_c": 6.0, "pressure_hpa": 980.0}
    )


def test_a_line_of_units_may_leave_out_what_has_none():
    text = "id;height;temp;td;p\n;m;C;C;hPa\n7;100;7;6;980\n8;200;6;5;970\n"
    columns = read_columns(text)
    assert columns["height_m"].tolist() == [100.0, 200.0]
    assert columns.index.tolist() == [3, 4]


def test_comments_time_and_marks_for_nothing():
    lines = ["06:10,980,100,-,NaN", "06:11,970,185,/// ,-9999", "06:12,960,270"]
    columns = read_columns("\n".join(["# from my drone", "", f"time,{HEAD}", *lines]))
    assert (columns.attrs["time"], columns.attrs["station"]) == ("06:10", "")
    assert columns.index.tolist() == [4, 5, 6]
    assert np.isnan(columns["temperature_c"]).all()
    assert np.isnan(columns["dewpoint_c"]).all()


def test_quotation_marks():
    lines = ['"height, m","temperature (C)",td_C,"p, hPa"', '"100",6,5,"980', "200,7,5,970"]
    columns = read_columns("\n".join(lines))
    assert columns["height_m"].tolist() == [100.0, 200.0]
    assert columns["pressure_hpa"].tolist() == [980.0, 970.0]
    with pytest.raises(TerrainError, match="not a sounding"):
        read_columns("x" * 200_000)


def test_a_table_with_the_headings_of_the_listing():
    text = "PRES (hPa)\tTEMP (C)\tHGHT (m)\tDWPT (C)\n980\t6\t100\t5\n"
    values = read_columns(text)
    assert (values["height_m"].iloc[0], values["temperature_c"].iloc[0]) == (100.0, 6.0)


def test_the_first_of_two_columns_is_taken():
    columns = read_columns(f"{HEAD},altitude_m,wind,wind speed_kt\n980,100,7,6,111,x,10\n")
    assert columns["height_m"].tolist() == [100.0]
    assert columns["wind_speed_ms"].tolist() == pytest.approx([10.0 * published.KNOT_MS])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ["empty"]),
        ("# nothing\n", ["empty"]),
        ("Dear diary,\nno mist today.\n", ["not a sounding"]),
        ("pressure_hPa,height_m,temperature_C\n1,2,3\n", ["dewpoint_C or humidity_%"]),
        ("height_m,temperature_C,dewpoint_C\n1,2,3\n", ["no column for pressure_hPa", "height_m"]),
        ("pressure,height_m,temperature_C,dewpoint_C\n", ["'pressure'", "unit", "pressure_hPa"]),
        (f"{HEAD},wind speed_Bft\n", ["'Bft'", "m/s, kt, km/h, mph"]),
        (f"{HEAD}\n980,100,7,6\n970,2oo,6,5\n", ["line 3", "'2oo'", "'height_m'"]),
        (f"{HEAD}\n980,100,7,inf\n", ["line 2", "'inf'"]),
        (LISTING + LISTING, ["2 soundings", "lines 5 and 20"]),
        (LISTING.replace("    hPa     m      C      C     deg   knot\n", ""), ["unit", "PRES"]),
    ],
)
def test_text_that_cannot_be_read(text, words):
    with pytest.raises(TerrainError) as caught:
        read_columns(text)
    message = str(caught.value)
    assert "\n" not in message
    for word in words:
        assert word in message
