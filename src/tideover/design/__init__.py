"""The build file in: from text to a frozen description, or to messages that say what to mend and where."""

from tideover.design.messages import BuildError, Fault
from tideover.design.model import Chain, Design, Link, Need, PartSpec, Place
from tideover.design.read import Draft, examine, examine_text, place_of, read
from tideover.design.shape import schema

__all__ = [
    "BuildError",
    "Chain",
    "Design",
    "Draft",
    "Fault",
    "Link",
    "Need",
    "PartSpec",
    "Place",
    "examine",
    "examine_text",
    "place_of",
    "read",
    "schema",
]
