"""One value exchanged in the text: it changes, and not a character elsewhere."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from design.fakes import GOOD
from tideover.design import source
from tideover.design.edit import replaced, span, value_at, values
from tideover.design.written import EditError, Node, tree

EXAMPLES = [path.read_bytes().decode() for path in sorted((Path(__file__).parents[2] / "examples").glob("*/*.yaml"))]
AWKWARD = """\
# first
tideover: 1   # remark

title: 'a ''quoted'' title'     # keep me
need: {at: load, "window":  11.4 V to 12.6 V ,
       dips: [ 10.5 V for 5 ms, "9 V for 1 ms" ],   # in a list
       Run_Time: 8 h,
      }
parts:
  Brick:   19 V 3.4 A adapter, loud     # from the shelf

  # about the lead
  lead:
      kind:   cable       # two cores
      section: "0.75 mm²"
      # between
      length:
  board: {}
  hold-up: 2 mF
    and more
  note: |
    many
    lines

  # after the lines
joins:
- (a) > lead > (b)   # one
- '(b) > board'
box:
    inside: 200 × 150 × 80 mm
# the end
"""
BOUNDED = settings(
    max_examples=400 if os.environ.get("TIDEOVER_LONG") else 40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TEXT = st.one_of(
    st.sampled_from(
        [
            "4 h", "yes", "No", "null", "~", "%x", "a: b", "a #b", "#b", "- a", "-", "a:", "it's", '"q"', "[a",
            "{", "}", "a, b", "'", '"', "", " ", " a ", "a\nb", "a\tb", "@x", "`x", "&x", "*x", "!x", "|", ">",
            "?", "? a", ":", "::", "---", "...", "--- a", "12 V ±1 %", "1.2 kΩ -20/+50 %", "0x1F", "1e3",
            "2026-01-01", "18:00 to 20:30", "\\",
        ]
    ),
    st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), max_size=20),
    st.text("ab :#,{}[]'\"-%&*!|>?@\\\n", max_size=12),
)


def places(text: str) -> list[tuple[tuple[str, ...], Node]]:
    """Every scalar of a file by its place."""
    found: list[tuple[tuple[str, ...], Node]] = []

    def walk(node: Node, where: tuple[str, ...]) -> None:
        if node.form == "text":
            found.append((where, node))
        for n, item in enumerate(node.items if node.form == "list" else ()):
            walk(item, (*where, str(n)))
        for key, value in node.pairs() if node.form == "keys" else ():
            walk(value, (*where, key.text))

    walk(tree(text).root, ())
    return found


def read(text: str) -> object:
    root, faults = source.parse(text, "build.yaml")
    assert root is not None and not faults
    return source.plain(root)


def put(plain: object, where: tuple[str, ...], value: object) -> object:
    """The same tree with one value exchanged, by the reader's own tree."""
    if not where:
        return value
    if isinstance(plain, list):
        return [put(item, where[1:], value) if str(n) == where[0] else item for n, item in enumerate(plain)]
    return {key: put(item, where[1:], value) if key == where[0] else item for key, item in plain.items()}


def legal(value: str) -> bool:
    listed = value.strip()[:1] + value.strip()[-1:] in ("[]", "{}")
    return not source.UNSEEN.search(value) and not listed


GENERATED = st.lists(
    st.tuples(
        st.sampled_from(["", "  ", "    "]),
        st.sampled_from(["1 V", "'1 V'", '"1 V"', "1 V to 2 V", "it is", "''", ""]),
        st.sampled_from(["", "  # remark", " # it's: {odd}"]),
        st.sampled_from(["", "\n", "  # a line of its own\n"]),
        st.sampled_from(["block", "flow", "short", "list"]),
    ),
    min_size=1,
    max_size=6,
)


def generated(lines) -> str:
    """A build file in styles of all kinds."""
    text = "tideover: 1\nparts:\n"
    for n, (more, value, remark, between, form) in enumerate(lines):
        text += between
        if form == "block":
            text += f"  part {n}:{remark}\n   {more}kind: {value}{remark}\n   {more}length: 2 m{remark}\n"
        elif form == "flow":
            text += f"  part {n}: {{kind: {value},{more} Length: 2 m }}{remark}\n"
        elif form == "list":
            text += f"  part {n}: {{all: [{value or 'x'}, b], c: {{d: {value}}}}}{remark}\n"
        else:
            text += f"  part {n}: {value}{remark}\n"
    return text


FILES = st.one_of(st.sampled_from([*EXAMPLES, GOOD, AWKWARD]), GENERATED.map(generated))


@BOUNDED
@given(FILES, TEXT, st.integers(0, 10_000), st.booleans())
def test_any_text_in_any_place_changes_that_value_alone(text, value, pick, crlf):
    assume(legal(value))
    text = text.replace("\n", "\r\n") if crlf else text
    found = places(text)
    where, node = found[pick % len(found)]
    edited = replaced(text, where, value)
    before = read(text)
    assert read(edited) == put(before, where, value)
    assert value_at(edited, where) == value
    tail = len(text) - node.end
    gap = 1 if node.start == node.end else 0  # an empty value gets its space
    assert edited[: node.start] == text[: node.start]
    assert edited[len(edited) - tail :] == text[node.end :]
    assert edited[node.start : node.start + gap].strip() == ""
    back = replaced(edited, where, value_at(text, where) or "")
    assert read(back) == before


@BOUNDED
@given(FILES, TEXT, st.integers(0, 10_000), st.booleans())
def test_a_key_added_changes_nothing_else_and_goes_again(text, value, pick, crlf):
    assume(legal(value))
    text = text.replace("\n", "\r\n") if crlf else text
    parts = tree(text).root.pairs()[[key.text for key, _ in tree(text).root.pairs()].index("parts")][1].pairs()
    key, node = parts[pick % len(parts)]
    assume(node.form == "keys" or node.text.strip())
    where = ("parts", key.text, "own key")
    edited = replaced(text, where, value)
    before = read(text)
    own = before["parts"][key.text]
    own = {"from": own} if isinstance(own, str) else own
    assert read(edited) == put(before, where[:2], {**own, "own key": value})
    if node.form == "keys":  # not one character of the old text is gone
        at = next(n for n in range(len(edited) + 1) if edited[:n] != text[:n]) - 1
        more = len(edited) - len(text)
        assert any(edited[:n] + edited[n + more :] == text for n in range(max(0, at - more), at + 1))
        assert replaced(edited, where, None) == text or "," in text[node.start : node.end]
    else:
        assert edited.startswith(text[: node.start]) and edited.endswith(text[node.end :])
    assert read(replaced(edited, where, None)) == put(before, where[:2], own)
    if crlf:
        assert "\n" not in edited.replace("\r\n", "")


@BOUNDED
@given(FILES, st.integers(0, 10_000))
def test_taking_a_value_out_leaves_every_other_and_every_remark(text, pick):
    found = [(where, node) for where, node in places(text) if len(where) > 2 and not where[-1].isdigit()]
    assume(found)
    where, _ = found[pick % len(found)]
    try:
        edited = replaced(text, where, None)
    except EditError as error:
        assert "all that" in error.problem or "shares" in error.problem
        return
    kept = {place: value for place, value in values(text).items() if place != where}
    assert values(edited) == kept
    assert [line[line.index("#") :] for line in text.splitlines() if "#" in line] == [
        line[line.index("#") :] for line in edited.splitlines() if "#" in line
    ]


@pytest.mark.parametrize(
    "where, value, before, after",
    [
        (("parts", "brick", "voltage"), "18 V", "19 V 3.4 A adapter  ", "{from: 19 V 3.4 A adapter, voltage: 18 V}  "),
        (("parts", "BRICK", "from"), "x", "brick: 19 V 3.4 A adapter", "brick: x"),
        (("parts", "converter", "lockout", "off"), "8 V", "off: 9.0 V", "off: 8 V"),
        (("parts", "converter", "lockout off"), "8 V", "off: 9.0 V", "off: 8 V"),
        (("parts", "converter", "lockout", "off"), None, "{off: 9.0 V, on: 9.6 V}", "{on: 9.6 V}"),
        (("parts", "converter", "lockout"), None, ", lockout: {off: 9.0 V, on: 9.6 V}", ""),
        (("parts", "hold_up", "esr"), "1 mΩ", "ESR: 35 mΩ -50/+0 %", "ESR: 1 mΩ"),
        (("need", "dips"), "[9 V for 1 ms]", "[10.5 V for 5 ms, 9 V for 500 us]", "[9 V for 1 ms]"),
        (("need", "dips"), "9 V for 1 ms", "[10.5 V for 5 ms, 9 V for 500 us]", "9 V for 1 ms"),
        (("need", "dips", "1"), "8 V for 1 ms", "9 V for 500 us", "8 V for 1 ms"),
        (("need", "years"), "3", "policy: usual\n", "policy: usual\n  years: 3\n"),
        (("title",), "yes", "title: Choir loft lamp", "title: 'yes'"),
        (("title",), "%", "title: Choir loft lamp", "title: '%'"),
        (("title",), "[draft]", "title: Choir loft lamp", "title: '[draft]'"),
        (("title",), None, "title: Choir loft lamp\n", ""),
        (("box", "wall"), None, ", wall: ABS 2.5 mm", ""),
        (("parts", "lamp", "power"), "a, b", "power: 13.2 W", "power: 'a, b'"),
    ],
)
def test_an_edit_looks_as_one_would_write_it(where, value, before, after):
    assert replaced(GOOD, where, value) == GOOD.replace(before, after, 1)


def test_a_group_goes_with_its_last_key():
    text = replaced(GOOD, ("parts", "converter", "lockout", "off"), None)
    assert replaced(text, ("parts", "converter", "lockout", "on"), None) == GOOD.replace(
        ", lockout: {off: 9.0 V, on: 9.6 V}", ""
    )


def test_a_group_that_stands_takes_the_other_key_in():
    text = replaced(GOOD, ("parts", "converter", "lockout", "on"), None)
    assert "lockout: {off: 9.0 V, on: 9.7 V}" in replaced(text, ("parts", "converter", "lockout on"), "9.7 V")


def test_a_title_is_added_where_one_looks_for_it():
    assert replaced("tideover: 1\nneed: {at: x}\n", ("title",), "x") == "tideover: 1\ntitle: x\nneed: {at: x}\n"


def test_a_key_is_added_to_a_file_without_a_last_line_end():
    assert replaced("parts:\n  a: {}\nbox:\n  wall: x", ("box", "vents"), "y") == (
        "parts:\n  a: {}\nbox:\n  wall: x\n  vents: y"
    )


ALIASED = """\
need: &n {at: load, window: &w 12 V}
parts:
  a: {kind: wire, length: &l 2 m}
  b: {length: *l}
  c: *n
"""


@pytest.mark.parametrize(
    "where, value",
    [
        (("parts", "a", "length"), "3 m"),
        (("parts", "b", "length"), "3 m"),
        (("parts", "a", "length"), None),
        (("parts", "b", "length"), None),
        (("parts", "c", "at"), "x"),
        (("parts", "c"), "x"),
        (("need", "at"), "x"),
        (("need", "years"), "x"),
        (("need",), None),
    ],
)
def test_what_would_change_two_places_is_refused_with_the_reason(where, value):
    with pytest.raises(EditError, match="Write it out in the text instead of"):
        replaced(ALIASED, where, value)


def test_an_alias_is_read_and_its_neighbours_can_be_changed():
    assert value_at(ALIASED, ("parts", "b", "length")) == "2 m"
    assert value_at(ALIASED, ("parts", "c", "at")) == "load"
    assert replaced(ALIASED, ("parts", "a", "kind"), "cable") == ALIASED.replace("wire", "cable")
    lone = "a: &x one\nb: two\n"
    assert replaced(lone, ("a",), "three") == "a: &x three\nb: two\n"


@pytest.mark.parametrize("where", [("parts", "nobody", "length"), ("nothing", "x"), (), ("parts", "nobody", "a", "b")])
def test_what_does_not_exist_cannot_be_added_to(where):
    with pytest.raises(KeyError):
        replaced(GOOD, where, "1 m")


def test_what_is_absent_is_none_and_taking_it_out_changes_nothing():
    assert value_at(GOOD, ("need", "years")) is None
    assert value_at(GOOD, ("parts", "nobody", "x")) is None
    assert value_at(GOOD, ("parts", "lead", "length", "x")) is None
    assert replaced(GOOD, ("need", "years"), None) == GOOD
    assert span(GOOD, ("need", "years")) is None


def test_remarks_inside_a_list_are_not_lost_unasked():
    text = "joins:\n  - a > b   # why\n  - b > c\nbox: x\n"
    with pytest.raises(EditError, match="has remarks"):
        replaced(text, ("joins",), "[a > c]")
    assert replaced(text.replace("   # why", ""), ("joins",), "[a > c]") == "joins: [a > c]\nbox: x\n"


@pytest.mark.parametrize("text", ["", "- a", "a: [", "a: 1\n---\nb: 2\n", "\t", "[" * 50, "a: *nobody", "%", '"\\x"'])
def test_a_text_that_cannot_be_followed_is_refused_in_words(text):
    with pytest.raises(EditError):
        replaced(text, ("need", "at"), "x")


def test_a_sign_that_nobody_sees_is_refused():
    with pytest.raises(EditError, match="control character"):
        replaced(GOOD, ("title",), "a\x00b")
