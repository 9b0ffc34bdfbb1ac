"""A desk served to a real browser: one server and one browser for the tests of a module.

What goes wrong on a page is kept: errors of its scripts and requests that leave the machine fail
the test that opened it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs

import pytest
import uvicorn

from terrain.desk.app import app_of
from terrain.desk.desk import Desk
from terrain.desk.guard import Guard
from terrain.desk.serve import listen
from terrain.desk.table import Table
from tests.browser import Shown, watch

PATIENCE_S = 60.0
WIDE = (920, 600)


class Opened(Shown):
    """A page of the desk, and what went wrong on it."""

    def wait(self, script: str) -> Any:
        """Wait until an expression holds on the page, which forbids what Playwright has for it."""
        until = time.monotonic() + PATIENCE_S
        while not (found := self.run(f"() => {script}")):
            if time.monotonic() > until:
                said = self.page.locator("#wrong").inner_text()
                pytest.fail(f"{script} never held; the page says {said!r}, {self.wrongs}")
            time.sleep(0.05)
        return found

    def settle(self, *, view: bool = False) -> None:
        """Wait until all that was asked for has come and is drawn."""
        done = [
            "document.body.classList.contains('laid')",
            "(map.offsetParent === null || map.dataset.row)",
        ]
        done += ["seen.fine === '1' && seen.share === '1'" if view else "work.textContent === ''"]
        named = (
            "const map = document.querySelector('#map canvas');"
            "const work = document.getElementById('work');"
            "const seen = document.querySelector('#view canvas').dataset;"
        )
        for _ in range(2):
            self.wait(f"(() => {{ {named} return Boolean({' && '.join(done)}); }})()")
            self.page.wait_for_timeout(120)
        self.run("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)))")

    @property
    def state(self) -> dict[str, str]:
        """The parts of the address, which the page writes at once where it is about to be left."""
        left = "() => { dispatchEvent(new Event('pagehide')); return location.hash.slice(1); }"
        parts = parse_qs(self.run(left), keep_blank_values=True)
        return {name: values[0] for name, values in parts.items()}

    def data(self, selector: str) -> dict[str, float]:
        """The figures that a canvas keeps of what it shows."""
        kept = self.run("(name) => ({ ...document.querySelector(name).dataset })", selector)
        return {name: float(value) for name, value in kept.items()}

    def drag(self, selector: str, share: float) -> None:
        """Take the handle of a slider with the mouse, and put it to a share of its length."""
        slider = self.page.locator(selector)
        now = "({ value, min, max }) => (value - min) / (max - min)"
        box, held = slider.bounding_box(), slider.evaluate(now)
        down = box["y"] + box["height"] / 2

        def across(part: float) -> float:
            return float(box["x"] + 8 + part * (box["width"] - 16))

        mouse = self.page.mouse
        mouse.move(across(held), down)
        mouse.down()
        mouse.move(across((held + share) / 2), down, steps=2)
        mouse.move(across(share), down, steps=2)
        mouse.up()


def _answer_nothing(route: Any) -> None:
    """A page without a line on it, and without a sign of it that would be asked for."""
    nothing = '<!doctype html><link rel="icon" href="data:,">'
    route.fulfill(body=nothing, content_type="text/html")


class Browser:
    """A browser, and the address of the desk that its pages open."""

    def __init__(self, chromium: Any, address: str, cookie: dict[str, Any]) -> None:
        self.chromium, self.address, self._cookie = chromium, address, cookie
        self.opened: list[Opened] = []
        self._bare: Opened | None = None
        self._kept: Opened | None = None

    def open(
        self,
        state: str = "",
        *,
        size: tuple[int, int] = WIDE,
        scheme: str = "light",
        script: str = "",
        url: str | None = None,
        refused: bool = False,
        route: tuple[str, Any] | None = None,
    ) -> Opened:
        """Open the desk at a state of its address.

        script: runs before those of the page. url: another page, of a file. refused: as in `Shown`.
        route: which addresses a function takes first, and that. What needs none of these is opened
        in one window for all tests of a module: a process of its own takes a second each time.
        """
        if script or route or url is not None:
            opened = self._window("file:" if url else self.address)
        else:
            opened = self._kept = self._kept or self._window(self.address)
        if opened not in self.opened:
            self.opened.append(opened)
        page, opened.refused = opened.page, refused
        if script:
            page.add_init_script(script)
        if route:
            page.route(*route)
        width, height = size
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=scheme)
        # from another state of the address nothing would be loaded
        page.goto("about:blank")
        page.goto(url or f"{self.address}/{state}")
        return opened

    def _window(self, home: str) -> Opened:
        """A window with nothing in it yet, of a user who is let in."""
        context = self.chromium.new_context()
        context.set_default_timeout(1e3 * PATIENCE_S)
        context.add_cookies([self._cookie])
        opened = Opened(context.new_page())
        watch(opened, home)
        return opened

    def bare(self) -> Opened:
        """A page of the desk's address with nothing on it, the same for all tests of a module.

        For what asks modules of the page and draws by itself: to lay a desk takes 2 to 4 s of the
        processor, most of it for its map.
        """
        if self._bare is None:
            self._bare = self.open("bare", route=("**/bare", _answer_nothing))
            self.opened.remove(self._bare)
        return self._bare

    def close(self) -> list[str]:
        """Close what is open; what went wrong there."""
        wrongs = [line for each in self.opened for line in each.wrongs]
        for each in self.opened:
            if each is self._kept:
                each.page.goto("about:blank")
                each.wrongs.clear()
            else:
                each.page.context.close()
        self.opened.clear()
        if self._bare is not None:
            wrongs += self._bare.wrongs
            self._bare.wrongs.clear()
        return wrongs


@pytest.fixture(scope="module")
def address(table: Table) -> Iterator[str]:
    """The address of a desk over the island that answers on this machine, with its token."""
    listener = listen(None)
    at = listener.getsockname()[1]
    guard = Guard(app_of(Desk(lambda show: table)), port=at)
    server = uvicorn.Server(uvicorn.Config(guard, log_config=None, log_level="critical", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    yield f"http://127.0.0.1:{at}/?t={guard.token}"
    server.should_exit = True
    thread.join()
    listener.close()


@pytest.fixture(scope="module")
def let_in(chromium: Any, address: str) -> Browser:
    """The browser with the cookie that the token was exchanged for."""
    context = chromium.new_context()
    context.new_page().goto(address)
    (cookie,) = context.cookies()
    context.close()
    return Browser(chromium, address.partition("/?")[0], cookie)


@pytest.fixture
def browser(let_in: Browser) -> Iterator[Browser]:
    """The browser; fails the test in which something went wrong on a page."""
    yield let_in
    if wrongs := let_in.close():
        pytest.fail("\n".join(wrongs))
