"""A real browser without a window, for the tests of pages: Chromium, which Playwright drives.

What goes wrong on a page is kept, so that a test can fail by it: errors of its scripts, and
requests that go elsewhere than to the page itself.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

ARGUMENTS = (
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-compositing",
    "--no-sandbox",
    "--force-color-profile=srgb",
)


def chromium_path() -> str | None:
    """The Chromium of this machine, or the one that Playwright brought; None for neither."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    return found or next(map(str, sorted(_brought())), None)


def _brought() -> Iterator[Path]:
    """Where Playwright puts a Chromium on Linux."""
    folder = os.environ.get("PLAYWRIGHT_BROWSERS_PATH") or Path.home() / ".cache/ms-playwright"
    yield from Path(folder).glob("chromium-*/chrome-linux*/chrome")


CHROMIUM = chromium_path()
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="no chromium is installed")


@dataclass
class Shown:
    """A page in a browser, and what went wrong on it.

    refused: whether an answer there is refused in one line, which a browser logs as an error.
    """

    page: Any
    wrongs: list[str] = field(default_factory=list)
    refused: bool = False

    def run(self, script: str, argument: Any = None) -> Any:
        """What a function or an expression gives on the page."""
        return self.page.evaluate(script, argument)

    def pixels(self, selector: str) -> np.ndarray:
        """What is on the screen where an element is, RGB."""
        shot = self.page.locator(selector).screenshot()
        return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(int)

    def barriers(self) -> list[str]:
        """What axe finds that keeps people out, a line a rule; none for a good page."""
        from axe_playwright_python.sync_playwright import Axe

        found = Axe().run(self.page).response["violations"]
        return [f"{rule['id']}: {rule['nodes'][0]['html'][:120]}" for rule in found]


def watch(shown: Shown, home: str) -> None:
    """Keep what goes wrong on a page, and every request that goes elsewhere than home."""
    page, wrongs = shown.page, shown.wrongs

    def said(message: Any) -> None:
        if message.type == "error" and not (shown.refused and "400 (Bad Request)" in message.text):
            wrongs.append(message.text)

    page.on("console", said)
    page.on("pageerror", lambda error: wrongs.append(str(error)))

    def asked(request: Any) -> None:
        if not request.url.startswith((home, "data:", "blob:")):
            wrongs.append(f"asked {request.url}")

    page.on("request", asked)


@contextmanager
def page_of(
    chromium: Any,
    file: Path,
    *,
    size: tuple[int, int] = (360, 800),
    scheme: str = "light",
    asked: list[str] | None = None,
    said: list[str] | None = None,
    **options: Any,
) -> Iterator[Shown]:
    """A file opened by itself; asked, said: take all addresses, and all that its console says."""
    width, height = size
    screen = {"width": width, "height": height}
    context = chromium.new_context(
        viewport=screen, is_mobile=width < 600, color_scheme=scheme, **options
    )
    shown = Shown(context.new_page())
    watch(shown, file.as_uri())
    if asked is not None:
        shown.page.on("request", lambda request: asked.append(request.url))
    if said is not None:
        shown.page.on("console", lambda message: said.append(message.text))
    shown.page.goto(file.as_uri())
    yield shown
    context.close()


def paper_of(shown: Shown) -> bytes:
    """The page as a PDF, on the paper that its style asks for."""
    return bytes(shown.page.pdf(prefer_css_page_size=True, print_background=True))


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A browser without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield running
        running.close()
