"""Build the site: `python -m docs`, into `site/`; or `python -m docs FOLDER`.

Needs no network, and the site asks none. Open `site/index.html` in a browser, or serve it with
`python -m http.server -d site` to search it too.
"""

from __future__ import annotations

import argparse
import logging
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

import yaml

from docs import house, links, reference
from docs.checks import pages as checks
from docs.formulae import with_formulae
from docs.made import Workshop
from terrain.show.paper import palette

HERE: Final = Path(__file__).resolve().parent
ROOT: Final = HERE.parent


def stage(folder: Path, workshop: Workshop) -> None:
    """Lay all pages in a folder: those that are written, and those that are made."""
    shutil.copytree(HERE / "pages", folder, dirs_exist_ok=True)
    reference.write(folder / "reference")
    (folder / "checks.md").write_text(checks.page(), encoding="utf-8")
    (folder / "house.svg").write_text(house.drawn(), encoding="utf-8")
    developers = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (folder / "developers.md").write_text(with_house(developers), encoding="utf-8")
    shutil.copy(ROOT / "CHANGELOG.md", folder / "changelog.md")
    colours = {name: value for name, value in vars(palette).items() if isinstance(value, str)}
    site_css = (HERE / "theme" / "site.css").read_text(encoding="utf-8")
    (folder / "site.css").write_text(root_of(colours) + site_css, encoding="utf-8")
    for file in sorted(folder.rglob("*.md")):
        text = file.read_text(encoding="utf-8")
        if file.parent != folder / "reference":
            text = with_formulae(workshop.make(text, file.parent))
        file.write_text(text, encoding="utf-8")


def with_house(text: str) -> str:
    """The developers' page with the picture of the house under its heading."""
    heading = "## The house\n"
    if text.count(heading) != 1:
        raise SystemExit("DEVELOPERS.md must have one heading 'The house'")
    shown = "![The rooms of the package; each imports only from floors below it](house.svg)"
    return text.replace(heading, f"{heading}\n{shown}\n")


def root_of(colours: dict[str, str]) -> str:
    """The colours of the palette, as a style sheet knows them."""
    named = [
        f"--{name.lower().replace('_', '-')}: {colour};"
        for name, colour in colours.items()
        if name.isupper() and colour.startswith("#")
    ]
    return ":root { " + " ".join(named) + " }\n"


def settings(pages: Path, site: Path) -> dict[str, Any]:
    """The settings of the site builder, with the reference in its list of pages."""
    with (HERE / "mkdocs.yml").open(encoding="utf-8") as file:
        told: dict[str, Any] = yaml.safe_load(file)
    listed: list[Any] = [{"All names": "reference/index.md"}]
    listed += [{one.title: f"reference/{one.file}"} for one in reference.groups()]
    for entry in told["nav"]:
        if "Reference" in entry:
            entry["Reference"] = listed
    told["theme"]["custom_dir"] = str(HERE / "theme")
    told["plugins"][2]["mkdocstrings"]["handlers"]["python"]["paths"] = [str(ROOT)]
    return told | {"docs_dir": str(pages), "site_dir": str(site), "strict": True}


def build(pages: Path, site: Path) -> None:
    """Build the site from its pages; SystemExit where a page leads nowhere."""
    from mkdocs.commands.build import build as build_site
    from mkdocs.config import load_config

    # what the builder warns of it would keep to itself, and stop at it
    logging.basicConfig(format="%(name)s: %(message)s", level=logging.WARNING)
    with tempfile.TemporaryDirectory() as kept:
        file = Path(kept) / "mkdocs.yml"
        file.write_text(yaml.safe_dump(settings(pages, site)), encoding="utf-8")
        build_site(load_config(str(file)))
    if found := list(links.faults(site)):
        raise SystemExit("\n".join(["the site is not whole:", *found]))


def main() -> None:
    """Build the site into the folder that is asked for."""
    asked = argparse.ArgumentParser(prog="python -m docs", description=__doc__)
    asked.add_argument("site", nargs="?", type=Path, default=ROOT / "site")
    site = asked.parse_args().site.resolve()
    with tempfile.TemporaryDirectory(prefix="terrain-docs-") as kept:
        pages = Path(kept) / "pages"
        stage(pages, Workshop(Path(kept) / "work"))
        build(pages, site)
    size = sum(file.stat().st_size for file in site.rglob("*") if file.is_file())
    print(f"{site}: {len(list(site.rglob('*.html')))} pages, {size / 1e6:.1f} MB", file=sys.stderr)


if __name__ == "__main__":
    main()
