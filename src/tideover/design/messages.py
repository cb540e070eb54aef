"""Every complaint about a build file, in one catalogue.

A fault says where, what is there, what is expected and how to mend it, in sentences a builder would say. The
functions below are the catalogue: one for each fault, named after it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tideover.design.model import Place

LARGEST = 1_000_000
"""Bytes of the largest build file; one of fifty parts has about 5000."""
DEEPEST = 20
"""Levels of nesting; a build file needs four."""
MOST = 20_000
"""Keys and values in a file, counted after every alias is followed."""


@dataclass(frozen=True)
class Fault:
    """One complaint.

    Attributes
    ----------
    place : Place
        Where.
    where : str
        Which key, part or node: ``pack.capacity``.
    problem : str
        Continues `where` to a sentence, without its full stop.
    expected : str
        What would be right; a full sentence.
    mend : str
        The cure, on a line of its own.
    """

    place: Place
    where: str
    problem: str
    expected: str
    mend: str

    def __str__(self) -> str:
        said = f"{self.where} {self.problem}".strip()
        return "\n   ".join(filter(None, (f"{self.place}: {said}.", self.expected, self.mend)))


class BuildError(Exception):
    """A build file that cannot be used; its text is the whole report, sorted by place, each fault once."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(dict.fromkeys(faults), key=lambda fault: fault.place))
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [str(fault) for fault in self.faults]
        if len(self.faults) > 1:
            lines.append(f"{len(self.faults)} faults; nothing was computed.")
        return "\n".join(lines)


# --- helpers ---------------------------------------------------------------------------------------


def quoted(text: str) -> str:
    """Quote a text as written, on one line, shortened when long, with nothing that upsets a terminal."""
    line = " ".join(text.split())
    safe = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in line)
    return f'"{safe}"' if len(safe) <= 60 else f'"{safe[:57]}..."'


def folded(text: str) -> str:
    """One spelling for names that differ only in case, spaces, hyphens or underscores."""
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").split())


def nearest(word: str, options: Iterable[str]) -> list[str]:
    """Options by likeness to the word, the most alike first."""
    wanted = folded(word)

    def likeness(option: str) -> float:
        other = folded(option)
        begins = bool(wanted) and (other.startswith(wanted) or wanted.startswith(other))
        return -difflib.SequenceMatcher(None, wanted, other).ratio() - 0.5 * begins

    return sorted(options, key=likeness)


def listed(options: Sequence[str], most: int = 6) -> str:
    """Write options as a sentence's list: ``a, b or c``, and how many more."""
    if len(options) > most:
        return f"{', '.join(options[:most])} and {len(options) - most} more"
    return " or ".join(filter(None, (", ".join(options[:-1]), options[-1]))) if options else "nothing"


def _alike(word: str, options: list[str]) -> str:
    """The first option when it is near enough to be what was meant."""
    if not options:
        return ""
    first, wanted = folded(options[0]), folded(word)
    near = difflib.SequenceMatcher(None, wanted, first).ratio() >= 0.6
    return options[0] if near or (len(wanted) > 2 and first.startswith(wanted)) else ""


def meant(word: str, options: Iterable[str]) -> str:
    """The option that a misspelt word most likely means; empty when none is near."""
    return _alike(word, nearest(word, options))


# --- the file itself -------------------------------------------------------------------------------


def no_file(place: Place) -> Fault:
    return Fault(
        place, "", "there is no such file", "", "Check the spelling, or start one with: tideover new"
    )


def a_folder(place: Place, inside: str) -> Fault:
    mend = f"Name the file in it: {inside}" if inside else "There is no build.yaml in it."
    return Fault(place, "", "this is a folder, not a file", "A build file is expected.", mend)


def unreadable(place: Place, reason: str) -> Fault:
    return Fault(place, "", f"the file cannot be opened ({reason})", "", "See who may read it.")


def too_big(place: Place, size: int) -> Fault:
    problem = f"the file has {size / 1e6:.1f} MB; a build file may have {LARGEST / 1e6:.0f} MB"
    return Fault(
        place, "", problem, "Logs and captures are files of their own.", "Keep only the description here."
    )


def empty_file(place: Place) -> Fault:
    mend = "Start with: tideover: 1"
    return Fault(
        place, "", "the file is empty", "Keys are expected: tideover, title, need, parts, joins, box.", mend
    )


def wrong_encoding(place: Place, what: str) -> Fault:
    return Fault(place, "", what, "A build file is text in UTF-8.", "Save it again as UTF-8.")


def control_character(place: Place, code: int) -> Fault:
    problem = f"there is a control character (U+{code:04X}) that nobody sees"
    return Fault(place, "", problem, "", "Delete it and type the place anew.")


def tabs(place: Place, more: int) -> Fault:
    problem = "the line is indented with a tab" + (f", and so are {more} more" if more else "")
    return Fault(place, "", problem, "Lines are indented with spaces.", "Replace each tab with two spaces.")


def syntax(place: Place, what: str, expected: str, mend: str) -> Fault:
    return Fault(place, "", what, expected, mend)


def not_a_mapping(place: Place) -> Fault:
    expected = "Keys are expected: tideover, title, need, parts, joins, box."
    return Fault(place, "", "the file holds no keys", expected, "Start with: tideover: 1")


def second_document(place: Place) -> Fault:
    return Fault(
        place, "", "a second document begins here", "A file describes one build.", "Delete the line ---."
    )


def duplicate_key(place: Place, where: str, first: Place) -> Fault:
    line = f"line {first.line}" if first.line != place.line else f"column {first.column}"
    problem = f"stands here a second time; the first is in {line}"
    return Fault(place, where, problem, "", "Keep one of the two, or give this one another name.")


def key_not_text(place: Place) -> Fault:
    return Fault(place, "", "a key is not a word", "A key is a word before a colon.", "Write: key: value")


def unknown_alias(place: Place, name: str) -> Fault:
    problem = f"*{name} points to an anchor that does not stand before it"
    return Fault(place, "", problem, "", f"Mark the value with &{name} first, or write it out.")


def cyclic_alias(place: Place, name: str) -> Fault:
    return Fault(place, "", f"*{name} points into itself", "", "Write the value out.")


def too_much(place: Place) -> Fault:
    problem = f"the file has more than {MOST} values, counted with its aliases"
    return Fault(place, "", problem, "", "Describe one build; write aliases out.")


def too_deep(place: Place) -> Fault:
    problem = f"the brackets are nested more than {DEEPEST} deep"
    return Fault(place, "", problem, "A build file needs four levels.", "Count the brackets.")


def tagged(place: Place, tag: str) -> Fault:
    return Fault(place, "", f"{quoted(tag)} is a YAML tag", "Values stand without tags.", "Delete it.")


def merge_key(place: Place) -> Fault:
    return Fault(place, "", "<< merges another mapping", "Values are written out.", "Write the keys out.")


# --- shape -----------------------------------------------------------------------------------------


def missing(place: Place, where: str, key: str, example: str) -> Fault:
    return Fault(place, f"{where}.{key}" if where else key, "is missing", "", f"Write: {example}")


def unknown_key(
    place: Place, owner: str, key: str, options: Sequence[str], fitting: Sequence[str] = ()
) -> Fault:
    """`fitting` are those options for which the value that stands there would be right."""
    likely = meant(key, fitting) or meant(key, options)
    near = [option for option in nearest(key, options) if option != likely]
    mend = f"Write: {likely}" if likely else "Delete it, or use one of these keys."
    where = quoted(f"{owner}.{key}" if owner else key)[1:-1]
    return Fault(
        place, where, "is no key here", f"Known here: {listed([likely, *near] if likely else near)}.", mend
    )


def wrong_shape(place: Place, where: str, what: str, expected: str, mend: str) -> Fault:
    return Fault(place, where, f"is {what}", expected, mend)


def wrong_version(place: Place, text: str) -> Fault:
    problem = f"is {quoted(text)}, a version of the file that this program does not read"
    return Fault(place, "tideover", problem, "Version 1 is read.", "Write: tideover: 1, or update Tideover.")


# --- values ----------------------------------------------------------------------------------------


def bad_value(place: Place, where: str, text: str, problem: str, expected: str, mend: str) -> Fault:
    said = f"is {quoted(text)}, {problem}" if text.strip() else "is empty"
    return Fault(place, where, said, expected, f"Write: {mend}")


def out_of_range(place: Place, where: str, text: str, problem: str, expected: str, mend: str) -> Fault:
    return Fault(place, where, f"is {quoted(text)}, {problem}", expected, f"Write: {mend}")


def unknown_word(place: Place, where: str, key: str, text: str, options: Sequence[str]) -> Fault:
    near = nearest(text, options)
    said = f"is {quoted(text)}, which is none of its choices" if text.strip() else "is empty"
    return Fault(
        place, where, said, f"One of these is expected: {listed(near, 12)}.", f"Write: {key}: {near[0]}"
    )


def missing_value(place: Place, part: str, key: str, kind: str, about: str, example: str) -> Fault:
    what = f"A {kind} needs it: {about}." if kind[0] not in "aeiou" else f"An {kind} needs it: {about}."
    return Fault(place, f"{part}.{key}", "is missing", what, f"Write, for example: {key}: {example}")


def wrong_order(place: Place, where: str, problem: str, expected: str, mend: str) -> Fault:
    return Fault(place, where, problem, expected, mend)


def limits_crossed(place: Place, part: str, lower: tuple[str, str], upper: tuple[str, str]) -> Fault:
    problem = f"is {lower[1]}, above {upper[0]}, which is {upper[1]}"
    mend = f"Exchange the two, or correct one of them: {lower[0]} comes first."
    return Fault(
        place, f"{part}.{lower[0]}", problem, f"{upper[0].capitalize()} must not be the lower one.", mend
    )


def losses_apart(place: Place, part: str, low: float, high: float, least: float, most: float) -> Fault:
    """Efficiency points that the model of the part cannot be meant by."""
    seen = f"{low:.2g}" if low == high else f"{low:.2g} to {high:.2g}"
    return Fault(
        place,
        f"{part}.efficiency",
        f"asks for {seen} times the loss that the part's other figures give",
        f"The loss factor may be {least:g} to {most:g}; one far from 1 points to a slip in a point or a figure.",
        "Check input, output and current of each point, and the switch, coil and frequency of the part.",
    )


# --- parts -----------------------------------------------------------------------------------------


def unknown_kind(place: Place, part: str, text: str, kinds: Sequence[str]) -> Fault:
    near = nearest(text, kinds)
    said = f"is {quoted(text)}, which is no kind of part" if text.strip() else "is empty"
    return Fault(place, f"{part}.kind", said, f"Known: {listed(near)}.", f"Write: kind: {near[0]}")


def not_on_shelf(place: Place, where: str, text: str, near: Sequence[str]) -> Fault:
    if not text.strip():
        return Fault(
            place,
            where,
            "is empty",
            "A name from the shelf is expected, or {kind: ...}.",
            "Choose one: tideover parts",
        )
    expected = f"The nearest there: {listed(list(near))}." if near else "Nothing there is like it."
    likely = _alike(text, list(near))
    mend = f"Write: {likely}" if likely else "Choose one: tideover parts"
    return Fault(place, where, f"is {quoted(text)}, which is not on the shelf", expected, mend)


def kind_for_shelf(place: Place, part: str, kind: str) -> Fault:
    problem = f'is "{kind}", which is a kind of part and not one part on the shelf'
    return Fault(
        place, part, problem, "A kind needs its values beside it.", f"Write: {part}: {{kind: {kind}, ...}}"
    )


def no_kind(place: Place, part: str) -> Fault:
    expected = "A part is taken from the shelf, or named by its kind."
    return Fault(place, part, "has neither from: nor kind:", expected, "Write, for example: kind: wire")


def two_kinds(place: Place, part: str, kind: str, item: str, other: str) -> Fault:
    problem = f'is "{kind}", but {quoted(item)} from the shelf is of kind {other}'
    return Fault(place, f"{part}.kind", problem, "", "Delete the kind, or take another item.")


def wrong_item(place: Place, where: str, item: str, kind: str, wanted: str, mend: str) -> Fault:
    problem = f"is {quoted(item)}, which is of kind {kind}"
    return Fault(place, where, problem, f"{wanted[0].upper()}{wanted[1:]} is expected here.", mend)


def bad_name(place: Place, name: str, problem: str) -> Fault:
    return Fault(place, quoted(name), f"cannot name a part: {problem}", "", "Give the part another name.")


def enclosure_as_part(place: Place, part: str) -> Fault:
    return Fault(
        place, part, "is a box, which is no part of the circuit", "", "Describe it under the key box."
    )


def watches_nothing(place: Place, part: str, text: str, options: Sequence[str], sensed: str) -> Fault:
    near = nearest(text, options)
    problem = f"is {quoted(text)}, which is no {sensed}"
    expected = f"In this file: {listed(near)}." if near else f"There is no {sensed} in this file."
    return Fault(place, f"{part}.watches", problem, expected, f"Write: watches: {near[0]}" if near else "")


# --- joins -----------------------------------------------------------------------------------------


def bad_link(place: Place, text: str, problem: str) -> Fault:
    expected = "A chain is names with > between them, such as (inlet) > mains diode > (bus)."
    return Fault(
        place, f"the join {quoted(text)}", problem, expected, "Write a name on each side of every >."
    )


def unknown_part(place: Place, text: str, names: Sequence[str], node: str) -> Fault:
    near = nearest(text, names)
    likely = _alike(text, near)
    mend = f"Describe it under parts, or write ({text}) if a node is meant."
    if node:
        mend = f"Write: ({node}), if the node is meant."
    elif likely:
        mend = f"Write: {likely}"
    expected = f"Known parts: {listed(near)}." if near else "There are no parts."
    return Fault(place, quoted(text), "is no part of this file", expected, mend)


def unknown_terminal(place: Place, part: str, text: str, terminals: Sequence[str]) -> Fault:
    near = nearest(text, terminals)
    mend = f"Write: {part}.{near[0]}" if near else ""
    return Fault(place, f"{part}.{text}", "is no terminal", f"{part} has {listed(near, 12)}.", mend)


def which_terminal(place: Place, part: str, terminals: Sequence[str]) -> Fault:
    expected = "It has more than two, and no two that a chain passes through by nature."
    mend = f"Write one of these: {listed([f'{part}.{terminal}' for terminal in terminals], 12)}"
    return Fault(place, part, "stands in a join without saying which terminal", expected, mend)


# --- the network -----------------------------------------------------------------------------------


def stands_twice(place: Place, part: str, first: Place) -> Fault:
    problem = f"stands in a second join; the first is in line {first.line}"
    expected = "A part carries the current of one chain; a node in brackets is where chains meet."
    return Fault(
        place, part, problem, expected, f"End one of them at a node, or name a terminal: {part}.<terminal>"
    )


def nodes_touch(place: Place, first: str, second: str) -> Fault:
    problem = f"and ({second}) are joined with nothing between them"
    mend = f"Use one name for both, or put a part between: ({first}) > wire > ({second})"
    return Fault(place, f"({first})", problem, "They are the same node.", mend)


def joined_to_nothing(place: Place, part: str, terminal: str = "", node: str = "node") -> Fault:
    if not terminal:
        mend = f"Add a join, for example: ({node}) > {part}"
        return Fault(place, part, "is joined to nothing", "", mend)
    what = f"{part}.{terminal}"
    return Fault(place, what, "is joined to nothing", "", f"Add a join, for example: ({node}) > {what}")


def lonely_node(place: Place, node: str, terminal: str, meant: str) -> Fault:
    expected = f"Only {terminal} is there." if terminal else "Nothing is there."
    mend = f"Write: {meant}" if meant else "Join something else to it, or delete it."
    return Fault(place, f"({node})", "is a node where nothing meets", expected, mend)


def adrift(place: Place, node: str, parts: Sequence[str]) -> Fault:
    hanging = ", ".join(parts[:6]) + (" and more" if len(parts) > 6 else "")
    mend = "End a chain with a part or with > (return), where the current flows back."
    return Fault(place, node, "has no way to the return", f"These parts hang there: {hanging}.", mend)


def no_return(place: Place) -> Fault:
    mend = "End a chain with a part, such as (load) > modem, or with > (return)."
    return Fault(place, "", "nothing is joined to (return)", "Every current flows back to it.", mend)


def shorted(place: Place, part: str, node: str) -> Fault:
    problem = f"has both ends on {node}"
    return Fault(
        place, part, problem, "It is bridged and carries nothing.", "Join its two ends to two nodes."
    )


def shorted_source(place: Place, part: str, node: str) -> Fault:
    problem = f"is shorted: both of its terminals are on {node}"
    return Fault(place, part, problem, "", "Join its two terminals to two nodes.")


def shorted_through(place: Place, part: str, path: Sequence[str], open_ended: str) -> Fault:
    problem = f"is shorted through {' and '.join(path)}"
    if not open_ended:
        mend = "Put between them what is to be fed, such as a load or a converter."
        return Fault(place, part, problem, "Nothing else lies in that path.", mend)
    expected = f"The chain that ends in {open_ended} ends at the return, behind {open_ended}."
    return Fault(place, part, problem, expected, f"Go on to a node: ... > {open_ended} > (node)")


def sources_parallel(place: Place, part: str, other: str, node: str) -> Fault:
    problem = f"and {other} are both on {node} with nothing between them"
    expected = "One feeds into the other without limit."
    return Fault(place, part, problem, expected, "Put a diode, a charger or a converter between them.")


def senses_nothing(place: Place, part: str, sensed: str) -> Fault:
    example = f"(pack plus) > pack > (pack minus) > {part} > (return)"
    expected = f"A {sensed} is expected on one of its nodes, such as {example}."
    return Fault(
        place,
        part,
        f"watches no {sensed}",
        expected,
        f"Join it to a {sensed}, or write: watches: <name of a {sensed}>",
    )


def senses_two(place: Place, part: str, found: Sequence[str], sensed: str) -> Fault:
    problem = f"could watch {' or '.join(found)}"
    return Fault(place, part, problem, f"It watches one {sensed}.", f"Write: watches: {found[0]}")


def no_such_node(place: Place, name: str, options: Sequence[str]) -> Fault:
    near = nearest(name, options)
    expected = f"Nodes and parts here: {listed(near)}." if near else "There are no nodes with a name."
    mend = f"Write: at: {near[0]}" if near else "Name a node in the joins, such as (load)."
    return Fault(place, "need.at", f"is {quoted(name)}, which is no node and no part", expected, mend)
