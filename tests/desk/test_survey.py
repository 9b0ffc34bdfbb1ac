"""A desk that was opened with a survey: its best rows, and the page that goes to one of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

import terrain
from terrain.command.area_file import open_area
from terrain.desk.table import Table, lay
from terrain.errors import TerrainError
from terrain.surveying.hills import vantages_of
from terrain.surveying.kept import read_survey
from terrain.surveying.receipts import Folder
from terrain.surveying.tables import by_the_clock, ranked, save_places
from tests.browser import chromium, needs_browser
from tests.command.conftest import terrain as terrain_command
from tests.desk.browser import address, browser, let_in
from tests.desk.conftest import opening_of

fixtures = (address, browser, chromium, let_in)
command = terrain_command
"""Run a command in this process."""

DAYS = dt.date(2026, 3, 10), dt.date(2026, 3, 22)
TOP_M = 120.0
LONE_HILL = -24.0228, 54.4066


def kept_as_a_survey(table: gpd.GeoDataFrame, folder: Path) -> Path:
    """A table in a folder with its receipt, as a survey leaves it."""
    folder.mkdir()
    save_places(table, folder / "survey.parquet")
    Folder(folder).sign("survey-0123456789abcdef", folder / "survey.parquet")
    return folder


def anew(*tables: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The rows of some tables ranked over all."""
    return ranked([table.drop(columns="rank", errors="ignore") for table in tables])


def moved(rows: gpd.GeoDataFrame, by_deg: float) -> gpd.GeoDataFrame:
    """The same rows so far east."""
    east = {name: rows[name] + by_deg for name in ("lon_deg", "hill_lon_deg")}
    return gpd.GeoDataFrame(rows.assign(**east), geometry=rows.geometry.translate(by_deg))


@pytest.fixture(scope="session")
def found(isle_file: Path) -> gpd.GeoDataFrame:
    """What a survey finds for the two hills of the island, ranked, and as much on later days."""
    dem = terrain.read_dem(isle_file.parent / "isle.tif")
    question = terrain.SurveyQuestion(
        days=DAYS,
        tops_m=(TOP_M,),
        limits=terrain.Limits(max_distance_m=4000.0),
        count=14,
        prominence_m=60.0,
        reach_m=5000.0,
    )
    rows = []
    for row in terrain.find_summits(dem, min_prominence_m=60.0).itertuples():
        near = np.hypot(row.geometry.x - LONE_HILL[0], row.geometry.y - LONE_HILL[1]) < 0.002
        name = "Lone Hill" if near else ""
        hill = terrain.hill_at(dem, row.geometry.x, row.geometry.y, name=name)
        rows.append(vantages_of(dem, hill, question))
    best = pd.concat(rows, ignore_index=True)
    return anew(*(by_the_clock(later(best, days)) for days in range(12)))


def later(rows: pd.DataFrame, days: int) -> pd.DataFrame:
    """The same rows so many days later, ranked lower, so that there are more than fit at once."""
    wait = dt.timedelta(days=days)
    moments = {name: rows[name] + wait for name in ("day", "best_at")}
    return rows.assign(**moments, score=rows["score"] * 0.98**days)


@pytest.fixture(scope="session")
def folder(found: gpd.GeoDataFrame, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The survey of that, and of two better rows a degree farther east, in its folder."""
    better = moved(found.head(2), 1.0).assign(score=[0.99, 0.98])
    return kept_as_a_survey(anew(found, better), tmp_path_factory.mktemp("survey") / "kept")


@pytest.fixture(scope="session")
def table(isle_file: Path, folder: Path) -> Table:
    """The table of a desk over the island with the survey on it."""
    opening = opening_of(open_area([isle_file]))
    return lay(replace(opening, survey=read_survey(folder)))


def test_the_rows_are_those_of_the_table_and_what_lies_off_the_ground_comes_last(ask, found):
    answer = ask("/survey.json")
    rows = answer["rows"]
    assert len(rows) == len(found) + 2 > 20
    assert [row["rank"] for row in rows] == [*range(3, len(found) + 3), 1, 2]
    assert [row["is_here"] for row in rows] == [True] * len(found) + [False] * 2
    assert answer["words"].endswith(
        f": the {len(found)} best of this ground are here; 2 off it come last."
    )
    for row, is_found in zip(rows, found.to_dict("records"), strict=False):
        assert row["date"] == is_found["day"].isoformat()
        assert row["end"] == ("evening" if is_found["evening"] else "morning")
        assert row["lat_deg"] == pytest.approx(is_found["lat_deg"], abs=1e-6)
        assert row["hill"] == is_found["hill"]
        # the survey was asked of one top, which no column has
        assert row["mist"] == "level:120"
        apart = clock_of(row["time"]) - clock_of(is_found["best_at_clock"][11:])
        assert abs(apart) <= dt.timedelta(seconds=30)
    assert ask("/about.json")["has_survey"] is True


def clock_of(text: str) -> dt.timedelta:
    """A clock as the time since midnight."""
    hours, minutes, *seconds = text.partition("-")[0].split(":")
    return dt.timedelta(hours=int(hours), minutes=int(minutes), seconds=int((seconds or ["0"])[0]))


def test_at_most_two_hundred_rows_are_told_of_and_the_best_of_the_ground_first(
    isle_file: Path, found: gpd.GeoDataFrame
):
    from terrain.desk.asked import Asked
    from terrain.desk.surveyed import rows
    from terrain.desk.work import Job

    many = anew(*[found] * 12, moved(found, 1.0))
    laid = lay(replace(opening_of(open_area([isle_file])), survey=many))
    told = rows(laid, Asked({}), Job())
    assert len(told["rows"]) == 200 < 12 * len(found)
    assert all(row["is_here"] for row in told["rows"])
    ranks = [row["rank"] for row in told["rows"]]
    assert ranks == sorted(ranks)
    assert "the 200 best" in told["words"]


def test_a_survey_of_several_tops_says_which_a_row_is_about(
    isle_file: Path, found: gpd.GeoDataFrame
):
    from terrain.desk.asked import Asked
    from terrain.desk.surveyed import rows
    from terrain.desk.work import Job

    several = found.assign(mist_top_m=150.0)
    of_none = found.assign(freeboard_m=np.nan)
    for table, mist in ((several, "level:150"), (of_none, "none")):
        laid = lay(replace(opening_of(open_area([isle_file])), survey=table))
        assert {row["mist"] for row in rows(laid, Asked({}), Job())["rows"]} == {mist}


def test_a_desk_without_one_says_so_in_one_line(isle_file: Path):
    from terrain.desk.asked import Asked
    from terrain.desk.surveyed import rows
    from terrain.desk.work import Job

    with pytest.raises(TerrainError, match="--survey FOLDER"):
        rows(lay(opening_of(open_area([isle_file]))), Asked({}), Job())


def test_a_survey_of_other_ground_is_refused(isle_file: Path, found: gpd.GeoDataFrame):
    opening = replace(opening_of(open_area([isle_file])), survey=moved(found, 1.0))
    with pytest.raises(TerrainError, match=r"other ground: its best hill, at 54\.40.*covers"):
        lay(opening)


def test_a_folder_that_is_no_survey_is_told_in_one_line(
    command, isle_file: Path, folder: Path, found: gpd.GeoDataFrame, tmp_path: Path, monkeypatch
):
    def told(place: Path) -> str:
        said = command("desk", isle_file, "--survey", place, "--no-browser")
        assert (said.code, said.out) == (2, "")
        line = said.err.strip().splitlines()[-1]
        assert "Traceback" not in said.err
        return line

    assert "there is none" in told(tmp_path / "nowhere")
    assert "it is a file" in told(isle_file)
    assert "holds no survey.parquet" in told(tmp_path)
    bare = kept_as_a_survey(found.drop(columns="score"), tmp_path / "bare")
    assert "has no column score" in told(bare)
    empty = kept_as_a_survey(ranked([]), tmp_path / "empty")
    assert "found no vantage" in told(empty)
    torn = kept_as_a_survey(found, tmp_path / "torn")
    whole = (torn / "survey.parquet").read_bytes()
    (torn / "survey.parquet").write_bytes(whole[:-9] + bytes(9))
    assert "not what its receipt says" in told(torn)
    monkeypatch.setattr("terrain.surveying.extra.find_spec", lambda name: None)
    assert told(folder).endswith("a survey needs pyarrow: pip install 'terrain[country]'")


@needs_browser
def test_a_row_moves_hill_place_day_clock_mist_and_map_to_it(browser, ask):
    page = browser.open("#date=2026-06-01&mist=none")
    page.settle()
    page.wait("document.querySelectorAll('#pane-survey tbody tr').length === 20")
    assert page.page.locator("#tab-survey").get_attribute("aria-selected") == "true"
    row = ask("/survey.json")["rows"][1]
    whole = page.data("#map canvas")
    # a click anywhere on the row
    page.page.locator("#pane-survey tbody tr").nth(1).locator("td").nth(1).click()
    page.settle()
    state = page.state
    spot = f"{row['lat_deg']:.6f},{row['lon_deg']:.6f}"
    assert (state["spot"], state["time"]) == (spot, row["time"])
    assert page.page.locator("#date").input_value() == row["date"]
    assert page.page.locator("#end").input_value() == row["end"]
    assert page.page.locator("#top-said").inner_text() == "120 m"
    assert row["time"] in page.page.locator("#clock-said").inner_text()
    assert page.page.locator("#hill").input_value() == hill_of(row)
    assert page.data("#map canvas")["cells"] < whole["cells"]
    for sign in ("spot", "hill"):
        box = page.page.locator(f"#map .mark.{sign}").bounding_box()
        inside = page.page.locator("#map").bounding_box()
        assert inside["x"] < box["x"] < inside["x"] + inside["width"]
        assert inside["y"] < box["y"] < inside["y"] + inside["height"]
    chosen = page.page.locator("#pane-survey tr:has(button[aria-pressed=true])")
    assert chosen.locator("td").first.inner_text() == str(row["rank"])
    page.page.go_back()
    page.wait("document.getElementById('date').value === '2026-06-01'")


def hill_of(row: dict) -> str:
    """The hill of a row as the page says it: by its name, if it has one there."""
    if row["hill"] == "Lone Hill":
        return row["hill"]
    return f"{row['hill_lat_deg']:.6f},{row['hill_lon_deg']:.6f}"


@needs_browser
@pytest.mark.parametrize(("size", "scheme"), [((1000, 680), "light"), ((360, 740), "dark")])
def test_rows_are_gone_to_by_keyboard_more_are_shown_and_nobody_is_kept_out(browser, size, scheme):
    page = browser.open("#tab=survey", size=size, scheme=scheme)
    page.settle()
    page.wait("document.querySelectorAll('#pane-survey tbody tr').length === 20")
    assert page.barriers() == []
    first = page.page.locator("#pane-survey tbody button").first
    first.focus()
    first.press("Enter")
    page.settle()
    assert first.get_attribute("aria-pressed") == "true"
    assert page.state["map"]
    page.page.get_by_role("button", name="Show 6 more").press("Enter")
    rows = page.page.locator("#pane-survey tbody tr")
    assert rows.count() == 26
    assert page.run("() => document.activeElement.closest('tr').rowIndex") == 21
    assert "off the ground of this desk" in rows.last.inner_text()
    assert rows.last.locator("button").count() == 0
    assert not page.page.locator("#survey-more").is_visible()
    assert page.barriers() == []
    assert page.run("() => document.documentElement.scrollWidth") <= size[0]
    address = page.page.url
    page.page.reload()
    page.wait("document.querySelector('#pane-survey button[aria-pressed=true]')")
    assert page.page.url == address
