"""The joins: lines of names with ``>`` between them, read into chains of links.

``(bus)`` is a node, ``lead`` a part that the chain passes through, ``relay.back`` a terminal.
"""

from __future__ import annotations

import re
from collections.abc import Mapping as Table

from tideover.design import messages as say
from tideover.design.model import Chain, Link, PartSpec
from tideover.design.source import Scalar, Sequence
from tideover.design.values import Report
from tideover.parts.base import Kind

_ARROW = re.compile(r">|→")
_NODE = re.compile(r"\(([^()]*)\)")


def read(
    node: Sequence, parts: Table[str, PartSpec], kinds: Table[str, Kind], report: Report
) -> tuple[tuple[Chain, ...], frozenset[str], bool]:
    """Read the chains.

    Returns
    -------
    chains : tuple of Chain
        A link to a name that is no part stays in, so that the rest of its chain can be judged.
    meant : frozenset of str
        Parts that a misspelt name most likely means.
    whole : bool
        False when something had to be left out, so that the network cannot be judged.
    """
    reader = _Reader(parts, kinds, report)
    lines = [item for item in node.items if isinstance(item, Scalar)]
    for line in lines:
        for name in _NODE.findall(line.text):
            reader.nodes.setdefault(say.folded(name), " ".join(name.split()))
    chains = [chain for line in lines if (chain := reader.chain(line))]
    return tuple(chains), frozenset(reader.meant), reader.whole and len(lines) == len(node.items)


class _Reader:
    def __init__(self, parts: Table[str, PartSpec], kinds: Table[str, Kind], report: Report) -> None:
        self.parts = parts
        self.kinds = kinds
        self.report = report
        self.names = {say.folded(name): name for name in parts}
        self.nodes: dict[str, str] = {}
        self.meant: set[str] = set()
        self.whole = True

    def chain(self, line: Scalar) -> Chain | None:
        links = []
        begin = 0
        for piece in _ARROW.split(line.text):
            indent = len(piece) - len(piece.lstrip())
            word = line.part(begin + indent, begin + indent + len(piece.strip()))
            begin += len(piece) + 1
            link = self.link(line, word)
            if link is None:
                self.whole = False
                return None
            links.append(link)
        if len(links) < 2:
            self.whole = False
            self.report(say.bad_link(line.place, line.text, "joins nothing: it has only one name"))
            return None
        return Chain(tuple(links), line.place)

    def link(self, line: Scalar, word: Scalar) -> Link | None:
        text = " ".join(word.text.split())
        if not text:
            self.report(say.bad_link(line.place, line.text, "lacks a name beside a >"))
            return None
        node = _NODE.fullmatch(text)
        if node and node[1].strip():
            return Link(word.place, node=self.nodes[say.folded(node[1])])
        if "(" in text or ")" in text:
            self.report(
                say.bad_link(word.place, line.text, f"has brackets that make no name: {say.quoted(text)}")
            )
            return None
        if say.folded(text) in self.names:
            return Link(word.place, part=self.names[say.folded(text)])
        return self.terminal(word, text)

    def terminal(self, word: Scalar, text: str) -> Link:
        """A name with a dot, whose first half is a part; or a name that nobody knows."""
        for dot in (found.start() for found in re.finditer(r"\.", text)):
            part = self.names.get(say.folded(text[:dot]))
            if part is None:
                continue
            kind, wanted = self.kinds.get(self.parts[part].kind), text[dot + 1 :].strip()
            if kind is None:
                return Link(word.place, part=part, terminal=wanted)
            found = next((t for t in kind.terminals if say.folded(t) == say.folded(wanted)), "")
            if not found:
                self.report(say.unknown_terminal(word.place, part, wanted, kind.terminals))
                self.whole = False
            return Link(word.place, part=part, terminal=found or wanted)
        names = list(self.parts)
        base = text.partition(".")[0]
        self.report(say.unknown_part(word.place, text, names, self.nodes.get(say.folded(text), "")))
        self.meant.add(say.meant(text, names) or say.meant(base, names))
        return Link(word.place, part=text)
