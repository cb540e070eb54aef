"""The build file as a tree of words, each with its place.

All scalars stay text: what is a number is decided where its unit is known. Nothing here knows what a build
is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from tideover.design import messages as say
from tideover.design.messages import Fault, folded
from tideover.design.model import Place


@dataclass(frozen=True)
class Scalar:
    """A word or a value as written; `start` and `end` are its characters in the text, quotes included."""

    text: str
    place: Place
    start: int
    end: int
    plain: bool = True

    def part(self, start: int, end: int) -> Scalar:
        """A piece of it, with the place of that piece where that can be told."""
        column = self.place.column + (start if self.plain else 0)
        place = Place(self.place.path, self.place.line, column)
        return Scalar(self.text[start:end], place, self.start + start, self.start + end, self.plain)


@dataclass(frozen=True)
class Sequence:
    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True)
class Mapping:
    """Keys and values in the order of the file; a key that stands twice is kept once."""

    entries: tuple[tuple[Scalar, Node], ...]
    place: Place
    whole: bool = True  # False when a key had to be left out

    def get(self, key: str) -> Node | None:
        """Value of a key, whatever its case; None when it is absent."""
        return next((value for name, value in self.entries if folded(name.text) == key), None)

    def key(self, key: str) -> Scalar | None:
        return next((name for name, _ in self.entries if folded(name.text) == key), None)


Node = Scalar | Sequence | Mapping


@dataclass
class _Frame:
    """A list or mapping being read."""

    mapping: bool
    place: Place
    anchor: str | None
    children: list[Node] = field(default_factory=list)
    size: int = 1


def plain(node: Node) -> Any:
    """Plain data: str, list and dict."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {key.text: plain(value) for key, value in node.entries}


def read_text(path: str | Path) -> tuple[str, list[Fault]]:
    """Text of a build file, or the faults that keep it from being text."""
    file, place = Path(path), Place(str(path))
    try:
        if file.is_dir():
            inside = file / "build.yaml"
            return "", [say.a_folder(place, str(inside) if inside.is_file() else "")]
        with file.open("rb") as stream:
            raw = stream.read(say.LARGEST + 1)
            if len(raw) > say.LARGEST:
                return "", [say.too_big(place, max(file.stat().st_size, len(raw)))]
    except (FileNotFoundError, NotADirectoryError):
        return "", [say.no_file(place)]
    except (OSError, ValueError) as error:
        return "", [say.unreadable(place, getattr(error, "strerror", None) or str(error))]
    return decode(raw, str(path))


def decode(raw: bytes, path: str) -> tuple[str, list[Fault]]:
    """Bytes to text, or the faults: another encoding, nothing there."""
    place = Place(path)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or raw[:200].count(0) > len(raw[:200]) // 4:
        return "", [say.wrong_encoding(place, "the file is not saved as UTF-8 but as UTF-16 or UTF-32")]
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8", errors="replace")
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        what = (
            f"there is a byte (0x{raw[error.start]:02X}) that is not UTF-8; the file may be saved as Latin-1"
        )
        return "", [say.wrong_encoding(Place(path, line, column), what)]
    return text, [] if text.strip() else [say.empty_file(place)]


UNSEEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]")
_TABBED = re.compile(r"^ *\t[ \t]*(?=[^\s#])", re.MULTILINE)


def parse(text: str, path: str) -> tuple[Mapping | None, list[Fault]]:
    """Read YAML into a tree.

    Returns
    -------
    root : Mapping or None
        None when the file cannot be followed at all.
    faults : list of Fault
        Everything found on the way, duplicate keys included.
    """
    faults = [
        say.control_character(_at(text, found.start(), path), ord(found[0]))
        for found in UNSEEN.finditer(text)
    ]
    tabbed = list(_TABBED.finditer(text))
    if tabbed:
        faults.append(say.tabs(_at(text, tabbed[0].start(), path), len(tabbed) - 1))
    if faults:
        return None, faults[:20]
    try:
        return _Tree(path).read(text)
    except _Stop as stop:
        return None, [stop.fault]
    except MarkedYAMLError as error:
        return None, [_syntax(error, path)]
    except Exception as error:  # the parser itself stumbles over some broken escapes and directives
        return None, [
            say.syntax(
                Place(path),
                f"the file cannot be followed ({type(error).__name__})",
                "",
                "Check escapes such as \\x and lines that begin with %.",
            )
        ]


def _at(text: str, index: int, path: str) -> Place:
    return Place(path, text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index))


class _Stop(Exception):
    def __init__(self, fault: Fault) -> None:
        self.fault = fault


class _Tree:
    """Builds the tree from the parser's events, without recursion, so that no file can exhaust the stack."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.faults: list[Fault] = []
        self.stack: list[_Frame] = []
        self.anchors: dict[str, tuple[Node, int]] = {}
        self.root: Node | None = None
        self.count = 0

    def place(self, event: Any) -> Place:
        return Place(self.path, event.start_mark.line + 1, event.start_mark.column + 1)

    def read(self, text: str) -> tuple[Mapping | None, list[Fault]]:
        documents = 0
        for event in YAML(typ="safe", pure=True).parse(text):
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise _Stop(say.second_document(self.place(event)))
            elif isinstance(event, MappingEndEvent | SequenceEndEvent):
                frame = self.stack.pop()
                node: Node = (
                    self.mapping(frame) if frame.mapping else Sequence(tuple(frame.children), frame.place)
                )
                self.add(node, frame.size, frame.anchor)
            elif isinstance(event, NodeEvent):
                self.node(event)
        if isinstance(self.root, Mapping):
            return self.root, self.faults
        return None, [*self.faults, say.not_a_mapping(self.root.place if self.root else Place(self.path))]

    def node(self, event: Any) -> None:
        place = self.place(event)
        if isinstance(event, AliasEvent):
            name = str(event.anchor)
            if any(frame.anchor == name for frame in self.stack):
                raise _Stop(say.cyclic_alias(place, name))
            if name not in self.anchors:
                raise _Stop(say.unknown_alias(place, name))
            self.add(*self.anchors[name], None)
            return
        if getattr(event, "tag", None) and str(event.tag) != "!":
            self.faults.append(say.tagged(place, str(event.tag)))
        anchor = str(event.anchor) if event.anchor else None
        if isinstance(event, MappingStartEvent | SequenceStartEvent):
            if len(self.stack) >= say.DEEPEST:
                raise _Stop(say.too_deep(place))
            self.stack.append(_Frame(isinstance(event, MappingStartEvent), place, anchor))
        elif isinstance(event, ScalarEvent):
            unseen = UNSEEN.search(event.value)
            if unseen:
                self.faults.append(say.control_character(place, ord(unseen[0])))
            start, end = event.start_mark.index, event.end_mark.index
            as_written = event.style is None and end - start == len(event.value)
            self.add(Scalar(event.value, place, start, end, as_written), 1, anchor)

    def add(self, node: Node, size: int, anchor: str | None) -> None:
        if anchor:
            self.anchors[anchor] = (node, size)
        if self.stack:
            self.stack[-1].children.append(node)
            self.stack[-1].size += size
            total = self.stack[-1].size
        else:
            self.root, total = node, size
        self.count += 1
        if max(total, self.count) > say.MOST:
            raise _Stop(say.too_much(node.place))

    def mapping(self, frame: _Frame) -> Mapping:
        entries: list[tuple[Scalar, Node]] = []
        seen: dict[str, Scalar] = {}
        whole = True
        for key, value in zip(frame.children[::2], frame.children[1::2]):
            if not isinstance(key, Scalar) or not key.text.strip():
                self.faults.append(say.key_not_text(key.place))
                whole = False
            elif key.text == "<<":
                self.faults.append(say.merge_key(key.place))
                whole = False
            elif folded(key.text) in seen:
                first = seen[folded(key.text)]
                self.faults.append(say.duplicate_key(key.place, say.quoted(key.text)[1:-1], first.place))
            else:
                seen[folded(key.text)] = key
                if isinstance(value, Scalar) and value.start == value.end:
                    value = replace(value, place=key.place)  # nothing stands there: point at the key
                entries.append((key, value))
        return Mapping(tuple(entries), frame.place, whole)


# What the YAML parser says, as a builder would: words in its message, what, expected, mend. In `what`,
# {opened} is where the bracket or quote begins.
_SAID = (
    (
        "mapping values are not allowed",
        "a colon stands where none can be",
        "Text with a colon and a space needs quotes.",
        'Write: "the text"',
    ),
    (
        "could not find expected ':'",
        "a key has no colon",
        "A key is followed by a colon and a space.",
        "Write: key: value",
    ),
    (
        "expected ',' or '}'",
        "the { of {opened} is not closed before this, or a comma is missing",
        "Values in { } have commas between them.",
        "Write: {key: value, key: value}",
    ),
    (
        "expected ',' or ']'",
        "the [ of {opened} is not closed before this, or a comma is missing",
        "Values in [ ] have commas between them.",
        "Write: [value, value]",
    ),
    ("end of stream", "the quote of {opened} is never closed", "", "Close it."),
    (
        "expected <block end>",
        "the indentation does not fit the lines above",
        "Keys of one group begin in the same column.",
        "Line this one up with its neighbours.",
    ),
    (
        "cannot start any token",
        "a value begins with a sign that needs quotes",
        "Text that begins with % @ ` needs quotes.",
        'Write: "the text"',
    ),
    (
        "expected alphabetic or numeric",
        "a & or * is not followed by a name",
        "",
        "Put the text in quotes, or name the anchor.",
    ),
    (
        "unknown escape",
        "a backslash in double quotes begins no known escape",
        "",
        "Use single quotes, or write two backslashes.",
    ),
)


def _syntax(error: MarkedYAMLError, path: str) -> Fault:
    mark = error.problem_mark or error.context_mark
    opened = error.context_mark or mark
    place = Place(path, mark.line + 1, mark.column + 1) if mark else Place(path)
    problem = str(error.problem or error.context or "")
    for words, what, expected, mend in _SAID:
        if words in problem:
            where = f"line {opened.line + 1}, column {opened.column + 1}" if opened else "some line"
            return say.syntax(place, what.replace("{opened}", where), expected, mend)
    mend = "Look for a bracket, quote or colon too many."
    return say.syntax(place, f"the YAML cannot be followed ({problem})", "", mend)
