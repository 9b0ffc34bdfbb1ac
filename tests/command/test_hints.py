"""What a command says to type next can be typed as it stands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

import terrain.command


def hints(said):
    """The command lines in what was printed: each on a line of its own."""
    return [line.strip() for line in said.splitlines() if line.strip().startswith("terrain ")]


@pytest.mark.parametrize(
    "asked",
    [
        ("vantages", "--mist-top", "180"),
        ("atlas", "--year", "2026"),
        ("plan", "--year", "2026", "--spot", "the ridge"),
    ],
)
def test_the_next_command_is_run_as_it_stands(terrain, isle, tmp_path, monkeypatch, asked):
    monkeypatch.chdir(tmp_path)
    # of a plan's other days so few are told that there are more
    monkeypatch.setattr("terrain.command.plan_report._MOST_DAYS", 1)
    outcome = terrain(asked[0], isle, *asked[1:])
    assert outcome.code == 0, outcome.err
    (hint,) = hints(outcome.out)
    assert set(asked[1:]) <= set(shlex.split(hint)) | {"the ridge"}
    again = terrain(*shlex.split(hint)[1:])
    assert again.code == 0, again.err


@pytest.mark.slow
def test_what_the_demo_says_to_try_is_tried_as_it_stands(terrain, demo_folder, capsys, monkeypatch):
    from terrain.command.demo import _say_next

    monkeypatch.chdir(demo_folder.parent)
    _say_next(demo_folder.relative_to(demo_folder.parent), "54.4071,-24.0634")
    lines = hints(capsys.readouterr().out)
    assert len(lines) == 4
    # the desk goes on, and is tried in its own tests
    for line in (line for line in lines if " desk " not in line):
        outcome = terrain(*shlex.split(line)[1:])
        assert outcome.code == 0, outcome.err
    assert (demo_folder / "next.png").is_file()


_DAYS = ("--from", "2026-03-21", "--to", "2026-03-22")


def to_type(outcome):
    """The command line that an error ends with."""
    (line,) = outcome.err.splitlines()
    return shlex.split(line.partition("; try: ")[2])


@pytest.mark.parametrize(
    ("asked", "loosened"),
    [
        (("vantages", "--date", "2026-06-21", "--count", "1"), "--year"),
        (("vantages", "--date", "2026-05-16", "--within", "0.2"), "--within"),
        (("vantages", "--freeboard", "500"), "--freeboard"),
        (("vantages", "--mist-top", "560"), "--mist-top"),
        (("vantages", "--mist-top", "700"), "--mist-top"),
        (("vantages", "--steepest", "0.001"), "--steepest"),
        (("vantages", "--farthest", "1.2"), "--farthest"),
        (("vantages", "--nearest", "14"), "--nearest"),
        (("vantages", "--against", "mist"), "--against"),
        (("vantages", "--mist-share=0.9"), "--mist-share"),
        (("vantages", "--walk", "3"), "--walk"),
        (("season", *_DAYS, "--hill", "Lone Hill", "--mist-top", "560"), "--mist-top"),
        (("season", *_DAYS, "--prominence", "900"), "--prominence"),
        (("summits", "--prominence", "2000"), "--prominence"),
        (("passes", "--prominence", "900"), "--prominence"),
        (("mist", "--mist-top", "900"), "--mist-top"),
        (("vantages", "--mist-depth", "400"), "--mist-depth"),
        (("vantages", "--depth=400"), "--depth"),
        (("vantages", "--mist-top", "520:560:20"), "--mist-top"),
        (("vantages", "--year", "2026", "--within", "0.0001", "--count", "1"), "--within"),
        (("vantages", "--year", "2026", "--farthest", "1.2", "--count", "1"), "--farthest"),
        (("vantages", "--year", "2026", "--mist-share=0.9", "--count", "1"), "--mist-share"),
        (("dates", "--spot", "the ridge", "--within", "0.001"), "--within"),
        (("dates", "--spot", "54.3815,-23.94", "--mist-top", "20"), "vantages"),
        (("dates", "--spot", "the quay"), "--mist-top"),
        (("sunrise", "--spot", "the quay"), "--mist-top"),
        (("skyline", "--spot", "the quay", "--mist-top", "200"), "--mist-top"),
        (("atlas", "--year", "2026", "--mist-top", "579"), "--mist-top"),
        (("atlas", "--year", "2026", "--against", "mist"), "atlas"),
        (("hills", "--within", "0.0001"), "--within"),
        (("hills", "--prominence", "900"), "--prominence"),
        (("hills", "--farthest", "1.1"), "--farthest"),
        (("hills", "--mist-top", "580"), "--mist-top"),
        (("hills", "--walk", "3"), "--walk"),
        (("hills", "--mist-share=0.9"), "--mist-share"),
        (("season", *_DAYS, "--mist-top", "560"), "--mist-top"),
        (("mist", "--depth", "40", "--ceiling", "-1"), "--depth"),
        (("plan", "--start", "the quay", *_DAYS, "--walk", "3"), "--walk"),
    ],
    ids=lambda one: " ".join(one[:3]) if isinstance(one, tuple) else None,
)
def test_an_empty_answer_says_what_to_type_for_the_nearest_miss(
    terrain, isle, tmp_path, monkeypatch, asked, loosened
):
    monkeypatch.chdir(tmp_path)
    outcome = terrain(asked[0], isle, *asked[1:])
    assert outcome.code == 2
    assert (loosened in to_type(outcome)) == (loosened != "--against")
    for _ in range(3):
        if outcome.code == 0:
            return
        words = to_type(outcome)
        assert words, outcome.err
        outcome = terrain(*words[1:])
    assert outcome.code == 0, outcome.err


def test_a_level_mist_and_a_mist_without_a_lid_are_typed_in_place_of_what_was_asked():
    from terrain.command.loosened import with_what_to_type
    from terrain.errors import NoAnswer

    known = ["--mist-depth", "--depth", "--mist-top", "--ceiling", "--mist-ceiling", "--mist-from"]

    def typed(change, *words):
        said = str(with_what_to_type(NoAnswer("none", loosen=[change]), "mist", words, known))
        return said.partition("; try: ")[2]

    words = ("a.tif", "--depth=20", "--mist-from", "the ridge")
    assert typed({"level_top_m": 90}, *words) == "terrain mist a.tif --mist-top 90"
    assert typed({"seeds": None}, *words) == "terrain mist a.tif --depth=20"
    lid = ("a.tif", "--depth", "20", "--ceiling", "-5")
    assert typed({"ceiling_m": None}, *lid) == "terrain mist a.tif --depth 20"


def test_hills_of_less_prominence_are_asked_for_where_nothing_else_can_be():
    from terrain.command.hills import _more
    from terrain.errors import NoAnswer

    def loosened(prominence_m, loosen=()):
        with pytest.raises(NoAnswer, match="none") as caught, _more(prominence_m):
            raise NoAnswer("none", loosen=loosen)
        return caught.value.loosen

    assert loosened(400.0) == ({"min_prominence_m": 30.0},)
    assert loosened(30.0) == ()
    assert loosened(400.0, [{"tolerance_deg": 2.0}]) == ({"tolerance_deg": 2.0},)


def test_a_folder_with_a_blank_is_quoted(isle, tmp_path):
    from terrain.command.further import again
    from terrain.command.options import Asked

    file = tmp_path / "my hills.toml"
    asked = dict.fromkeys(("crs", "unit", "band", "variable", "reach", "cell", "memory"))
    said = again(Asked(ground=[file], trust=False, **asked), "dates", None, "--spot", "a b")
    assert shlex.split(said) == ["terrain", "dates", str(file), "--spot", "a b"]


def test_no_hint_leaves_something_to_fill_in():
    """`terrain COMMAND ...` in the words of a command must be made from what was asked."""
    for file in Path(terrain.command.__path__[0]).glob("*.py"):
        assert not re.search(r"terrain [a-z]+ (\.\.\.|.*(LAT,LON|PLACE) )", file.read_text()), file
