"""One value exchanged in the text of a build file, and nothing else: remarks, order, quotes and line ends stay.

A place is named as the file says it: ``("need", "runtime")``, ``("parts", "converter", "set voltage")``,
``("parts", "converter", "lockout", "off")`` or the same as ``"lockout off"``, ``("need", "dips")`` for a whole list,
``("need", "dips", "0")`` for its first entry, ``("box", "vents")``, ``("title",)``. Case, spaces, hyphens and
underscores of a key do not matter, as for the reader.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tideover.design.messages import MOST, folded, quoted
from tideover.design.source import UNSEEN
from tideover.design.written import Data, EditError, Node, Tree, data, tree

Where = tuple[str, ...]

_WORDS = re.compile(r"(?i)yes|no|true|false|on|off|null|~")
"""Texts that other readers of YAML take for something else."""
_PLAIN = re.compile(r"[^\s\-?:,\[\]{}#&*!|>'\"%@`].*|[\-?:][^\s,\[\]{}].*")


def value_at(text: str, where: Where) -> str | None:
    """What stands at a place.

    Parameters
    ----------
    text : str
        Of the build file. [-]
    where : tuple of str
        The place. [-]

    Returns
    -------
    value : str or None
        A value without its quotes; a list or keys as written; None when nothing stands there. [-]

    Raises
    ------
    EditError
        When the text cannot be followed.
    """
    return _value(text, tree(text), where)


def replaced(text: str, where: Where, value: str | None) -> str:
    """The text with one value exchanged, added or taken out.

    Parameters
    ----------
    text : str
        Of the build file. [-]
    where : tuple of str
        The place. A key that is missing is added last, in the style that stands there; a part that is only named,
        ``brick: 19 V adapter``, becomes ``{from: 19 V adapter, key: value}``. [-]
    value : str or None
        Written in quotes where the form of the file needs them; a list in ``[ ]`` or keys in ``{ }`` are put in as
        they are. None takes the key out. [-]

    Returns
    -------
    text : str
        It says the same as before but for that value.

    Raises
    ------
    KeyError
        When the part, or what the key would belong to, does not exist.
    EditError
        When the value cannot be exchanged alone; nothing else would have been safe.
    """
    if not where:
        raise KeyError("no place is named")
    if value is not None and (found := UNSEEN.search(value)):
        raise EditError(f"has a control character (U+{ord(found[0]):04X}) that nobody sees", "", "Type it anew.")
    old = tree(text)
    path = _find(old, where)
    _own(old, path)
    if value is None:
        return _removed(text, old, path)
    target = path.nodes[-1]
    if not path.rest:
        return _exchanged(text, old, path, value)
    if target.form == "text" and _is_part(path.said):
        return _lengthened(text, old, path, value)
    if target.form == "list":
        raise EditError(f"has {len(target.items)} entries, and {quoted(path.rest[0])} is none of them")
    if target.form != "keys":
        raise EditError("is said in one line", "", "Exchange the whole line.")
    if len(path.nodes) < min(len(where), 2) or (folded(where[0]) == "parts" and len(where) > 2 and len(path.said) < 2):
        raise KeyError(where[len(path.said)])
    return _added(text, old, path, value)


def values(text: str) -> dict[Where, str]:
    """Every value of a file by its place, in the order of the file; a list is one value.

    The name of a part that is only named stands at ``from``. Places are given with keys as written.
    """
    found: dict[Where, str] = {}
    old = tree(text)

    def walk(node: Node, where: Where) -> None:
        node = node.target or node
        if len(found) > MOST:
            raise EditError(f"the text has more than {MOST} values, counted with its aliases", "", "Write aliases out.")
        if node.form == "keys":
            for key, value in node.pairs():
                walk(value, (*where, " ".join(key.text.split())))
            return
        place = (*where, "from") if node.form == "text" and _is_part(where) else where
        found[place] = node.text if node.form == "text" else _listed(text, node)

    walk(old.root, ())
    return found


def span(text: str, where: Where) -> tuple[int, int] | None:
    """Characters in which the value of a place stands; None when nothing stands there."""
    path = _find(tree(text), where)
    return None if path.rest else (path.nodes[-1].start, path.nodes[-1].end)


# --- finding ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Path:
    """The nodes on the way to a place, the steps that led to them, and the steps that lead on to nothing."""

    nodes: tuple[Node, ...]
    said: Where
    rest: Where
    keys: tuple[Node, ...]


def _is_part(where: Where) -> bool:
    """Whether what stands there may be the name of a shelf item instead of keys."""
    first = tuple(folded(step) for step in where[:1])
    return (first == ("parts",) and len(where) == 2) or (first == ("box",) and len(where) == 1)


def _find(old: Tree, where: Where, follow: bool = False) -> _Path:
    nodes, rest = [old.root], list(where)
    said: list[str] = []
    keys: list[Node] = []
    while rest:
        node = nodes[-1]
        if node.target:
            if not follow:
                break
            node = node.target
        found = _step(node, rest, loose=bool(said) and not (folded(said[0]) == "parts" and len(said) < 2))
        if found is None:
            break
        key, value, rest = found
        nodes.append(value)
        keys.append(key)
        said.append(" ".join(key.text.split()))
    if len(rest) == 1 and folded(rest[0]) == "from" and nodes[-1].form == "text" and _is_part(tuple(said)):
        rest = []
    return _Path(tuple(nodes), tuple(said), tuple(rest), tuple(keys))


def _step(node: Node, rest: list[str], loose: bool) -> tuple[Node, Node, list[str]] | None:
    """One step down; below a part, ``lockout off`` and ``lockout: {off: }`` are the same."""
    if node.form == "list":
        number = rest[0]
        if number.isascii() and number.isdigit() and len(number) < 7 and int(number) < len(node.items):
            item = node.items[int(number)]
            return Node("text", item.start, item.start, text=number), item, rest[1:]
        return None
    if node.form != "keys":
        return None
    for count in range(len(rest) if loose else 1, 0, -1):
        wanted = folded(" ".join(rest[:count]))
        for key, value in node.pairs():
            if key.form == "text" and folded(key.text) == wanted:
                return key, value, rest[count:]
    if loose:
        for key, value in node.pairs():
            name = folded(key.text)
            if value.form == "keys" and name and folded(rest[0]).startswith(f"{name} "):
                return key, value, [folded(rest[0])[len(name) + 1 :], *rest[1:]]
    return None


def _value(text: str, old: Tree, where: Where) -> str | None:
    path = _find(old, where, follow=True)
    node = path.nodes[-1].target or path.nodes[-1]
    if path.rest or not where:
        return None
    return node.text if node.form == "text" else _listed(text, node)


def _listed(text: str, node: Node) -> str:
    """A list or keys as one writes them in a line, when they stand in brackets."""
    return text[node.start : node.end]


# --- changing --------------------------------------------------------------------------------------


def _own(old: Tree, path: _Path) -> None:
    """Refuse what would change a second place unasked."""
    for node in path.nodes:
        if node.form == "alias":
            problem = f"stands there as *{node.text}, which is written elsewhere and may stand in other places too"
            raise EditError(problem, "", f"Write it out in the text instead of *{node.text}.")
        if node in old.repeated:
            problem = f"is marked &{node.anchor}, and *{node.anchor} repeats it elsewhere"
            raise EditError(problem, "", f"Write it out in the text instead of *{node.anchor}.")


def _exchanged(text: str, old: Tree, path: _Path, value: str) -> str:
    node = path.nodes[-1]
    start, end, before = node.start, node.end, ""
    if node.form == "text" and start == end:
        before = "" if text[start - 1 : start] in " \t" else " "
    elif node.form != "text" and not node.flow:
        start = _after_colon(text, path.keys[-1])
        if "#" in text[start:end]:
            raise EditError("has remarks between its lines", "", "Exchange it in the text of the file.")
        before = " "
    within = any(parent.flow for parent in path.nodes[:-1])
    return _first_good(
        (text[:start] + before + form + text[end:] for form in _forms(value, within, path.said, node.style)),
        data(old.root, node, _said(value, path.said)),
    )


def _lengthened(text: str, old: Tree, path: _Path, value: str) -> str:
    """From the name of a shelf item to keys."""
    node, key = path.nodes[-1], " ".join(path.rest)
    if not node.text.strip():
        raise EditError("belongs to something that is empty", "", "Write a name from the shelf or keys there first.")
    kept = [text[node.start : node.end]] if node.style in ("'", '"') else _forms(node.text, True)
    wanted = data(old.root, node, ("keys", ("from", node.text), (key, _said(value, (*path.said, key)))))
    return _first_good(
        (
            f"{text[: node.start]}{{from: {name}, {named}: {form}}}{text[node.end :]}"
            for name in kept
            for named in _names(key, True)
            for form in _forms(value, True, path.said)
        ),
        wanted,
    )


def _added(text: str, old: Tree, path: _Path, value: str) -> str:
    node, key = path.nodes[-1], " ".join(path.rest)
    said = (*path.said, key)
    pairs = list(data(node)[1:])
    place = 1 if said == ("title",) and pairs else len(pairs)
    pairs.insert(place, (key, _said(value, said)))
    wanted = data(old.root, node, ("keys", *pairs))
    within = node.flow or any(parent.flow for parent in path.nodes)
    texts = [f"{named}: {form}" for named in _names(key, within) for form in _forms(value, within, said)]
    if node.flow:
        at = max((item.end for item in node.items), default=node.start + 1)
        comma = re.compile(r"\s*,").match(text, at, node.end)
        at = comma.end() if comma else at
        before = " " if comma else ", " if node.items else ""
        return _first_good((text[:at] + before + said_text + text[at:] for said_text in texts), wanted)
    last = node.pairs()[place - 1]
    at = _line_end(text, max(last[0].end, last[1].end))
    indent = "\n" + " " * node.items[0].column
    line = indent.replace("\n", "\r\n" if "\r\n" in text else "\n")
    return _first_good((text[:at] + line + said_text + text[at:] for said_text in texts), wanted)


def _removed(text: str, old: Tree, path: _Path) -> str:
    if path.rest:
        return text
    owner, node, nodes, keys = path.nodes[-2], path.nodes[-1], path.nodes, path.keys
    while owner.form == "keys" and len(owner.items) == 2 and len(nodes) > (4 if folded(path.said[0]) == "parts" else 3):
        nodes, keys = nodes[:-1], keys[:-1]
        owner, node = nodes[-2], nodes[-1]
    if owner.form == "list":
        index = owner.items.index(node)
        left: Data = ("list", *(data(item) for n, item in enumerate(owner.items) if n != index))
        first = node.start
    elif owner.form == "text" or keys[-1] not in owner.items:
        raise EditError("is all that is said there", "", "Exchange it for another.")
    else:
        left = ("keys", *((data(k), data(v)) for k, v in owner.pairs() if k is not keys[-1]))
        first = keys[-1].start
    if len(left) == 1 and not owner.flow:
        raise EditError("is all that stands there", "", "Take out what it belongs to.")
    last = max(node.end, keys[-1].end)
    taken = _out_of_brackets(text, owner, first, last) if owner.flow else _out_of_lines(text, first, last)
    return _first_good([taken], data(old.root, owner, left))


def _out_of_brackets(text: str, owner: Node, first: int, last: int) -> str:
    comma = re.compile(r"[ \t]*,[ \t]*").match(text, last, owner.end)
    if comma:
        return text[:first] + text[comma.end() :]
    before = re.search(r",\s*$", text[:first])
    return text[: before.start() if before else first] + text[last:]


def _out_of_lines(text: str, first: int, last: int) -> str:
    """Whole lines go; a remark behind the value stays, because the program did not write it."""
    begin = text.rfind("\n", 0, first) + 1
    lead, stop = text[begin:first], _line_end(text, last)
    dash = lead.strip() == "-"
    if lead.strip() and not dash:
        raise EditError("shares its line with something else", "", "Take it out in the text of the file.")
    remark = text[last:stop].strip()
    if remark:
        return text[:begin] + lead.replace("-", " ") + remark + text[stop:]
    after = re.compile(r"\r?\n").match(text, stop)
    return text[:begin] + text[after.end() if after else stop :]


def _line_end(text: str, at: int) -> int:
    found = re.compile(r"\r?\n|\r").search(text, at)
    return found.start() if found else len(text)


def _after_colon(text: str, key: Node) -> int:
    return text.index(":", key.end) + 1


# --- writing ---------------------------------------------------------------------------------------


def _brackets(value: str, where: Where) -> Node | None:
    """The value as a list or keys, when it is written in brackets; a title, say, never is."""
    if tuple(map(folded, where)) == ("title",) or not re.fullmatch(r"\s*(\[.*\]|\{.*\})\s*", value, re.DOTALL):
        return None
    try:
        node = tree(f"a: {value}").root.items[1]
    except EditError:
        return None
    return node if node.flow and "#" not in value and "\n" not in value else None


def _said(value: str, where: Where) -> Data:
    node = _brackets(value, where)
    return data(node) if node else value


def _names(key: str, within: bool) -> list[str]:
    """Ways to write a key: `on` and `off` stand as they are."""
    return [key] if _WORDS.fullmatch(key) else _forms(key, within)


def _forms(value: str, within: bool, where: Where | None = None, style: str = "") -> list[str]:
    """Ways to write a value, the one that suits the file best first; `within` brackets more needs quotes."""
    if where is not None and _brackets(value, where):
        return [value.strip()]
    single = "'" + value.replace("'", "''") + "'"
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\r", "\\r")
    double = '"' + escaped.replace("\t", "\\t") + '"'
    several = any(sign in value for sign in "\n\r\t")
    forms = [] if several else [single]
    if style == '"' and not several:
        return [double, single]
    if style == "'" or several:
        return [*forms, double]
    plain = (
        _PLAIN.fullmatch(value)
        and value == value.strip()
        and not _WORDS.fullmatch(value)
        and not re.search(r":(\s|$)|\s#|^(---|\.\.\.)", value)
        and not (within and re.search(r"[,\[\]{}]", value))
    )
    return [value, *forms, double] if plain else [*forms, double]


def _first_good(texts: object, wanted: Data) -> str:
    """The first text that says what is wanted and nothing else."""
    for text in texts:  # type: ignore[attr-defined]
        try:
            if data(tree(text).root) == wanted:
                return str(text)
        except EditError:
            continue
    raise EditError("cannot be exchanged alone where it stands", "", "Exchange it in the text of the file.")
