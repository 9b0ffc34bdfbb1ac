"""A small driver of headless Chromium over its own debugging pipe; needs no other package.

The browser reads commands on its file descriptor 3 and answers on 4, each message JSON and ended
by a zero byte (the Chrome DevTools Protocol with --remote-debugging-pipe).
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PATIENCE_S = 60.0


def browser_path() -> str | None:
    """Where a Chromium is, or None."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Browser:
    """One page of a headless browser; all that it says meanwhile is kept in `events`."""

    def __init__(self, command: str, home: Path) -> None:
        (to_read, self._to), (self._from, from_write) = os.pipe(), os.pipe()
        options = [
            *("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
            *("--no-first-run", "--hide-scrollbars", "--disable-background-networking"),
            *("--disable-component-update", "--remote-debugging-pipe"),
            f"--user-data-dir={home}",
            "about:blank",
        ]
        # a shell puts the two pipes where the browser looks for them
        shell = f'exec "$@" 3<&{to_read} 4>&{from_write}'
        self._process = subprocess.Popen(
            ["bash", "-c", shell, "bash", command, *options],
            pass_fds=(to_read, from_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(from_write)
        self.events: list[dict[str, Any]] = []
        self._rest = b""
        self._count = 0
        self._session = ""
        pages = self.ask("Target.getTargets")["targetInfos"]
        page = next(target["targetId"] for target in pages if target["type"] == "page")
        attached = self.ask("Target.attachToTarget", targetId=page, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.ask(f"{domain}.enable")

    def close(self) -> None:
        """End the browser."""
        session, self._session = self._session, ""
        try:
            self.ask("Browser.close")
            self._process.wait(10.0)
        except (OSError, AssertionError, subprocess.TimeoutExpired):
            self._process.kill()
            self._process.wait()
        self._session = session
        os.close(self._to)
        os.close(self._from)

    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """The answer to a command."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._count:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return dict(answer["result"])
            self.events.append(answer)

    def open(self, url: str) -> None:
        """Go to a page and wait until it is loaded."""
        before = len(self.events)
        self.ask("Page.navigate", url=url)
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events[before:]):
            self.events.append(self._next())

    def value(self, script: str) -> Any:
        """What an expression gives on the page."""
        answer = self.ask(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def size(self, width_px: int, height_px: int, *, scale: float = 1.0) -> None:
        """Take the size of a screen."""
        screen = {"width": width_px, "height": height_px, "mobile": width_px < 600}
        self.ask("Emulation.setDeviceMetricsOverride", deviceScaleFactor=scale, **screen)

    def scheme(self, name: str) -> None:
        """Prefer light or dark."""
        features = [{"name": "prefers-color-scheme", "value": name}]
        self.ask("Emulation.setEmulatedMedia", features=features)

    def press(self, key: str, code: int) -> None:
        """A key of the keyboard, down and up."""
        for kind in ("keyDown", "keyUp"):
            self.ask(
                "Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code
            )

    def click(self, across_px: float, down_px: float) -> None:
        """The first button of the mouse, at a place of the window."""
        for kind in ("mousePressed", "mouseReleased"):
            place = {"x": across_px, "y": down_px}
            self.ask("Input.dispatchMouseEvent", type=kind, button="left", clickCount=1, **place)

    def picture(self, *, whole: bool = True) -> bytes:
        """A PNG of the page, or of the window alone."""
        answer = self.ask("Page.captureScreenshot", captureBeyondViewport=whole)
        return base64.b64decode(answer["data"])

    def paper(self) -> bytes:
        """The page as a PDF, on the paper that its style asks for."""
        answer = self.ask("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(answer["data"])

    def _next(self) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE_S
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._from], [], [], max(until - time.monotonic(), 0.0))
            assert ready, "the browser says nothing"
            part = os.read(self._from, 1 << 20)
            assert part, "the browser has ended"
            self._rest += part
        message, self._rest = self._rest.split(b"\0", 1)
        return dict(json.loads(message))
