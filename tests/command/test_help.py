"""The help is in groups, each option means one thing, and what is shown can be typed."""

from __future__ import annotations

import shlex
from collections import defaultdict

import pytest
import typer

from terrain.command.app import app_for
from terrain.command.help_pages import EXAMPLES, GROUPS, example, group_of

COMMANDS = typer.main.get_command(app_for()).commands


def _options():
    for name, command in COMMANDS.items():
        for param in command.params:
            if param.param_type_name == "option":
                yield name, param


def test_every_option_is_in_a_group():
    without = {(name, param.name) for name, param in _options() if group_of(param) == "Help"}
    assert not without


def test_a_group_names_nothing_that_is_no_option():
    known = {param.name for _, param in _options()}
    assert {name for names in GROUPS.values() for name in names} <= known


def test_an_option_means_one_thing_everywhere():
    takes = defaultdict(set)
    for _, param in _options():
        for spelling in param.opts:
            takes[spelling].add((param.name.removeprefix("mist_"), param.metavar))
    assert {spelling: kinds for spelling, kinds in takes.items() if len(kinds) > 1} == {}


@pytest.mark.parametrize("spelling", ["--within", "--prominence", "--trees", "--farthest"])
def test_an_option_has_one_default(spelling):
    defaults = {param.default for _, param in _options() if spelling in param.opts}
    assert len(defaults) == 1


@pytest.mark.parametrize("name", ["vantages", "hills", "season", "plan"])
def test_what_can_be_limited_takes_a_walk(name):
    assert any("--walk" in param.opts for param in COMMANDS[name].params)


@pytest.mark.parametrize("name", ["frame", "plan", "season", "light"])
def test_all_kinds_of_mist_are_taken(name):
    taken = {spelling for param in COMMANDS[name].params for spelling in param.opts}
    assert {"--mist-top", "--mist-depth", "--mist-ceiling", "--mist-from"} <= taken


@pytest.mark.parametrize("name", COMMANDS)
def test_help_has_the_question_first_and_an_example_last(terrain, name):
    said = terrain(name, "--help").out
    assert max(len(line) for line in said.splitlines()[:-1]) <= 80
    assert said.splitlines()[-1].strip() == example(name)
    groups = [line for line in said.splitlines() if line.rstrip(":") in GROUPS]
    assert groups == sorted(groups, key=lambda line: list(GROUPS).index(line.rstrip(":")))


def test_the_list_of_commands_cuts_no_sentence_short(terrain, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    said = terrain("--help").out
    assert "..." not in said.partition("\n")[2]  # which stands in the usage
    assert max(map(len, said.splitlines())) <= 80
    for command in COMMANDS.values():
        first = " ".join(command.help.partition("\n\n")[0].split())
        assert first in " ".join(said.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_an_example_is_understood(name):
    COMMANDS[name].make_context(name, list(EXAMPLES[name]))


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "desk"])  # it goes on
def test_an_example_can_be_typed_as_it_stands(terrain, tmp_path, monkeypatch, demo_folder, name):
    monkeypatch.chdir(demo_folder.parent)
    outcome = terrain(*shlex.split(example(name))[1:])
    assert outcome.code == 0, outcome.err


def test_what_is_not_understood_names_a_help_that_is_there(terrain):
    assert "(terrain vantages --help says more)" in terrain("vantages", "x.tif", "--deep").err
    assert "(terrain --help says more)" in terrain("soar").err


@pytest.mark.parametrize("name", sorted(set(COMMANDS) - {"demo", "atlas", "desk"}))
def test_every_table_can_be_saved(name):
    assert any("--save" in param.opts for param in COMMANDS[name].params)
