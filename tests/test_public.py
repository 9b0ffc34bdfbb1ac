"""What a user meets: every public name is documented whole, and the notebooks need no other."""

from __future__ import annotations

import ast
import builtins
import dataclasses
import inspect
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import terrain

ROOT = Path(__file__).parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs" / "pages").rglob("*.md"))]
PROSE = "\n".join(page.read_text() for page in PAGES)

# none of these goes or is renamed
CONTRACT = {
    *("read_dem", "Dem", "Spot", "Hill", "hill_at", "hill_named", "find_summits", "viewshed"),
    *("skyline", "horizon", "flood_levels", "level_mist", "valley_mist", "islands", "passes"),
    *("sun_position", "twilight", "sun_contact", "check_backlight", "backlit_dates"),
    *("backlight_atlas", "find_vantages", "light_arrival", "walk_in", "plan_morning"),
    *("plan_season", "suggest_mist_top"),
}
NEEDED = {
    *("Country", "Scene", "View", "look", "backlight", "read_names", "read_areas", "read_paths"),
    *("map_figure", "view_figure", "skyline_figure", "season_figure", "atlas_figure"),
    *("light_map_figure", "light_frame", "sweep_figure", "save_picture", "save_table"),
    *("save_raster", "save_sheet", "save_strip", "save_gpx", "save_kml", "save_calendar"),
}

NAMED = {name: getattr(terrain, name) for name in terrain.__all__}
CLASSES = {name: thing for name, thing in NAMED.items() if inspect.isclass(thing)}
FUNCTIONS = {name: thing for name, thing in NAMED.items() if inspect.isfunction(thing)}

SECTION = re.compile(r"^(\w[\w ]*)\n-+\n", re.MULTILINE)
ENTRY = re.compile(r"^(\*{0,2}\w+(?:, \w+)*)(?: : (.+))?\n(?=    )", re.MULTILINE)


def sections(thing: object) -> dict[str, str]:
    """The parts of a docstring by their headings; what comes before the first is under ""."""
    parts = SECTION.split(inspect.getdoc(thing) or "")
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def entries(text: str) -> list[str]:
    """The names that a section of a docstring lists, in order."""
    return [name for names, _ in ENTRY.findall(text + "\n") for name in names.split(", ")]


def parameters(function: Callable[..., Any]) -> list[str]:
    return list(inspect.signature(function).parameters)


def given(thing: type) -> list[str]:
    """What a class is made from, without what it keeps to itself."""
    if dataclasses.is_dataclass(thing):
        fields = [field.name for field in dataclasses.fields(thing) if field.init]
        return [name for name in fields if not name.startswith("_")]
    return parameters(thing) if "__init__" in vars(thing) else []


def test_the_contract_and_what_a_script_needs_are_public() -> None:
    assert set(terrain.__all__) >= CONTRACT | NEEDED
    assert set(NAMED) == set(CLASSES) | set(FUNCTIONS)


def test_importing_the_package_alone_loads_nothing_heavy() -> None:
    code = (
        "import sys, terrain\n"
        "heavy = {'numpy', 'rasterio', 'geopandas', 'numba', 'matplotlib', 'pvlib', 'scipy'}\n"
        "print(', '.join(heavy & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.PIPE)
    assert said.stdout.strip() == b""


@pytest.mark.parametrize("name", sorted(NAMED))
def test_a_docstring_begins_with_one_sentence_and_has_an_example(name: str) -> None:
    parts = sections(NAMED[name])
    first = parts[""].split("\n\n")[0]
    assert "\n" not in first
    assert first.endswith(".")
    example = parts["Examples"]
    assert ">>> " in example
    # what goes wrong in an example is what the user is told, never what went wrong in making it
    assert "Traceback" not in example or "terrain.errors." in example


@pytest.mark.parametrize("name", sorted(NAMED))
def test_every_heading_of_a_docstring_stands_on_a_line_of_its_own(name: str) -> None:
    assert not re.search(r"[^\s-] *-{4,}", inspect.getdoc(NAMED[name]) or "")


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_a_docstring_lists_the_parameters_of_the_signature(name: str) -> None:
    assert entries(sections(FUNCTIONS[name]).get("Parameters", "")) == parameters(FUNCTIONS[name])


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_a_docstring_says_what_is_returned(name: str) -> None:
    returns = inspect.signature(FUNCTIONS[name]).return_annotation not in ("None", None)
    said = {"Returns", "Yields"} & set(sections(FUNCTIONS[name]))
    assert bool(said) == returns


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_the_docstring_of_a_class_lists_what_it_holds(name: str) -> None:
    parts = sections(CLASSES[name])
    told = entries(parts.get("Parameters", "")) + entries(parts.get("Attributes", ""))
    held = given(CLASSES[name])
    assert [each for each in told if each in held] == held
    assert all(hasattr(CLASSES[name], each) for each in set(told) - set(held))


@pytest.mark.parametrize(
    "name", sorted(name for name in NAMED if "Raises" in sections(NAMED[name]))
)
def test_what_a_docstring_says_is_raised_is_an_exception(name: str) -> None:
    raised = entries(sections(NAMED[name])["Raises"])
    assert raised
    for each in raised:
        error = getattr(terrain, each, None) or getattr(builtins, each)
        assert issubclass(error, Exception)


def imports(code: str) -> Iterator[str]:
    """The imports of this package in some code, as they are written."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        else:
            continue
        if any(name.split(".")[0] == "terrain" for name in names):
            yield ast.unparse(node)


def code_of(notebook: Path) -> str:
    cells = json.loads(notebook.read_text())["cells"]
    lines = [
        line for cell in cells if cell["cell_type"] == "code" for line in [*cell["source"], "\n"]
    ]
    return "".join(line for line in lines if not line.startswith("%"))


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_imports_nothing_but_the_package(notebook: Path) -> None:
    assert set(imports(code_of(notebook))) == {"import terrain"}


def test_the_python_of_the_pages_imports_nothing_but_the_package() -> None:
    blocks = re.findall(r"```python\n(.*?)```", PROSE, re.DOTALL)
    assert len(blocks) > 10
    assert all(set(imports(block)) <= {"import terrain"} for block in blocks)


def test_the_pages_speak_of_public_names() -> None:
    named = set(re.findall(r"\bterrain\.(\w+)\b(?!\.)", PROSE)) - {"html"}
    assert len(named) > 30
    assert named <= set(terrain.__all__)


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_stored_with_what_they_show(notebook: Path) -> None:
    cells = [cell for cell in json.loads(notebook.read_text())["cells"] if "outputs" in cell]
    shown = [one for cell in cells for one in cell["outputs"]]
    assert all(cell["execution_count"] for cell in cells)
    assert any("image/png" in one.get("data", {}) for one in shown)
    assert not [one for one in shown if one.get("name") == "stderr" or "ename" in one]
    # small pictures: who clones the project takes them all
    assert notebook.stat().st_size < 400_000


def test_notebooks_show_an_evening_and_a_country() -> None:
    code = "\n".join(map(code_of, NOTEBOOKS))
    assert "evening=True" in code
    assert "read_parts(" in code
