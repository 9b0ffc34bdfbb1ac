"""What a command line can say of the pictures of a view, and the files of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

import terrain
from terrain.command.options import option
from terrain.command.report import progress, saved
from terrain.command.saves import MOVING, PICTURE, Endings, Writer
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.frame.lens import Orientation

MOST_PX: Final = 6000
LEAST_PX: Final = 200


@dataclass(frozen=True, kw_only=True)
class PhotographOptions:
    """How the pictures of a view are taken."""

    hold: str | None = option(
        "HOW", "How the camera is held: portrait or landscape.", shown="as takes in the most"
    )
    at: list[str] | None = option(
        "HH:MM",
        "Picture the view at this time by the local clock, not before the colour, at the moment "
        "and ten minutes on; repeatable.",
        "--time",
        shown=False,
    )
    clean: Annotated[
        bool,
        typer.Option("--clean", help="The pictures alone, with no word on them, for the wall."),
    ] = False
    pixels: int | None = option(
        "N",
        "Width of what is saved, in pixels, up to 6000.",
        shown="2400, and 960 for .webp and .gif",
        least=LEAST_PX,
        most=MOST_PX,
    )
    every: float | None = option(
        "MIN",
        "Minutes from one picture to the next of a .webp or .gif; with it a .png has a file of "
        "each beside it.",
        shown="2",
        least=0.5,
    )

    def writers(
        self,
        scene: terrain.Scene,
        answer: terrain.Backlight,
        kit: terrain.Kit,
        summits: Callable[[], gpd.GeoDataFrame],
        small: gpd.GeoDataFrame,
    ) -> Mapping[Endings, Writer]:
        """What writes the view as a page and as an animation."""
        held, moments = self._held(), self._moments(answer)

        def page(path: Path) -> None:
            if self.every is not None and path.suffix.lower() == ".png":
                strip(path)
            from terrain.show.view.panorama import WIDTH_IN

            look: dict[str, Any] = {"clean": self.clean, "moments": moments}
            if self.pixels is not None:
                dpi = max(round(self.pixels / WIDTH_IN), 1)
                look |= {"dpi": dpi, "width_in": self.pixels / dpi}
            if not self.clean:
                look |= {"summits": summits(), "small_scenes": small}
            figure = terrain.view_figure(scene, answer, kit=kit, held=held, **look)
            terrain.save_picture(figure, path, dpi=round(figure.dpi))

        def strip(path: Path) -> None:
            every = dt.timedelta(minutes=2.0 if self.every is None else self.every)
            with progress("painting the light", quiet=False) as done:
                files = terrain.save_strip(
                    scene,
                    answer,
                    path,
                    every=every,
                    kit=kit,
                    held=held,
                    width_px=self.pixels or 960,
                    progress=done,
                )
            for file in files:
                if file != path:
                    saved(file)

        # the first that fits writes: what may move does
        return {MOVING: strip, PICTURE: page}

    def _held(self) -> Orientation | None:
        from terrain.frame.lens import Orientation

        if self.hold is None:
            return None
        try:
            return Orientation(self.hold.lower())
        except ValueError:
            raise TerrainError(f"--hold {self.hold}: say portrait or landscape") from None

    def _moments(self, answer: terrain.Backlight) -> list[dt.datetime] | None:
        if not self.at:
            return None
        path, found = answer.sun_path, []
        for text in self.at:
            try:
                hour = dt.time.fromisoformat(text)
            except ValueError:
                raise TerrainError(f"--time {text}: give it as HH:MM by the local clock") from None
            found.append(dt.datetime.combine(path.day, hour.replace(tzinfo=None), path.zone))
        return sorted(found)
