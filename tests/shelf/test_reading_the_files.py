"""The form of the data files, and what a slip in them is answered with."""

from __future__ import annotations

import dataclasses

import pytest

from tideover.shelf import Item, items
from tideover.shelf.reading import read

GOOD = """\
# A comment.

rope 3 m:
  kind: wire
  about: no conductor
  aliases: line; 3 m of rope
  hold-up: 3 s -50/+0 %
  also:
    colour: red: mostly
  source: typical, unverified
  verified: no
"""


def test_a_part_is_read_as_written() -> None:
    assert read(GOOD, "ropes") == (
        Item(
            name="rope 3 m",
            kind="wire",
            values={"hold_up": "3 s -50/+0 %"},
            also={"colour": "red: mostly"},
            about="no conductor",
            source="typical, unverified",
            verified=False,
            aliases=("line", "3 m of rope"),
            family="ropes",
        ),
    )


@pytest.mark.parametrize(
    ("written", "instead", "complaint"),
    [
        (
            "  kind: wire",
            "  kind wire",
            'ropes.yaml, line 4: "kind wire" is neither a name nor a key with its',
        ),
        ("  kind: wire", "   kind: wire", 'line 4: "kind: wire" is neither'),
        ("rope 3 m:", "  rope: 3 m", 'line 3: "rope: 3 m" is neither'),
        ("rope 3 m:", "rope: 3 m", 'line 3: "rope" is followed by a value'),
        ("  about: no conductor", "  kind: cable", 'line 5: "kind" is written twice'),
        ("  about: no conductor", "  about:", 'line 5: "about" is without a value'),
        ("  source: typical, unverified\n", "", 'ropes.yaml: "rope 3 m" lacks source'),
    ],
)
def test_a_slip_is_named_with_its_line(written: str, instead: str, complaint: str) -> None:
    assert written in GOOD
    with pytest.raises(ValueError) as caught:
        read(GOOD.replace(written, instead), "ropes")
    assert complaint in str(caught.value)


def test_a_name_used_twice_is_refused() -> None:
    with pytest.raises(ValueError, match='line 14: "rope 3 m" is on the shelf already'):
        read(GOOD + GOOD, "ropes")


def test_items_are_read_once_can_be_looked_up_by_and_not_be_changed() -> None:
    assert items() is items()
    assert len({item: 1 for item in items()}) == len(items())
    with pytest.raises(dataclasses.FrozenInstanceError):
        items()[0].name = "other"  # type: ignore[misc]
