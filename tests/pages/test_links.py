"""A site that is not whole is told of, fault by fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from docs.links import faults


@pytest.fixture
def site(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    (tmp_path / "a.png").write_bytes(b"x")
    (tmp_path / "site.css").write_text("p { background: url('a.png') }")
    (tmp_path / "page.html").write_text('<h2 id="here">x</h2><img src="a.png">')
    (tmp_path / "in" / "page.html").write_text(
        '<link rel="stylesheet" href="../site.css"><link rel="icon" href="data:,">'
        '<a href="../page.html#here">a</a> <a href="#own">b</a> <i id="own"></i>'
        '<a href="https://example.org/paper">a paper, for a reader to follow</a>'
    )
    return tmp_path


def test_a_whole_site_has_no_faults(site: Path) -> None:
    assert list(faults(site)) == []


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('<a href="gone.html">', "leads to gone.html, which is not there"),
        ('<a href="page.html#gone">', "leads to page.html#gone, where no place has that name"),
        ('<a href="#gone">', "leads to #gone, where no place has that name"),
        ('<img src="gone.png">', "loads gone.png, which is not there"),
        ('<img src="https://example.org/a.png">', "loads https://example.org/a.png from another"),
        ('<script src="//example.org/a.js">', "loads //example.org/a.js from another host"),
        ('<link href="https://example.org/f.css">', "loads https://example.org/f.css from another"),
        ('<p style="background: url(http://example.org/b)">', "loads http://example.org/b from"),
    ],
)
def test_a_fault_of_a_page_is_told(site: Path, more: str, said: str) -> None:
    (site / "more.html").write_text(more)
    (fault,) = faults(site)
    assert said in fault
    assert fault.startswith("more.html: ")


def test_styles_and_scripts_ask_no_other_host(site: Path) -> None:
    (site / "in" / "far.css").write_text('@import "https://example.org/font.css";')
    (site / "in" / "far.js").write_text('fetch("https://example.org/count")')
    assert len(list(faults(site))) == 2
