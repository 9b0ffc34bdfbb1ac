"""What is read out of a page: commands, Python, files, formulae."""

from __future__ import annotations

from docs.blocks import blocks, commands_of, fetches, files, needs_more
from docs.formulae import with_formulae

PAGE = """# A page

```
terrain mist a.toml --top 3
some other line
terrain passes a.toml
```

```python
import terrain
```

```csv title="places.csv"
name,lat,lon
terrain of old,1,2
```

Text with ``` in it.

```text
terrain is printed here
```
"""


def test_blocks_in_their_order() -> None:
    assert [(block.kind, block.title) for block in blocks(PAGE)] == [
        ("", ""),
        ("python", ""),
        ("csv", "places.csv"),
        ("text", ""),
    ]
    assert PAGE[blocks(PAGE)[0].end :].startswith("\n\n```python")


def test_commands_are_lines_of_a_block_without_a_kind_alone() -> None:
    assert commands_of(PAGE) == ["terrain mist a.toml --top 3", "terrain passes a.toml"]
    assert files(PAGE) == {"places.csv": "name,lat,lon\nterrain of old,1,2\n"}


def test_what_a_network_or_a_tile_is_needed_for() -> None:
    assert fetches("terrain ground 50,11 --save a.tif")
    assert fetches("terrain skyline copernicus-30 --spot 50,11")
    assert not fetches("terrain plan N50E011.hgt.zip")
    assert needs_more("terrain plan N50E011.hgt.zip")
    assert not needs_more("terrain summits ground.tif")


def test_a_formula_is_drawn_by_the_browser_itself() -> None:
    page = with_formulae("A\n\n$$\\sigma = \\frac{1}{2}$$\n\ncosts $5 and $$6 in a line")
    assert page.startswith('A\n\n<math xmlns="http://www.w3.org/1998/Math/MathML" display="block">')
    assert page.count("<mfrac>") == 1
    assert page.endswith("costs $5 and $$6 in a line")
