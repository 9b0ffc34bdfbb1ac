"""What goes with the code: citation, changes, checks before a commit, forms for reports."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
CI = (ROOT / ".ci" / "run").read_text()
KINDS = ("Added", "Changed", "Deprecated", "Removed", "Fixed", "Security")


def test_the_citation_is_of_this_version() -> None:
    """What the Citation File Format 1.2.0 needs: its schema is held to in `.ci/release`."""
    citation = yaml.safe_load((ROOT / "CITATION.cff").read_text())
    assert {"cff-version", "message", "title", "authors"} <= set(citation)
    assert str(citation["version"]) == PROJECT["version"]
    assert citation["title"] == PROJECT["name"]
    assert citation["license"] == PROJECT["license"]


def test_changes_are_told_in_the_form_of_keep_a_changelog() -> None:
    text = (ROOT / "CHANGELOG.md").read_text()
    versions = re.findall(r"^## (.+)$", text, re.MULTILINE)
    assert versions[0] == "Unreleased"
    assert all(re.fullmatch(r"\d+\.\d+\.\d+ - \d{4}-\d\d-\d\d", each) for each in versions[1:])
    groups = re.findall(r"^### (.+)$", text, re.MULTILINE)
    assert groups
    assert set(groups) <= set(KINDS)


def test_what_is_checked_before_a_commit_is_what_ci_checks() -> None:
    kept = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text())
    (repo,) = kept["repos"]
    assert repo["repo"] == "local"
    hooks = {hook["id"]: hook for hook in repo["hooks"]}
    assert all(hook["language"] == "system" for hook in hooks.values())
    for words in ("ruff check .", "ruff format --check .", "mypy", "lint-imports"):
        assert words in [hook["entry"] for hook in hooks.values()]
        assert words in CI.replace('"$venv/bin/', "").replace('"', "")
    assert hooks["pages"]["entry"] == "python -m docs"
    assert "-m docs" in CI


@pytest.mark.parametrize("name", ["wrong-ground", "wrong-time", "ugly-picture"])
def test_a_form_for_reports_asks_what_the_developers_page_says(name: str) -> None:
    form = (ROOT / ".github" / "ISSUE_TEMPLATE" / f"{name}.md").read_text()
    _, head, body = form.split("---\n", 2)
    assert {"name", "about"} <= set(yaml.safe_load(head))
    assert "terrain --version" in body
    reporting = (ROOT / "DEVELOPERS.md").read_text().partition("## Reporting")[2]
    assert f"**{yaml.safe_load(head)['name']}**" in reporting
