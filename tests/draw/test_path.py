"""The ink of a power path: what it says, that nothing in it can become markup, and that it is quick."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from time import process_time

import pytest

from draw.paths import BUILDS, chain, example, flow_of, joins, lot, rewired
from tideover.answers.context import Context
from tideover.answers.flows import Flow, flows
from tideover.answers.states import CHARGING, NEAR
from tideover.draw.path import STILL, THICK, THIN, path, shortened
from tideover.draw.path_look import PATH_LOOK
from tideover.draw.svg import breadth

NS = {"s": "http://www.w3.org/2000/svg"}
HOSTILE = ("<script>alert(1)</script>", "🔋🔥 attic", "x" * 200, "a\"b'&c", "ends\u0000here]]>", "</title><a>")


def tree(ink):
    return ET.fromstring(str(ink).replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1))


def texts(ink):
    return ["".join(t.itertext()) for t in tree(ink).iterfind(".//s:text", NS)]


def titles(ink):
    return ["".join(t.itertext()) for t in tree(ink).iterfind(".//s:title", NS)]


@pytest.fixture(scope="module")
def gauge():
    net = example("harbour-gauge/build")
    return net, {f.state: f for f in flows(Context(net, ()))}


def strokes(ink):
    return [float(p.get("stroke-width")) for p in tree(ink).iterfind(".//s:path", NS) if p.get("stroke-width")]


@pytest.mark.parametrize("down", [False, True], ids=["across", "down"])
@pytest.mark.parametrize("name", BUILDS)
def test_every_name_is_shown_and_every_node_told(name, down):
    net = example(name)
    ink = path(net, flow_of(net), down=down)
    told = " ".join(titles(ink))
    for part in net.parts[:-1]:
        assert any(part.name in said for said in texts(ink)) and part.name in told
    assert all(f"({net.nodes[n]}): " in told for n in joins(net).values() if n)


def test_lines_are_as_thick_as_their_current_and_dashed_without(gauge):
    net, states = gauge
    charging = path(net, states[CHARGING])
    widths = strokes(charging)
    assert max(widths) == THICK and min(widths) >= THIN
    most = max(abs(i) for i in states[CHARGING].terminals.values())
    lead = abs(states[CHARGING].terminals["lead", "a"])
    assert round(THIN + (THICK - THIN) * lead / most, 2) in widths
    assert 'class="fig-idle"' in charging
    still = replace(states[CHARGING], terminals={k: 0.1 * STILL for k in states[CHARGING].terminals})
    assert strokes(path(net, still)) == [] and "fig-arrow" not in path(net, still)


def test_arrows_turn_with_the_current(gauge):
    net, states = gauge
    flow = states[CHARGING]
    back = replace(flow, terminals={k: -i for k, i in flow.terminals.items()})

    def tips(ink):
        return re.findall(r'd="M([\d.]+) ([\d.]+)L[^"]*Z" class="fig-arrow', ink)

    assert len(tips(path(net, flow))) == len(tips(path(net, back))) > 5
    assert not set(tips(path(net, flow))) & set(tips(path(net, back)))


def test_several_states_can_share_one_measure_of_thickness(gauge):
    net, states = gauge
    assert max(strokes(path(net, states[CHARGING], full=10.0))) < THICK / 2


def test_the_pack_is_filled_to_its_charge(gauge):
    net, states = gauge
    for state in (CHARGING, NEAR):
        boxes = list(tree(path(net, states[state])).iterfind(".//s:rect", NS))
        level, brim = (next(b for b in boxes if b.get("class") == look) for look in ("fig-level", "fig-brim"))
        assert float(level.get("height")) / float(brim.get("height")) == pytest.approx(states[state].charge, abs=1e-3)


def test_marks_are_shape_and_word_and_are_said(gauge):
    net, states = gauge
    marks = {"converter": "tight", "pack": "fails", "lead": "holds", "board": "open"}
    ink = path(net, states[CHARGING], marks)
    for part, status in marks.items():
        assert status in texts(ink)
        assert any(said.startswith(f"{part} (") and said.endswith(f"; {status}") for said in titles(ink))
        drawn = next(g for g in tree(ink).iterfind(".//s:g", NS) if g.get("class") == f"fig-part fig-{status}")
        looks = (f"fig-mark-{status}", "fig-ring")
        signs = [e for e in drawn if e.get("class") in looks and not e.tag.endswith("text")]
        assert len(signs) == 1
    with pytest.raises(ValueError, match="is none of holds, tight, fails, open"):
        path(net, states[CHARGING], {"lead": "fine"})


def test_boxes_lead_where_they_are_told_and_nowhere_outside(gauge):
    net, states = gauge
    ink = path(net, states[CHARGING], {"converter": "tight"}, lambda part: f"/part/{part.replace(' ', '-')}?a=1&b=2")
    assert 'href="/part/pack-fuse?a=1&amp;b=2"' in ink
    labels = re.findall(r'aria-label="([^"]*)"', ink)
    assert len(labels) == len(net.parts) - 1
    assert any(re.fullmatch(r"converter, 12\.05 V, .*, tight", said) for said in labels)
    assert 'role="group"' in ink and 'role="img"' in path(net, states[CHARGING])
    for wrong in ("javascript:alert(1)", "//elsewhere.example", "http://elsewhere.example", "/a b", "/\\x"):
        with pytest.raises(ValueError, match="leads out of the site"):
            path(net, states[CHARGING], None, lambda _, wrong=wrong: wrong)


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("down", [False, True], ids=["across", "down"])
def test_hostile_names_stay_text(name, down):
    net = rewired([("brick", "adapter", (1, 0)), (name, "cable", (1, 2)), ("lamp", "load", (2, 0))], 3)
    net = replace(net, title=name, nodes=("return", name, "b"))
    ink = path(net, flow_of(net), {name: "tight"}, lambda _: "/x", down=down)
    tags = {e.tag.split("}")[1] for e in tree(ink).iter()}
    assert tags <= {"svg", "title", "desc", "g", "a", "rect", "path", "circle", "line", "text"}
    assert any(name.replace("\u0000", "\ufffd") in said for said in titles(ink))
    widest = max(breadth(said, 12.0) for said in texts(ink) if said not in ("return",))
    assert widest <= 120.0


def test_a_state_without_numbers_is_drawn_and_says_why():
    net = example("choir-loft/build")
    nothing = Flow(
        CHARGING, dict.fromkeys(net.nodes), dict.fromkeys(flow_of(net).terminals), dict.fromkeys(flow_of(net).watts),
        {"pack": None}, "No standing point.",
    )  # fmt: skip
    ink = path(net, nothing)
    assert "No standing point." in "".join(next(tree(ink).iterfind(".//s:desc", NS)).itertext())
    assert strokes(ink) == [] and "fig-arrow" not in ink and "fig-level" not in ink
    assert all(part.name in " ".join(texts(ink)) for part in net.parts[:-1])


def test_a_folded_run_says_how_many_and_names_all():
    net = chain(30)
    ink = path(net, flow_of(net), {"lead 4": "fails"})
    assert "lead 0 + 29" in texts(ink) and "fails" in texts(ink)
    assert any(all(f"lead {k}" in said for k in range(30)) for said in titles(ink))
    assert "lead 29" in texts(path(net, flow_of(net), folded=False))


def test_the_same_state_gives_the_same_bytes(gauge):
    net, states = gauge
    assert path(net, states[CHARGING]) == path(net, states[CHARGING])


def test_another_process_draws_the_same_bytes():
    lines = "from draw.paths import flow_of, lot\nfrom tideover.draw.path import path\nimport sys\n"
    lines += "sys.stdout.buffer.write(path(lot(9), flow_of(lot(9)), folded=False).encode())"
    drawn = [
        subprocess.run(
            [sys.executable, "-c", lines],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert drawn[0] == drawn[1] == path(lot(9), flow_of(lot(9)), folded=False).encode()


def test_words_are_large_enough_for_a_phone_and_shortened_to_fit():
    net = lot(3)
    sizes = {float(t.get("font-size")) for t in tree(path(net, flow_of(net), down=True)).iterfind(".//s:text", NS)}
    assert sizes == {12.0}
    assert shortened("lead", 60.0, 12.0) == "lead"
    assert breadth(shortened("m" * 200, 60.0, 12.0, " + 3"), 12.0) <= 60.0


def test_every_class_drawn_has_its_look(gauge):
    net, states = gauge
    ink = path(net, states[CHARGING], {"pack": "open", "lead": "tight"}, lambda _: "/x")
    ink += path(chain(30), flow_of(chain(30)))
    for look in {word for said in re.findall(r'class="([^"]+)"', ink) for word in said.split()} - {"fig-part"}:
        assert f".{look}" in PATH_LOOK, look


def test_drawing_is_quick(gauge):
    def best(draw):
        times = []
        for _ in range(5):
            before = process_time()
            draw()
            times.append(process_time() - before)
        return min(times)

    net, states = gauge
    assert best(lambda: path(net, states[CHARGING])) < 0.02
    large = next(n for n in map(lot, range(1000)) if len(n.parts) > 58)
    flow = flow_of(large)
    assert best(lambda: path(large, flow, folded=False)) < 0.15
    assert best(lambda: path(large, flow, down=True, folded=False)) < 0.15
