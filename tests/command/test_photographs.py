"""The pictures of `terrain sunrise`: lens, hold, time, size, and the light over the minutes."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from tests.command.conftest import Terrain

ASKED = ("--spot", "the ridge")


def test_pictures_for_the_wall(terrain: Terrain, isle: Path, tmp_path: Path) -> None:
    file = tmp_path / "wall.png"
    told = terrain(
        *("sunrise", isle, *ASKED, "--save", file, "--clean", "--pixels", 480),
        *("--lens", 70, "--hold", "portrait", "--time", "06:10", "--time", "05:40"),
    )
    assert (told.code, told.err) == (0, f"wrote {file}\n")
    with Image.open(file) as image:
        across, up = image.size
    # two pictures of two by three, side by side
    assert across == 480
    assert up == pytest.approx(1.5 * across / 2.0, rel=0.03)


@pytest.mark.parametrize(("pixels", "across"), [((), 2400), (("--pixels", 1000), 1000)])
def test_a_page_is_as_wide_as_asked(
    terrain: Terrain, isle: Path, tmp_path: Path, pixels: tuple[str, int], across: int
) -> None:
    file = tmp_path / "page.png"
    told = terrain("sunrise", isle, *ASKED, "--save", file, "--time", "06:10", *pixels)
    assert told.code == 0
    with Image.open(file) as image:
        assert image.size[0] == across


@pytest.mark.parametrize("name", ["light.gif", "light.webp"])
def test_the_light_over_the_minutes(
    terrain: Terrain, isle: Path, tmp_path: Path, name: str
) -> None:
    file = tmp_path / name
    told = terrain("sunrise", isle, *ASKED, "--save", file, "--every", 20, "--pixels", 200)
    assert told.code == 0
    assert [path.name for path in tmp_path.iterdir()] == [name]
    with Image.open(file) as image:
        assert image.size[0] == 200
        assert image.n_frames > 2  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--hold", "sideways", "--hold sideways: say portrait or landscape"),
        ("--time", "soon", "--time soon: give it as HH:MM by the local clock"),
    ],
)
def test_what_cannot_be_pictured(
    terrain: Terrain, isle: Path, tmp_path: Path, option: str, value: str, words: str
) -> None:
    told = terrain("sunrise", isle, *ASKED, option, value, "--save", tmp_path / "view.png")
    assert (told.code, told.out) == (2, "")
    assert words in told.err
    assert not list(tmp_path.iterdir())


def test_no_picture_is_wider_than_can_be_held(terrain: Terrain, isle: Path, tmp_path: Path) -> None:
    told = terrain("sunrise", isle, *ASKED, "--pixels", 6001, "--save", tmp_path / "view.png")
    assert told.code == 2
    assert "6000" in told.err
