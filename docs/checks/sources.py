"""What the tests' authorities say of their values: whose they are, and which tests hold us to them.

The words are those of the comments in `tests/authorities`, so they are written once.
"""

from __future__ import annotations

import ast
import importlib
import re
from functools import cache
from pathlib import Path
from typing import Any, Final

TESTS: Final = Path(__file__).resolve().parents[2] / "tests"
AUTHORITIES: Final = TESTS / "authorities"


def modules() -> list[str]:
    """The modules of authorities by name."""
    return sorted(file.stem for file in AUTHORITIES.glob("[a-z]*.py"))


@cache
def values(module: str) -> dict[str, str]:
    """All values of a module, and what is said of each: the comment over it, or the module's own.

    Values that stand in one block, with no line between them, share what is said over the first.
    """
    text = (AUTHORITIES / f"{module}.py").read_text(encoding="utf-8")
    tree, lines = ast.parse(text), text.splitlines()
    about = " ".join((ast.get_docstring(tree) or "").partition("\n\n")[2].split())
    found: dict[str, str] = {}
    before = ""
    for node in tree.body:
        for name in _names(node):
            over = _comment_over(lines, node.lineno)
            follows = node.lineno > 1 and lines[node.lineno - 2].strip() != ""
            before = over or (before if follows else "")
            words = before or _docstring(node)
            # a comment that begins small says what is in a value, the module whose it is
            if words[:1].islower():
                words = f"{words[0].upper()}{words[1:]}. {about}"
            found[name] = words or about
    return found


def said(module: str, *names: str) -> str:
    """What is said of some values, each thing once."""
    known = values(module)
    return " ".join(dict.fromkeys(known[name] for name in names if known[name]))


def value(module: str, name: str) -> Any:
    """A value of an authority."""
    return getattr(importlib.import_module(f"tests.authorities.{module}"), name)


def held_by(module: str, *names: str) -> list[str]:
    """The tests that hold us to some values, as paths from the top of the repository."""
    wanted = re.compile(rf"\b({'|'.join(names)})\b")
    return [
        file.relative_to(TESTS.parent).as_posix()
        for file in sorted(TESTS.rglob("*.py"))
        if file.parent != AUTHORITIES
        and module in _authorities_of(file)
        and wanted.search(file.read_text(encoding="utf-8"))
    ]


@cache
def _authorities_of(file: Path) -> frozenset[str]:
    """The modules of authorities that a test imports from."""
    text = file.read_text(encoding="utf-8")
    if "tests.authorities" not in text:
        return frozenset()
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom) and node.module:
            if node.module == "tests.authorities":
                found |= {alias.name for alias in node.names}
            elif node.module.startswith("tests.authorities."):
                found.add(node.module.rpartition(".")[2])
    return frozenset(found)


def _names(node: ast.stmt) -> list[str]:
    if isinstance(node, ast.Assign):
        return [target.id for target in node.targets if isinstance(target, ast.Name)]
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return [node.target.id]
    return [node.name] if isinstance(node, ast.FunctionDef) else []


def _docstring(node: ast.stmt) -> str:
    said = ast.get_docstring(node) if isinstance(node, ast.FunctionDef) else None
    return " ".join((said or "").split())


def _comment_over(lines: list[str], number: int) -> str:
    """The comment that ends on the line over a numbered one."""
    first = number - 1
    while first > 0 and lines[first - 1].startswith("#"):
        first -= 1
    return " ".join(line.lstrip("# ").rstrip() for line in lines[first : number - 1])
