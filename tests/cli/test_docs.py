"""Every command, option, key and header has its place in the manual, and the manual says what the help says."""

from __future__ import annotations

import os
from pathlib import Path

import click
import pytest
from render import samples

from tideover.answers.base import QUESTIONS
from tideover.cli.manual import helps, main, renewed
from tideover.cli.program import COMMANDS
from tideover.render import text
from tideover.render.page import INSTEAD, MARKS, Page
from tideover.traces import STARTS
from tideover.traces.events import HAPPENINGS

PAGE = Path(__file__).parents[2] / "docs" / "command-line.md"


@pytest.fixture(scope="module")
def page():
    if os.environ.get("TIDEOVER_RENEW"):
        main([str(PAGE)])
    return PAGE.read_text(encoding="utf-8")


def test_the_manual_says_what_the_help_says(page):
    assert renewed(page) == page


def test_every_command_has_a_heading_and_every_option_a_line_of_help(page):
    for command in COMMANDS:
        assert f"\n## tideover {command.name}\n" in page
        said = helps()[f"tideover {command.name}"]
        assert command.help, command.name
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{command.name} {parameter.name}"
                assert all(name in said for name in parameter.opts)
            else:
                metavar = parameter.make_metavar(click.Context(command)).strip("[].")
                assert metavar in command.help, parameter.name


def test_help_fits_80_columns():
    for said in helps().values():
        assert max(map(len, said.splitlines())) <= 80


def test_every_question_event_and_mark_is_in_the_manual(page):
    for key, question in QUESTIONS.items():
        assert f"| `{key}` | {question} |" in page
    for happenings in HAPPENINGS.values():
        assert all(f"`{word}`" in page for word in happenings)
    for status, mark in MARKS.items():
        assert f"`{mark} {status}`" in page and f"`{INSTEAD[mark]}`" in page
    assert all(f"{share:.0%}".replace("%", " %") in page for share in STARTS.values())


def test_the_finding_in_the_manual_is_one_that_is_written_so(page):
    assert "\n".join(text.finding(Page(), samples.OUTAGE.findings[0])) in page


def test_a_manual_that_forgets_a_command_is_refused(page):
    with pytest.raises(ValueError, match="tideover sheet"):
        renewed(page.replace("<!-- help of tideover sheet -->", ""))
