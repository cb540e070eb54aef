"""Whatever is done to a build file, the answer is a network or a report, never a traceback."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from design.fakes import GOOD, KINDS, SHELF
from tideover.design import BuildError
from tideover.design.read import examine_text
from tideover.design.source import decode
from tideover.network import Network, settle

RAW = GOOD.encode()
SIGNS = st.sampled_from(list(b" \t\n\r:#-[]{}()>,.&*!|'\"%@`?~<=+0123456789VA\\\x00\x7f\x80\xc2\xff"))
EDITS = st.lists(
    st.tuples(
        st.integers(0, len(RAW) - 1),
        st.sampled_from(["set", "cut", "add", "swap"]),
        SIGNS,
        st.integers(1, 40),
    ),
    min_size=1,
    max_size=8,
)
BOUNDED = settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def outcome(raw: bytes) -> Network | BuildError:
    """As loading a file goes, without the file."""
    text, faults = decode(raw, "build.yaml")
    try:
        if faults:
            raise BuildError(faults)
        return settle(examine_text(text, kinds=KINDS, shelf=SHELF), kinds=KINDS)
    except BuildError as error:
        return error


def check(raw: bytes) -> None:
    found = outcome(raw)
    if isinstance(found, BuildError):
        assert found.faults
        report = str(found)
        assert report.encode("utf-8")
        assert all(c.isprintable() or c == "\n" for c in report)
    else:
        assert found.nodes[0] == "return"


@BOUNDED
@given(EDITS)
def test_mutated_bytes(edits):
    raw = bytearray(RAW)
    for position, what, sign, length in edits:
        position = min(position, len(raw))
        if what == "set" and position < len(raw):
            raw[position] = sign
        elif what == "cut":
            del raw[position : position + length]
        elif what == "add":
            raw[position:position] = bytes([sign]) * (length % 4 + 1)
        else:
            raw[position : position + length] = raw[position : position + length][::-1]
    check(bytes(raw))


@BOUNDED
@given(
    st.lists(
        st.tuples(st.integers(0, GOOD.count("\n") - 1), st.integers(0, GOOD.count("\n") - 1)), max_size=6
    )
)
def test_lines_taken_out_doubled_and_exchanged(moves):
    lines = GOOD.splitlines()
    for first, second in moves:
        if first % 3 == 0:
            lines[min(first, len(lines) - 1)] = ""
        elif first % 3 == 1:
            lines.insert(second, lines[min(first, len(lines) - 1)])
        else:
            a, b = min(first, len(lines) - 1), min(second, len(lines) - 1)
            lines[a], lines[b] = lines[b], lines[a]
    check("\n".join(lines).encode())


WORDS = sorted({word for word in GOOD.replace("{", " { ").replace("}", " } ").split(" ") if word})


@BOUNDED
@given(st.lists(st.tuples(st.integers(0, 400), st.sampled_from(WORDS)), min_size=1, max_size=6))
def test_words_exchanged_for_other_words_of_the_file(changes):
    words = GOOD.split(" ")
    for position, word in changes:
        words[position % len(words)] = word
    check(" ".join(words).encode())


@BOUNDED
@given(st.binary(max_size=200))
def test_any_bytes(raw):
    check(raw)


JOIN = st.lists(
    st.sampled_from(
        ["brick", "lead", "pack", "relay.back", "relay", "lamp", "(bus)", "(return)", "(x)", "pack.tap"]
    ),
    min_size=1,
    max_size=5,
).map(" > ".join)


@BOUNDED
@given(st.lists(JOIN, min_size=1, max_size=6))
def test_any_joins(joins):
    head, _, tail = GOOD.partition("joins:\n")
    box = tail[tail.index("box:") :]
    check((head + "joins:\n" + "".join(f"  - {join}\n" for join in joins) + box).encode())


def test_faults_point_into_the_file(tmp_path: Path):
    text = GOOD.replace("(bus) > hold-up", "(bus) > holdup").replace("length: 2 m", "length: 2")
    lines = text.splitlines()
    for fault in examine_text(text, kinds=KINDS, shelf=SHELF).faults:
        assert lines[fault.place.line - 1][fault.place.column - 1 :].startswith(("holdup", "2}"))
