"""The page that a stream gets: colour and width for people only."""

from __future__ import annotations

import io

import pytest

from tideover.cli.common import page


class Screen(io.StringIO):
    encoding = "utf-8"

    def isatty(self):
        return True


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch):
    for name in ("NO_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")


def test_colour_is_for_people_who_did_not_refuse_it(monkeypatch):
    assert page(Screen()).colour and not page(io.StringIO()).colour
    monkeypatch.setenv("NO_COLOR", "1")
    assert not page(Screen()).colour
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert not page(Screen()).colour


@pytest.mark.parametrize(("columns", "width"), [("60", 60), ("200", 80), ("12", 40)])
def test_a_narrow_window_gets_narrow_lines(monkeypatch, columns, width):
    monkeypatch.setenv("COLUMNS", columns)
    assert page(Screen()).width == width
    assert page(io.StringIO()).width == 80
