"""The text of a build file as a tree whose every node knows the characters it stands in.

`tideover.design.source` reads what a file means; this module knows how it is written, so that one value can be
exchanged in the text and nothing else moves.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from tideover.design import messages as say


class EditError(ValueError):
    """An edit that cannot be made by exchanging one value.

    Attributes
    ----------
    problem, expected, mend : str
        As in `tideover.design.messages.Fault`.
    """

    def __init__(self, problem: str, expected: str = "", mend: str = "") -> None:
        super().__init__(" ".join(filter(None, (f"{problem}.", expected, mend))))
        self.problem, self.expected, self.mend = problem, expected, mend


@dataclass(eq=False)
class Node:
    """What stands at one place.

    Attributes
    ----------
    form : str
        ``text``, ``keys``, ``list`` or ``alias``.
    start, end : int
        Its characters, quotes and brackets included, anchor, remarks and line ends behind it not.
    column : int
        Of its start, from 0.
    text : str
        Of a text, without quotes; of an alias, the anchor's name.
    style : str
        Of a text: empty when plain, else its quote, or ``|`` or ``>``.
    flow : bool
        Whether keys or list stand in brackets.
    anchor : str
        Its own, if it has one.
    items : list of Node
        Of a list; of keys, each key followed by its value.
    target : Node or None
        Of an alias, what it repeats.
    """

    form: str
    start: int
    end: int
    column: int = 0
    text: str = ""
    style: str = ""
    flow: bool = False
    anchor: str = ""
    items: list[Node] = field(default_factory=list)
    target: Node | None = None

    def pairs(self) -> list[tuple[Node, Node]]:
        """Each key with its value, in the order of the file."""
        return list(zip(self.items[::2], self.items[1::2]))


@dataclass(frozen=True)
class Tree:
    """A whole file: its root, and the nodes that an alias repeats."""

    root: Node
    repeated: frozenset[Node]


@lru_cache(maxsize=16)
def tree(text: str) -> Tree:
    """Read a text; nobody changes what comes back, so that the same text is read once.

    Raises
    ------
    EditError
        When it cannot be followed, or has no keys.
    """
    try:
        found = _read(text)
    except EditError:
        raise
    except Exception as error:  # whatever the parser stumbles over; the reader of build files says what exactly
        raise EditError("the text cannot be followed", "", "Mend what the file's own faults say first.") from error
    if found is None or found.root.form != "keys":
        raise EditError("the text holds no keys", "", "Start with: tideover: 1")
    return found


def _read(text: str) -> Tree | None:
    stack: list[Node] = []
    anchors: dict[str, Node] = {}
    repeated: set[Node] = set()
    root: Node | None = None
    documents = 0
    for event in YAML(typ="safe", pure=True).parse(text):
        if isinstance(event, DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise EditError("a second document begins in the text", "", "Delete the line ---.")
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            done = stack.pop()
            if done.flow:
                done.end = event.end_mark.index
            elif done.items:
                done.end = max(item.end for item in done.items)
        else:
            node = _node(event, text)
            if node is None:
                continue
            if node.form == "alias":
                node.target = anchors.get(node.text)
                if node.target is None or node.target in stack:
                    raise EditError(f"*{node.text} repeats nothing that stands before it", "", "Write the value out.")
                repeated.add(node.target)
            if node.anchor:
                anchors[node.anchor] = node
            if stack:
                stack[-1].items.append(node)
                _place_empty(node, stack[-1], text)
            elif root is None:
                root = node
            if node.form in ("keys", "list"):
                stack.append(node)
            if len(stack) > say.DEEPEST:
                raise EditError(f"the text is nested more than {say.DEEPEST} deep", "", "Count the brackets.")
    return Tree(root, frozenset(repeated)) if root else None


def _place_empty(node: Node, owner: Node, text: str) -> None:
    """A value that is empty stands right behind its colon, before any remark."""
    if node.form == "text" and node.start == node.end and owner.form == "keys" and len(owner.items) % 2 == 0:
        colon = re.compile(r"[ \t]*:").match(text, owner.items[-2].end)
        if colon and not node.anchor:
            node.start = node.end = colon.end()


def _node(event: Any, text: str) -> Node | None:
    start, end, column = event.start_mark.index, event.end_mark.index, event.start_mark.column
    if isinstance(event, AliasEvent):
        return Node("alias", start, end, column, text=str(event.anchor))
    anchor = str(getattr(event, "anchor", None) or "")
    if isinstance(event, MappingStartEvent | SequenceStartEvent):
        form = "keys" if isinstance(event, MappingStartEvent) else "list"
        if event.flow_style:  # the mark may begin at the anchor
            start = text.index("{" if form == "keys" else "[", start)
        return Node(form, start, end, column, flow=bool(event.flow_style), anchor=anchor)
    if not isinstance(event, ScalarEvent):
        return None
    style = str(event.style or "")
    if anchor and end > start:
        start += len(anchor) + 1
        start += len(text[start:end]) - len(text[start:end].lstrip())
    end = start + len(text[start:end].rstrip())
    return Node("text", start, end, column, text=str(event.value), style=style, anchor=anchor)


Data = tuple[Any, ...] | str
"""What a node says: a text; ``("list", ...)``; ``("keys", (key, value), ...)``; ``("alias", name)``."""


def data(node: Node, at: Node | None = None, new: Data = "") -> Data:
    """What a node says, without how it is written; with `new` in the place of `at`."""
    if node is at:
        return new
    if node.form == "text":
        return node.text
    if node.form == "alias":
        return ("alias", node.text)
    if node.form == "list":
        return ("list", *(data(item, at, new) for item in node.items))
    return ("keys", *((data(key, at, new), data(value, at, new)) for key, value in node.pairs()))
