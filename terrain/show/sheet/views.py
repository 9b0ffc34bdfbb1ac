"""The views of a sheet, drawn on threads: with the mist at several heights, and as the light comes.

What they spend their time on works outside of the interpreter. So they may be begun as soon as it
is known where to stand and what to frame, while it is still worked out where to go instead.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

from PIL import Image, WebPImagePlugin

from terrain.cores import cores
from terrain.plan.morning import Plan
from terrain.plan.what_if import WhatIf, WhatIfs, what_ifs
from terrain.show.view.moment import Moment, moment_at
from terrain.show.view.moments import at_moments, best_moment, triptych
from terrain.show.view.photograph import print_of
from terrain.show.view.scenery import Scenery, scenery
from terrain.show.view.window import Window, window_round
from terrain.words.plan import frame_over_summit

VIEW_PX: Final = 1000
PASSING_PX: Final = 480

_WEBP: Final = WebPImagePlugin.WebPImageFile.format
"""Named by its own plugin: Pillow would load all forty of them to find it."""

_QUALITY: Final = 92
_EFFORT: Final = 2
"""Of the encoder, 0 to 6: with 3 a map is 2 % smaller and takes twice as long."""


@dataclass(frozen=True)
class Passing:
    """The view at one moment of the morning, with the mist as planned, as a WebP file."""

    words: str
    at: dt.datetime
    view: bytes


@dataclass(frozen=True, kw_only=True)
class Views:
    """Views that are being drawn, the lowest mist first.

    what_ifs: the mornings that are drawn. at: when, which is the best moment of the plan. window:
    what every view takes in. drawn, passing: what will be there. threads: on which they are drawn,
    for whoever has more to do there.
    """

    what_ifs: WhatIfs
    at: dt.datetime
    window: Window
    drawn: tuple[Future[bytes], ...]
    passing: Future[tuple[Passing, ...]]
    threads: ThreadPoolExecutor

    def close(self) -> None:
        """Begin no more of them, and wait for those in hand."""
        self.threads.shutdown(cancel_futures=True)


def begin_views(plan: Plan, mist_tops_m: Sequence[float] | None = None) -> Views:
    """Begin to draw the views of a plan, of which the fall-backs need not be known; to be closed.

    mist_tops_m: heights of the mist, as for `what_ifs`.
    """
    found = what_ifs(plan, mist_tops_m)
    best = best_moment(plan.backlight)
    suns = at_moments(plan.backlight, [best])
    window = window_round(plan.framing.frame, suns, also=frame_over_summit(plan))
    moment = moment_at(plan.backlight, plan.backlight.sun_path.seconds(best))
    threads = ThreadPoolExecutor(cores())
    return Views(
        what_ifs=found,
        at=best,
        window=window,
        drawn=tuple(threads.submit(_view, each, window, moment) for each in found.mornings),
        passing=threads.submit(_passing, found.mornings[found.planned], window),
        threads=threads,
    )


def as_webp(image: Image.Image, quality: int) -> bytes:
    """A picture as a WebP file."""
    file = io.BytesIO()
    image.save(file, format=_WEBP, quality=quality, method=_EFFORT)
    return file.getvalue()


def _view(morning: WhatIf, window: Window, moment: Moment) -> bytes:
    """The light alone: the marks are laid over it by the page."""
    shown = scenery(morning.scene, morning.backlight.view.spot, *window.cells(VIEW_PX))
    return _photograph(shown, moment, window)


def _photograph(shown: Scenery, moment: Moment, window: Window) -> bytes:
    toward = sum(window.azimuth_deg) / 2.0
    print_ = print_of(shown.light(moment)[::-1], moment, toward)
    return as_webp(Image.fromarray(print_), _QUALITY)


def _passing(morning: WhatIf, window: Window) -> tuple[Passing, ...]:
    """The light as it comes and grows, or goes."""
    answer, suns = morning.backlight, triptych(morning.backlight)
    shown = scenery(morning.scene, answer.view.spot, *window.cells(PASSING_PX))
    return tuple(
        Passing(words, at, _photograph(shown, moment_at(answer, suns.path.seconds(at)), window))
        for words, at in zip(suns.words, suns.moments, strict=True)
    )
