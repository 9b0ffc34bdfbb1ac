"""The days that a command line means: words, the next morning, years and spans, what is past."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from terrain.command.area import Area
from terrain.command.days import days_between, days_of_year, year_meant
from terrain.errors import TerrainError
from terrain.ground.places import Spot

DATE = dt.date.fromisoformat
ISLE = Spot(lon_deg=-24.0, lat_deg=54.4)  # UTC-2
KIRITIMATI = Spot(lon_deg=-157.4, lat_deg=1.9)  # UTC+14
HONOLULU = Spot(lon_deg=-157.86, lat_deg=21.31)  # UTC-10, where it is the day before
LOOK = ("--spot", "the ridge")
ANYWHERE = Area(rasters=())


def day(text: str | None, place: Spot = ISLE, default: object = None) -> dt.date:
    return ANYWHERE.under(defaults={"date": default}).day(text, place)


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("today", "2026-12-30"),
        ("tomorrow", "2026-12-31"),
        ("Wednesday", "2026-12-30"),  # which is today
        ("wed", "2026-12-30"),
        ("thursday", "2026-12-31"),
        ("thu", "2026-12-31"),
        ("FRI", "2027-01-01"),
        ("Saturday ", "2027-01-02"),
        ("sat", "2027-01-02"),
        ("sunday", "2027-01-03"),
        ("monday", "2027-01-04"),
        ("tues", "2027-01-05"),
        ("2026-10-13", "2026-10-13"),
    ],
)
def test_words_for_days(set_clock, capsys, word, expected):
    set_clock("2026-12-30T20:00")  # a Wednesday, its morning past
    assert day(word) == DATE(expected)
    said = capsys.readouterr().err
    assert said.startswith(f"note: {word} is ") == (word != expected)
    assert (f"{DATE(expected):%A}" in said) == (word != expected)


@pytest.mark.parametrize("word", ["someday", "su", "", "sundays", "2026-02-30", "yesterday"])
def test_what_is_not_a_day(set_clock, word):
    set_clock("2026-12-30T20:00")
    with pytest.raises(TerrainError, match=f"'{word}' is not a date: give YYYY-MM-DD, today"):
        day(word)


def test_today_is_that_of_the_place(set_clock):
    set_clock("2028-02-28T22:30")
    assert day("today", KIRITIMATI) == DATE("2028-02-29")
    assert day("tomorrow", KIRITIMATI) == DATE("2028-03-01")
    assert day("today", HONOLULU) == DATE("2028-02-28")
    assert day("tomorrow", HONOLULU) == DATE("2028-02-29")
    assert day("tuesday", HONOLULU) == day("tuesday", KIRITIMATI) == DATE("2028-02-29")
    assert day("monday", HONOLULU) == DATE("2028-02-28")
    assert day("monday", KIRITIMATI) == DATE("2028-03-06")


def test_the_area_s_date_stays_and_without_it_the_next_morning_is_taken(set_clock, capsys):
    set_clock("2026-12-31T20:00")
    assert day(None, default=DATE("2020-05-05")) == DATE("2020-05-05")
    assert day("2019-01-01", default=DATE("2020-05-05")) == DATE("2019-01-01")
    assert not capsys.readouterr().err
    assert day(None, default="saturday") == DATE("2027-01-02")
    assert day(None, default="2020-05-05") == DATE("2020-05-05")
    capsys.readouterr()
    assert day(None) == DATE("2027-01-01")
    said = "note: no date was given: the next morning is that of Friday 1 January 2027\n"
    assert capsys.readouterr().err == said


def test_an_evening_may_still_come_where_the_morning_is_past(set_clock, capsys):
    set_clock("2026-12-31T12:00")
    assert ANYWHERE.day(None, ISLE, evening=True) == DATE("2026-12-31")
    assert "the next evening is that of Thursday" in capsys.readouterr().err
    assert ANYWHERE.day(None, ISLE) == DATE("2027-01-01")


@pytest.mark.parametrize(
    ("year", "first", "last", "noted"),
    [
        ("next", "2026-11-30", "2027-11-29", False),
        ("NEXT", "2026-11-30", "2027-11-29", False),
        ("2025", "2025-01-01", "2025-12-31", False),
        ("2026", "2026-11-30", "2026-12-31", True),
        ("2027", "2027-01-01", "2027-12-31", False),
    ],
)
def test_a_year_is_what_is_to_come_of_it(set_clock, capsys, year, first, last, noted):
    set_clock("2026-11-29T16:00")
    assert days_of_year(year, ISLE) == (DATE(first), DATE(last))
    said = "note: the mornings of 2026 before 30 November 2026 are past and left out\n"
    assert capsys.readouterr().err == (said if noted else "")


def test_the_ends_of_a_year(set_clock, capsys):
    set_clock("2026-12-31T07:00")  # before sunrise
    assert days_of_year("2026", ISLE) == (DATE("2026-12-31"),) * 2
    assert "before 31 December 2026" in capsys.readouterr().err
    set_clock("2026-12-31T12:00")  # all its mornings are past, and one evening is not
    assert days_of_year("2026", ISLE) == (DATE("2026-01-01"), DATE("2026-12-31"))
    assert days_of_year("2026", ISLE, evening=True) == (DATE("2026-12-31"),) * 2
    assert "the evenings of 2026 before 31 December" in capsys.readouterr().err
    set_clock("2026-01-01T03:00")
    assert days_of_year("2026", ISLE) == (DATE("2026-01-01"), DATE("2026-12-31"))
    assert days_of_year("2026", KIRITIMATI)[0] == DATE("2026-01-02")  # five in the afternoon
    set_clock("2028-02-29T03:00")
    assert days_of_year("next", ISLE) == (DATE("2028-02-29"), DATE("2029-02-28"))


@pytest.mark.parametrize(("year", "said"), [("soon", "is not a year"), ("0", "1900 to 2199")])
def test_what_is_not_a_year(set_clock, year, said):
    set_clock("2026-11-29T16:00")
    for meant in (days_of_year, year_meant):
        if (meant, year) != (year_meant, "0"):  # which the atlas itself refuses
            with pytest.raises(TerrainError, match=said):
                meant(year, ISLE)


def test_the_atlas_has_one_calendar_year(set_clock, capsys):
    set_clock("2026-11-29T16:00")
    assert year_meant("2026", ISLE) == 2026
    assert not capsys.readouterr().err
    assert year_meant("next", ISLE) == 2027
    assert "in 2027, so its days are shown" in capsys.readouterr().err
    set_clock("2026-06-29T16:00")
    assert year_meant("next", ISLE) == 2026


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (None, None, ("2026-11-30", "2027-11-29")),
        (None, "2026-12-03", ("2026-11-30", "2026-12-03")),
        ("2028-02-29", None, ("2028-02-29", "2029-02-28")),
        ("today", "sat", ("2026-11-29", "2026-12-05")),
        ("2020-03-01", "2020-04-01", ("2020-03-01", "2020-04-01")),
        ("2020-03-01", "2027-04-01", ("2020-03-01", "2027-04-01")),
    ],
)
def test_a_span_is_as_it_is_given(set_clock, first, last, expected):
    set_clock("2026-11-29T16:00")
    assert days_between(first, last, ISLE) == tuple(map(DATE, expected))
    if last is None:
        begins, ends = days_between(first, last, ISLE, count=31)
        assert (begins, (ends - begins).days) == (DATE(expected[0]), 30)


def test_a_span_that_ends_before_it_begins(set_clock):
    set_clock("2026-11-29T16:00")
    with pytest.raises(TerrainError, match="2026-11-29, is before the first, 2026-11-30"):
        days_between(None, "today", ISLE)


@pytest.fixture(scope="module")
def dateless(isle):
    """The area of the two hills with no date among its defaults."""
    area = isle.with_name("dateless.toml")
    area.write_text(isle.read_text().replace("date = 2026-03-22\n", ""), encoding="utf-8")
    return area


@pytest.mark.parametrize("command", ["sunrise", "light", "plan"])
def test_a_command_without_a_date_takes_the_next_morning(terrain, dateless, set_clock, command):
    set_clock("2026-03-26T20:00")
    where = () if command == "light" else LOOK
    outcome = terrain(command, dateless, *where, "--json")
    assert json.loads(outcome.out)["date"] == "2026-03-27"
    assert "the next morning is that of Friday 27 March 2026" in outcome.err


def test_of_an_evening_it_is_the_next_evening(terrain, dateless, set_clock):
    set_clock("2026-03-27T16:00")  # in the afternoon at the isle
    outcome = terrain("sunrise", dateless, *LOOK, "--evening", "--json")
    assert json.loads(outcome.out)["date"] == "2026-03-27"


def test_frame_hills_and_vantages_without_a_date(terrain, dateless, set_clock):
    set_clock("2026-03-27T03:00")
    for words, key in ((("hills",), "appears"), (("vantages", "--count", "1"), "appears")):
        outcome = terrain(words[0], dateless, *words[1:], "--json")
        assert json.loads(outcome.out)[0][key].startswith("2026-03-27T")
        assert "Friday 27 March 2026" in outcome.err
    outcome = terrain("frame", dateless, *LOOK, "--json")
    assert json.loads(outcome.out)["sun"][0]["moment"].startswith("2026-03-27T")


def test_dates_without_a_year_are_those_to_come(answered, isle, set_clock):
    """The area has a date of the spring before, which is a day and no year."""
    set_clock("2026-09-17T20:00")
    asked = ("dates", isle, *LOOK, "--within", "1")
    told = answered(*asked)
    both = [answered(*asked, "--year", str(year)).fields for year in (2025, 2027)]
    year_2025, year_2027 = ([row["day"] for row in rows] for rows in both)
    assert year_2025[0] < "2025-04-01"
    days = [row["day"] for row in told.fields]
    assert "2026-09-17" < days[0] < "2026-10-01"
    assert [day for day in days if day > "2027"] == [d for d in year_2027 if d <= "2027-09-17"]
    cut = answered(*asked, "--year", "2026")
    assert [row["day"] for row in cut.fields] == [day for day in days if day < "2027"]
    assert "the mornings of 2026 before 18 September 2026 are past and left out" in cut.err
    assert "of the days from 2026-09-18 to 2027-09-17" in " ".join(told.out.split())


def test_vantages_and_plans_of_the_year_to_come(terrain, isle, clear_isle, set_clock):
    set_clock("2026-09-17T20:00")
    rows = json.loads(terrain("vantages", isle, "--year", "next", "--count", "1", "--json").out)
    assert rows
    assert all("2026-09-18" <= row["day"] <= "2027-09-17" for row in rows)
    for year in (("--year", "next"), ("--from", "2026-09-18")):
        answer = json.loads(terrain("plan", clear_isle, *LOOK, *year, "--json").out)
        days = [answer["date"], *(other["day"] for other in answer["other_days"])]
        assert {day[:4] for day in days} == {"2026", "2027"}
        assert all("2026-09-18" <= day <= "2027-09-17" for day in days)


def test_a_season_without_days_begins_with_the_next_morning(terrain, isle, set_clock):
    set_clock("2026-03-25T20:00")
    outcome = terrain("season", isle, "--to", "2026-03-28")
    assert ", 2026-03-26 to 2026-03-28" in " ".join(outcome.out.split()), outcome.err
