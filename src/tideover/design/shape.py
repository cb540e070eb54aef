"""The shape of a build file: which keys, and whether a value, a list or more keys stand there.

The models below say it once; from them come the complaints about a wrong shape and the JSON Schema for
editors. What the values mean is decided elsewhere.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tideover.design import messages as say
from tideover.design.messages import Fault
from tideover.design.model import Place
from tideover.design.source import Mapping, Node, Scalar, Sequence, plain

Text = str | int | float
Values = dict[str, Any]


class _Keys(BaseModel):
    model_config = ConfigDict(extra="forbid")


class NeedShape(_Keys):
    """What the load needs."""

    at: Text = Field(description="node where the load is judged, or a part")
    window: Text = Field(description="steady voltage, such as 11.4 V to 12.6 V")
    dips: Text | list[Text] = Field([], description="short dips allowed, such as 10.5 V for 5 ms")
    runtime: Text | None = Field(None, description="on the pack, such as 8 h")
    recharge: Text | None = Field(None, description="until full again, such as 14 h")
    ambient: Text | None = Field(None, description="room temperature, such as 0 °C to 40 °C")
    outages: Text | Values | None = Field(
        None, description="how often and how long mains fails, such as 12 a year, mean 2 h"
    )
    losses: Text | None = Field(None, description="how often the load may drop, such as 1 a year")
    policy: Text | None = Field(None, description="how much reserve the ratings must keep: usual or strict")
    years: Text | None = Field(None, description="for how long, such as 5 years")


class BuildShape(_Keys):
    """A small battery-backed DC supply, as built."""

    tideover: Text = Field(description="version of this form: 1")
    title: Text = Field("", description="one line")
    need: NeedShape
    parts: dict[str, Text | Values] = Field(description="name of each part, then a shelf name or its values")
    joins: list[Text] = Field(description="chains such as (inlet) > mains diode > (bus)")
    box: Text | Values = Field(description="the enclosure: a shelf name or its values")


def schema() -> dict[str, Any]:
    """JSON Schema of a build file, for editors that complete and check while one types."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **BuildShape.model_json_schema()}


EXAMPLES = {
    "tideover": "tideover: 1",
    "need": "need: {at: load, window: 11.4 V to 12.6 V}",
    "need.at": "at: load",
    "need.window": "window: 11.4 V to 12.6 V",
    "need.outages": "outages: 12 a year, mean 2 h",
    "need.losses": "losses: 1 a year",
    "parts": "parts: {lead: {kind: cable, section: 0.75 mm², length: 2 m}}",
    "joins": "joins: [brick > lead > (load) > modem]",
    "box": "box: {inside: 150 × 100 × 50 mm, wall: 2.5 mm}",
}
"""What to write where a key is missing or of the wrong shape."""

_KEYS = {"": list(BuildShape.model_fields), "need": list(NeedShape.model_fields)}
_NEEDS_KEYS = {"need", "parts"}


def check(root: Mapping) -> list[Fault]:
    """Faults of shape; one for each place."""
    try:
        BuildShape.model_validate(_folded(root))
    except ValidationError as error:
        found: dict[tuple[str, Place], Fault] = {}
        for item in error.errors(include_url=False, include_context=False, include_input=False):
            if item["type"] == "missing" and _unclear(root, item["loc"]):
                continue
            fault = _fault(root, item["loc"], item["type"])
            found.setdefault((fault.where, fault.place), fault)
        return list(found.values())
    return []


def _unclear(root: Mapping, location: tuple[int | str, ...]) -> bool:
    """Whether a key is missing only because it is misspelt or could not be followed; that is told already."""
    owner = root if len(location) == 1 else root.get(str(location[0]))
    if not isinstance(owner, Mapping) or not owner.whole:
        return True
    known = _KEYS["" if len(location) == 1 else str(location[0])]
    strange = [key.text for key, _ in owner.entries if say.folded(key.text) not in known]
    return any(say.meant(word, known) == location[-1] for word in strange)


def _folded(root: Mapping) -> dict[str, Any]:
    """Plain data; the keys that the models name may be written in any case."""
    data = {say.folded(key.text): plain(value) for key, value in root.entries}
    need = root.get("need")
    if isinstance(need, Mapping):
        data["need"] = {say.folded(key.text): plain(value) for key, value in need.entries}
    return data


def _fault(root: Mapping, location: tuple[int | str, ...], problem: str) -> Fault:
    """Turn a location in plain data back into a place; names of union branches at its end are no steps."""
    node: Node = root
    place = root.place
    path: list[str] = []
    for step in location[:-1] if problem in ("missing", "extra_forbidden") else location:
        if isinstance(node, Mapping) and isinstance(step, str):
            known = len(path) < 1 or path == ["need"]  # below these, a key is matched as it is written
            found = next(
                (e for e in node.entries if (say.folded(e[0].text) if known else e[0].text) == step), None
            )
            if not found:
                break
            node, place = found[1], found[1].place
            path.append(found[0].text)
        elif isinstance(node, Sequence) and isinstance(step, int):
            node = node.items[step]
            place = node.place
            path.append(str(step + 1))
        else:
            break
    owner = ".".join(path)
    last = str(location[-1])
    if problem == "missing":
        key = root.key(owner) if owner else None
        where = f"{owner}.{last}" if owner else last
        return say.missing(key.place if key else Place(root.place.path), owner, last, EXAMPLES[where])
    if problem == "extra_forbidden":
        key = node.key(last) if isinstance(node, Mapping) else None
        return say.unknown_key(key.place if key else place, owner, key.text if key else last, _KEYS[owner])
    return _wrong(node, place, owner)


def _wrong(node: Node, place: Place, where: str) -> Fault:
    what = "empty" if isinstance(node, Scalar) and not node.text.strip() else {
        Scalar: "a single value", Sequence: "a list", Mapping: "a set of keys"
    }[type(node)]  # fmt: skip
    if what == "a single value":
        what = say.quoted(node.text) if isinstance(node, Scalar) else what
    top, _, rest = where.partition(".")
    if top == "joins":
        where = f"join {rest}" if rest else where
        return say.wrong_shape(
            place, where, what, "Each join is one chain.", "Write: - (inlet) > mains diode > (bus)"
        )
    if top == "parts" and rest:
        expected = "A part is a shelf name, or a set of keys."
        return say.wrong_shape(place, rest, what, expected, f"Write: {rest}: {{kind: wire, ...}}")
    if where in _NEEDS_KEYS:
        expected = "Keys are expected under it, indented."
        return say.wrong_shape(place, where, what, expected, f"Write: {EXAMPLES[where]}")
    return say.wrong_shape(
        place, where, what, "One value is expected.", f"Write: {EXAMPLES.get(where, top + ': ...')}"
    )
