"""A server of files on this machine that answers ranges, counts what is asked, and can fail."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

_RANGE = re.compile(r"bytes=(\d+)-(\d*)")


class Server:
    """The files under a folder by http.

    faults: from the end of a path to what goes wrong there, each as often as the list says it:
    a status, "cut" (the body ends too early), "short" (it says and sends less than the file),
    "slow" (nothing comes for two seconds), "held" (nothing comes before `let_go` is set), "more"
    (it says that the file is longer than it is). ranges: whether it answers parts of files.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: dict[str, list[int | str]] = {}
        self.ranges = True
        self.let_go = threading.Event()
        self.asked: list[tuple[str, str, str]] = []
        self.sent_bytes = 0
        self.url = ""

    def fault_of(self, path: str) -> int | str | None:
        """What goes wrong with this request."""
        for end, left in self.faults.items():
            if path.endswith(end) and left:
                return left.pop(0)
        return None


class _Answer(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    served: Server

    def do_HEAD(self) -> None:
        self._answer(is_body=False)

    def do_GET(self) -> None:
        self._answer(is_body=True)

    def _answer(self, *, is_body: bool) -> None:
        served = self.served
        part = self.headers.get("Range", "")
        # a proxy is asked for whole addresses
        path = re.sub(r"^http://[^/]*", "", self.path)
        served.asked.append((self.command, path, part))
        fault = served.fault_of(path) if is_body else None
        file = served.folder / path.partition("?")[0].lstrip("/")
        if isinstance(fault, int) or not file.is_file():
            self._empty(fault if isinstance(fault, int) else 404)
            return
        whole = file.read_bytes()
        length = len(whole) + (1000 if fault == "more" else 0)
        etag = f'"{hashlib.md5(whole).hexdigest()}"'
        asked = _RANGE.match(part) if served.ranges else None
        same = self.headers.get("If-Range", etag) == etag
        first, last = 0, len(whole) - 1
        if asked and same:
            first = int(asked[1])
            last = min(int(asked[2] or last), last)
            if first > last:
                self._empty(416)
                return
        body = whole[first : last + 1]
        if fault == "short":
            body = body[: len(body) // 2]
        self._wait(fault)
        self.send_response(206 if asked and same else 200)
        if asked and same:
            self.send_header("Content-Range", f"bytes {first}-{last}/{length}")
        if served.ranges:
            self.send_header("Accept-Ranges", "bytes")
        self.send_header("Content-Length", str(len(body) + (length - len(whole))))
        self.send_header("ETag", etag)
        self.end_headers()
        if not is_body:
            return
        if fault == "cut":
            body = body[: len(body) // 2]
        if fault in ("cut", "more"):
            self.close_connection = True
        served.sent_bytes += len(body)
        # who has waited long enough is gone
        with suppress(ConnectionError):
            self.wfile.write(body)

    def _wait(self, fault: int | str | None) -> None:
        if fault == "slow":
            time.sleep(2.0)
        if fault == "held":
            self.served.let_go.wait(60.0)

    def _empty(self, status: int) -> None:
        self.send_response(status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@contextmanager
def serving(folder: Path) -> Iterator[Server]:
    """A server of a folder on a port of this machine."""
    served = Server(folder)
    answer = type("Answer", (_Answer,), {"served": served})
    with ThreadingHTTPServer(("127.0.0.1", 0), answer) as http:
        http.daemon_threads = True
        served.url = f"http://127.0.0.1:{http.server_port}"
        thread = threading.Thread(target=http.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        try:
            yield served
        finally:
            http.shutdown()
            thread.join()


class Apart:
    """The same in a process of its own: GDAL holds the interpreter while it opens a raster."""

    def __init__(self, url: str, log: Path) -> None:
        self.url, self._log = url, log

    def asked(self) -> list[list[str]]:
        """Method, path and range of each request so far."""
        return [json.loads(line) for line in self._log.read_text().splitlines()]


@contextmanager
def serving_apart(
    folder: Path, log: Path, faults: dict[str, list[int | str]] | None = None
) -> Iterator[Apart]:
    """A server of a folder in a process of its own, and what it was asked, kept in a file."""
    root = Path(__file__).parents[2]
    words = [sys.executable, "-m", "tests.fetch.server", str(folder), str(log)]
    with subprocess.Popen(
        [*words, json.dumps(faults or {})], stdout=subprocess.PIPE, text=True, cwd=root
    ) as process:
        try:
            assert process.stdout is not None
            yield Apart(process.stdout.readline().strip(), log)
        finally:
            process.kill()


class _Logged(list[tuple[str, str, str]]):
    """A list that writes down what is added to it."""

    def __init__(self, log: Path) -> None:
        super().__init__()
        self.file = log.open("w", buffering=1)

    def append(self, one: tuple[str, str, str]) -> None:
        """Add a request."""
        print(json.dumps(one), file=self.file)


def _serve(folder: str, log: str, faults: str) -> None:
    with serving(Path(folder)) as served:
        served.asked = _Logged(Path(log))
        served.faults = json.loads(faults)
        print(served.url, flush=True)
        threading.Event().wait()


if __name__ == "__main__":
    _serve(*sys.argv[1:])
