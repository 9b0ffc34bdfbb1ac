from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.air.sounding import Sounding, interpolate, read_sounding
from terrain.errors import TerrainError
from tests.air.ascents import ascent, clear_night
from tests.authorities import air as published

HEAD = "pressure_hPa,height_m,temperature_C,dewpoint_C"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("ascents")


@pytest.fixture
def write(tmp_path):
    def to_file(text: str, encoding: str = "utf-8"):
        file = tmp_path / "ascent.csv"
        file.write_bytes(text.encode(encoding))
        return file

    return to_file


# for each column: names, and from unit to what turns our unit into it (by definitions)
COLUMNS = {
    "pressure_hpa": (
        ["pressure", "PRES"],
        {"hPa": lambda p: p, "mb": lambda p: p, "Pa": lambda p: 100 * p},
    ),
    "height_m": (
        ["height", "geopotential height", "HGHT"],
        {"m": lambda h: h, "km": lambda h: h / 1000, "ft": lambda h: h / published.FOOT_M},
    ),
    "temperature_c": (
        ["temperature", "TEMP", "air temperature"],
        {
            "C": lambda t: t,
            "°C": lambda t: t,
            "K": lambda t: t + published.ICE_POINT_K,
            "F": lambda t: 32 + 1.8 * t,
        },
    ),
    "dewpoint_c": (
        ["dew point", "dewpoint", "DWPT"],
        {"degC": lambda t: t, "kelvin": lambda t: t + published.ICE_POINT_K},
    ),
    "wind_speed_ms": (
        ["wind speed", "wind_speed"],
        {
            "m/s": lambda w: w,
            "kt": lambda w: w / published.KNOT_MS,
            "knots": lambda w: w / published.KNOT_MS,
            "km/h": lambda w: 3.6 * w,
        },
    ),
    "wind_from_deg": (["wind direction", "DRCT"], {"deg": lambda d: d, "degrees": lambda d: d}),
}
STYLES = ["{}_{}", "{} ({})", "{} [{}]", "{} {}", "{}: {}"]


@st.composite
def levels(draw):
    """Values of a sounding in our units, by field, some of them unknown."""
    count = draw(st.integers(3, 6))

    def many(low, high):
        return np.array(
            [draw(st.floats(low, high).map(lambda v: round(v, 2))) for _ in range(count)]
        )

    height = np.cumsum(many(5.0, 900.0))
    temperature = many(-40.0, 30.0)
    values = {
        "pressure_hpa": 1010.0 * np.exp(-height / 8000.0),
        "height_m": height,
        "temperature_c": temperature,
        "dewpoint_c": temperature - many(0.0, 20.0),
        "wind_speed_ms": many(0.0, 60.0),
        "wind_from_deg": many(0.0, 360.0),
    }
    for key in ("pressure_hpa", "dewpoint_c", "wind_speed_ms", "wind_from_deg"):
        gaps = [draw(st.booleans()) for _ in range(count)]
        values[key] = np.where(gaps, np.nan, values[key])
    return values


@settings(max_examples=60, deadline=None)
@given(data=st.data(), values=levels())
def test_any_order_of_columns_and_any_units(folder, data, values):
    separator = data.draw(st.sampled_from(",;\t"))
    keys = data.draw(st.permutations(list(COLUMNS)))
    # a comma inside a heading or a number would be a separator
    texts, headings = [], []
    for key in keys:
        names, units = COLUMNS[key]
        unit = data.draw(st.sampled_from(list(units)))
        headings.append(
            data.draw(st.sampled_from(STYLES)).format(data.draw(st.sampled_from(names)), unit)
        )
        numbers = [repr(float(units[unit](value))) for value in values[key]]
        blank = data.draw(st.sampled_from(["", "NaN", "-9999", " - "]))
        texts.append([blank if number == "nan" else number for number in numbers])
    is_comma = separator == ";" and data.draw(st.booleans())
    lines = [separator.join(fields) for fields in zip(*texts, strict=True)]
    if is_comma:
        lines = [line.replace(".", ",") for line in lines]
    if data.draw(st.booleans()):
        lines.reverse()
    file = folder / "ascent.csv"
    file.write_text("\n".join([separator.join(headings), *lines]) + "\n", encoding="utf-8")

    found = read_sounding(file)
    for key, expected in values.items():
        np.testing.assert_allclose(getattr(found, key), expected, rtol=1e-9, atol=1e-9, err_msg=key)


def test_the_same_ascent_as_a_listing(write):
    night = clear_night()
    rows = zip(
        night.pressure_hpa,
        night.height_m,
        night.temperature_c,
        night.dewpoint_c,
        night.wind_from_deg,
        night.wind_speed_ms / published.KNOT_MS,
        strict=True,
    )
    lines = [f"{p:7.1f}{h:7.0f}{t:7.1f}{d:7.1f}{w:7.0f}{s:7.1f}" for p, h, t, d, w, s in rows]
    head = "   PRES   HGHT   TEMP   DWPT   DRCT   SKNT\n    hPa     m      C      C     deg   knot"
    found = read_sounding(write("\n".join([head, "-" * 42, *lines, "", "Indices", " 1: 2"])))
    np.testing.assert_allclose(found.pressure_hpa, night.pressure_hpa, atol=0.051)
    np.testing.assert_array_equal(found.height_m, night.height_m)
    np.testing.assert_array_equal(found.temperature_c, night.temperature_c)
    np.testing.assert_array_equal(found.dewpoint_c, night.dewpoint_c)
    np.testing.assert_allclose(found.wind_speed_ms, night.wind_speed_ms, atol=0.026)


def test_humidity_in_place_of_the_dew_point(write):
    text = "p_hPa,z_m,T_C,RH_%\n1000,100,20,52.51\n990,185,10,100\n980,270,10,71.05\n"
    found = read_sounding(write(text))
    # the dew points at which the published vapour pressures have these ratios
    assert found.dewpoint_c == pytest.approx([10.0, 10.0, 5.0], abs=0.05)


def test_levels_below_the_ground_and_levels_without_height(write):
    text = f"{HEAD}\n1000,80,,\n990,165,5,4\n985,,5.5,4\n980,250,6,3\n960,420,5,2\n"
    found = read_sounding(write(text))
    assert found.height_m.tolist() == [80.0, 165.0, 250.0, 420.0]
    assert (found.ground_m, found.top_m) == (165.0, 420.0)


def test_lines_of_one_height_are_one_level(write):
    text = f"{HEAD},wind_kt\n980,250,,3,\n980,250,6,2,10\n970,335,7,2,\n960,420,5,1,20\n"
    found = read_sounding(write(text))
    assert found.height_m.tolist() == [250.0, 335.0, 420.0]
    assert found.temperature_c.tolist() == [6.0, 7.0, 5.0]
    assert found.dewpoint_c.tolist() == [3.0, 2.0, 1.0]
    assert found.wind_speed_ms[0] == pytest.approx(10.0 * published.KNOT_MS)


def test_files_of_a_spreadsheet(write):
    lines = ["p_hPa,z_m,temperature (°C),td (°C)", "1000,100,2,1", "990,185,3,1", "980,270,4,1"]
    text = "\r\n".join(lines)
    for encoding in ("utf-8-sig", "cp1252"):
        assert read_sounding(write(text, encoding)).temperature_c.tolist() == [2.0, 3.0, 4.0]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("980,250,6,5\n970,335,7,5", ["at least 3 levels", "has 2"]),
        ("", ["at least 3 levels", "has 0"]),
        ("980,250,6,5\n970,335,7,5\n960,300,6,5", ["line 4", "335 m", "300 m", "rise"]),
        ("990,,,\n980,250,6,5\n970,335,7,5\n960,300,6,5", ["line 5", "335 m", "300 m"]),
        ("980,250,6,5\n970,335,285,5\n960,420,6,5", ["temperature 285 °C", "335 m", "kelvin"]),
        ("98000,250,6,5\n97000,335,7,5\n96000,420,6,5", ["pressure 98000 hPa", "pascal"]),
        ("980,250,6,5\n990,335,7,5\n960,420,6,5", ["pressure must fall", "335 m"]),
        ("980,250,6,5\n970,335,5,7\n960,420,6,5", ["dew point 7", "335 m", "swapped"]),
        ("980,250,6,5\n970,335,x,7\n960,420,6,5", ["line 3", "'x'"]),
    ],
)
def test_files_that_are_no_sounding(write, lines, words):
    file = write(f"{HEAD}\n{lines}\n")
    with pytest.raises(TerrainError) as caught:
        read_sounding(file)
    message = str(caught.value)
    assert message.startswith(f"{file}: ")
    assert "\n" not in message
    for word in words:
        assert word in message


def test_files_that_cannot_be_read(tmp_path, write):
    with pytest.raises(TerrainError, match="there is no file"):
        read_sounding(tmp_path / "nothing.csv")
    with pytest.raises(TerrainError, match="cannot read"):
        read_sounding(tmp_path)
    with pytest.raises(TerrainError, match="not plain text"):
        read_sounding(write("PRES", "utf-16"))
    with pytest.raises(TerrainError, match="humidity 250 %"):
        read_sounding(write("p_hPa,z_m,T_C,RH_%\n1000,100,2,250\n990,185,3,9\n980,270,4,9\n"))


def test_a_sounding_keeps_its_values():
    heights = np.array([100.0, 200.0, 300.0])
    night = Sounding(
        pressure_hpa=heights * np.nan,
        height_m=heights,
        temperature_c=heights * 0,
        dewpoint_c=heights * 0 - 1,
    )
    heights[0] = 999.0
    assert night.height_m[0] == 100.0
    assert np.isnan(night.wind_speed_ms).all()
    with pytest.raises(ValueError, match="read-only"):
        night.height_m[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        night.humidity_percent[0] = 1.0
    assert np.isnan(night.potential_temperature_k).all()


def test_a_sounding_made_of_the_wrong_things():
    with pytest.raises(TerrainError, match="200 m comes after 300 m"):
        ascent([(100, 1, 0, 0), (300, 1, 0, 0), (200, 1, 0, 0)])
    with pytest.raises(TerrainError, match="must have a height"):
        ascent([(100, 1, 0, 0), (math.nan, 1, 0, 0), (200, 1, 0, 0)])
    with pytest.raises(TerrainError, match="wind speed -3 m/s at 300 m"):
        ascent([(100, 1, 0, 0), (300, 1, 0, -3), (400, 1, 0, 0)])
    with pytest.raises(ValueError, match="levels"):
        Sounding(
            pressure_hpa=np.ones((2, 2)),
            height_m=np.ones((2, 2)),
            temperature_c=np.ones((2, 2)),
            dewpoint_c=np.ones((2, 2)),
        )


def test_wind_between_levels():
    heights = np.array([0.0, 100.0, 200.0, 300.0])
    air = Sounding(
        pressure_hpa=np.full(4, np.nan),
        height_m=heights,
        temperature_c=heights * 0,
        dewpoint_c=heights * 0,
        wind_speed_ms=np.array([0.0, 10.0, 10.0, np.nan]),
        wind_from_deg=np.array([np.nan, 270.0, 0.0, np.nan]),
    )
    # a westerly blows toward the east; half way up to it from a calm there is half of it
    assert air.wind_at(100.0) == pytest.approx((10.0, 0.0))
    assert air.wind_at(50.0) == pytest.approx((5.0, 0.0))
    assert air.wind_at(200.0) == pytest.approx((0.0, -10.0), abs=1e-12)
    assert air.wind_at(150.0) == pytest.approx((5.0, -5.0))
    assert np.isnan(air.wind_at(250.0)).all()


def test_interpolation_where_nothing_is_known():
    assert np.isnan(interpolate(np.arange(3.0), np.full(3, np.nan), [1.0, 2.0])).all()


def test_the_radiosonde_network_agrees_with_the_humidity_computed_here(open_data):
    found = read_sounding(open_data / "sounding_saturated_base.csv")
    assert (found.ground_m, found.height_m[3]) == (345.0, 493.0)
    assert len(found.height_m) == 256
    assert found.time == "2023-05-22 11:04:00"
    column = np.genfromtxt(open_data / "sounding_saturated_base.csv", delimiter=",", skip_header=1)
    warm = found.temperature_c > -30.0
    # its humidity is in whole percent, its dew point in tenths of a degree
    assert np.abs(found.humidity_percent - column[:, 8])[warm].max() < 1.0


def test_the_listing_agrees_with_what_is_computed_here(open_data):
    file = open_data / "sounding_no_inversion.txt"
    found = read_sounding(file)
    assert (found.station, found.time) == ("94975 YMHB Hobart Airport", "00Z 02 Jul 2013")
    assert (found.ground_m, found.top_m, len(found.height_m)) == (27.0, 20596.0, 46)
    assert found.wind_speed_ms[0] == pytest.approx(14 * published.KNOT_MS)
    assert np.isnan(found.wind_speed_ms[-4:]).all()
    rows = [line.split() for line in file.read_text().splitlines()[5:]]
    full = np.array([row for row in rows if len(row) == 11 and row[0][0].isdigit()], dtype=float)
    full = full[full[:, 2] > -30.0]
    assert len(full) > 15
    levels = np.searchsorted(found.height_m, full[:, 1])
    # RELH is in whole percent; THTA and the temperature it is made of are both in tenths
    assert np.abs(found.humidity_percent[levels] - full[:, 4]).max() < 1.0
    assert np.abs(found.potential_temperature_k[levels] - full[:, 8]).max() < 0.13
