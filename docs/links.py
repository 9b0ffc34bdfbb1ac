"""Whether a built site is whole: every link leads somewhere, no other host is asked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Final
from urllib.parse import unquote, urldefrag, urlsplit

_LOADS: Final = {
    *(("img", "src"), ("script", "src"), ("iframe", "src"), ("source", "src"), ("video", "src")),
    *(("link", "href"), ("object", "data"), ("embed", "src"), ("form", "action")),
    *(("img", "srcset"), ("source", "srcset"), ("use", "href"), ("image", "href")),
}
_IN_CSS: Final = re.compile(r"url\(\s*['\"]?([^'\")]+)|@import\s+['\"]([^'\"]+)")
_IN_SCRIPT: Final = re.compile(r"https?://[\w.-]+")


class Page(HTMLParser):
    """The anchors of a page, where it leads, and what it loads by itself."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.anchors: set[str] = set()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.feed(file.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep what a tag names, leads to or loads."""
        for name, value in attrs:
            if value is None:
                continue
            if name == "id" or (tag == "a" and name == "name"):
                self.anchors.add(value)
            elif (tag, name) in _LOADS:
                self.loads.append(value)
            elif tag == "a" and name == "href":
                self.links.append(value)
            elif name == "style":
                self.loads += in_css(value)


def in_css(text: str) -> list[str]:
    """What a style sheet loads."""
    return [found[1] or found[2] for found in _IN_CSS.finditer(text)]


def faults(site: Path) -> Iterator[str]:
    """What is wrong with the links of a site, one line each."""
    pages = {file: Page(file) for file in sorted(site.rglob("*.html"))}
    for file, page in pages.items():
        where = file.relative_to(site)
        for address in page.loads:
            yield from _of_load(where, site, address)
        for address in page.links:
            yield from _of_link(where, site, address, pages)
    for file in sorted(site.rglob("*.css")):
        for address in in_css(file.read_text(encoding="utf-8")):
            yield from _of_load(file.relative_to(site), site, address)
    for file in sorted(site.rglob("*.js")):
        # those of the search come with the site builder, and name its authors in comments
        if file.parent != site / "search":
            for address in _IN_SCRIPT.findall(file.read_text(encoding="utf-8")):
                yield f"{file.relative_to(site)}: a script that names {address}"


def _of_load(where: Path, site: Path, address: str) -> Iterator[str]:
    """What is wrong with something that a page loads."""
    if urlsplit(address).scheme == "data":
        return
    if _is_elsewhere(address):
        yield f"{where}: loads {address} from another host"
    elif not (site / where.parent / unquote(urldefrag(address)[0])).exists():
        yield f"{where}: loads {address}, which is not there"


def _of_link(where: Path, site: Path, address: str, pages: dict[Path, Page]) -> Iterator[str]:
    """What is wrong with a link: an outer one is followed by a reader alone, and not tried."""
    if _is_elsewhere(address) or urlsplit(address).scheme == "mailto":
        return
    path, anchor = (unquote(part) for part in urldefrag(address))
    target = (site / where.parent / path).resolve() if path else site / where
    if target.is_dir():
        target /= "index.html"
    if not target.exists():
        yield f"{where}: leads to {address}, which is not there"
    elif anchor and target in pages and anchor not in pages[target].anchors:
        yield f"{where}: leads to {address}, where no place has that name"


def _is_elsewhere(address: str) -> bool:
    return bool(urlsplit(address).netloc)
