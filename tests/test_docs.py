"""The documents are true: commands in the README, the test command in CI, the JSON of a call."""

import argparse
import re
import shlex
from pathlib import Path

import yaml

from advisor.cli import _parser

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands():
    """Name -> parser of every command."""
    (chosen,) = [action for action in _parser()._actions if isinstance(action, argparse._SubParsersAction)]
    return chosen.choices


def test_ci_calls_the_readmes_test_command():
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert len(blocks) == 2
    test_command = blocks[1].strip()
    assert "ruff check" in test_command
    assert "mypy" in test_command
    assert "pytest" in test_command
    assert (ROOT / ".ci" / "run").read_text(encoding="utf-8").rstrip().endswith(test_command)


def test_the_first_command_runs_a_demo_call_that_is_there():
    (first, _) = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    words = shlex.split(first)
    assert "[fire]" in first
    assert (ROOT / words[-1]).is_file()
    parsed = _parser().parse_args(words[words.index(".venv/bin/advisor") + 1 :])
    assert parsed.answers == Path(words[-1])


def test_every_command_is_in_the_table_and_every_row_is_a_command():
    told = set(re.findall(r"^\| `advisor ([a-z-]+)", README, re.MULTILINE)) - {"--version"}
    assert told == set(commands())


def test_every_option_in_the_readme_is_one():
    known = {option for parser in commands().values() for action in parser._actions for option in action.option_strings}
    told = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README.split("## Taking a call")[1]))
    assert told <= known | {"--version"}


def test_the_readme_begins_with_the_job_and_the_demo_is_said_to_be_invented():
    opening = README.split("\n\n")[1]
    assert "caller" in opening
    assert "invented" in opening


def test_ci_is_not_skipped_anywhere():
    """No test is switched off."""
    for path in (ROOT / "tests").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if path.name != Path(__file__).name:
            assert not re.search(r"pytest\.(mark\.)?(skip|xfail)|importorskip|unittest\.skip", text), path


def test_demo_callers_are_invented_and_complete():
    scripts = sorted((ROOT / "transcripts_demo").glob("*.yaml"))
    assert len(scripts) >= 15
    for path in scripts:
        data = yaml.safe_load(path.read_text(encoding="utf-8"))
        assert data["call"]
        assert data["about"]
        assert data["conclude"]
