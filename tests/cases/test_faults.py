"""The table of faults is whole, and a fault by figures equals the drawing with that part shorted or taken out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from answers.builds import charged, network

from tideover.answers.context import Context
from tideover.answers.states import FULL, MAINS_FULL, Setting
from tideover.cases import override
from tideover.cases.faults import FAULTS, LEAD, RATES, Single, Struck, singles, strike
from tideover.network import Network, load
from tideover.parts import ALL, KINDS

EXAMPLES = Path(__file__).parents[2] / "examples"
BUILDS = ("choir-loft/build", "harbour-gauge/build", "reading-room/build", "reading-room/as-first-drawn")

ADRIFT = {
    "pack": ("pack tap",),  # only the pack fed it
    "pack fuse": ("pack fuse-pack diode", "pack fuse-switch", "switch-pack diode"),  # between the break and a diode
    "switch": ("switch-pack diode",),
    "out wire": ("mixer in", "load", "terminal"),  # a load that has reset draws nothing that would pull it down
}
"""Nodes that the faulty part leaves without any path: what they stand at is leakage, in either drawing."""
HUNTS = {("choir-loft/build", "pack opens")}
"""The charger then hunts on an empty output; without the pack's own sense wire the board hunts differently."""
FIRST_DRAWN = ("lead", "changeover", "hold-up")
"""What the first drawing has that the revised one has not, and its neighbours; the rest is judged there."""


def test_every_kind_of_part_has_faults() -> None:
    assert {kind.name for kind in ALL} == set(FAULTS) - {LEAD}
    assert set(RATES) == set(FAULTS)


@pytest.mark.parametrize("kind", FAULTS)
def test_ratios_make_no_more_than_a_whole_and_name_what_the_kind_has(kind: str) -> None:
    declared = KINDS["pack" if kind == LEAD else kind]
    names = {p.name for p in declared.parameters}
    assert sum(f.share for f in FAULTS[kind]) <= 100.0
    assert len({f.words for f in FAULTS[kind]}) == len(FAULTS[kind])
    for fault in FAULTS[kind]:
        assert set(fault.becomes) | set(fault.times) | set(fault.each) <= names
        assert set(fault.signals) <= set(declared.signals)
        assert not fault.bridge or set(fault.bridge) <= {*declared.terminals, "return"}
        assert "typical, unverified" in fault.source
        assert fault.means in ("", "open", "short") and (fault.means != "short" or fault.bridge)


def test_a_fault_that_a_build_cannot_have_is_left_out() -> None:
    found = {s.label for s in singles(network(charged()))}
    assert "box is covered over" in found and "box has its vents blocked" not in found
    assert "cells loses a weld: one cell of a group drops out" not in found  # one cell side by side


def test_a_lost_weld_takes_one_cell_from_the_weakest_group() -> None:
    build = network(charged().replace("series: 2,", "series: 2, parallel: 4,"))
    struck = strike(build)
    k = struck.batch.labels.index("cells loses a weld: one cell of a group drops out")
    assert struck.batch.values["cells", "capacity_spread"][k] == pytest.approx(1 / 4)
    assert 1.0 + struck.batch.values["cells", "resistance_spread"][k] == pytest.approx(4 / 3)


@pytest.mark.parametrize("name", BUILDS)
def test_without_a_fault_nothing_differs_from_the_ordinary_standing_point(name: str) -> None:
    build = load(EXAMPLES / f"{name}.yaml")
    struck = strike(build)
    ordinary = Context(build, ()).nominal
    among = Context(struck.network, ()).points(struck.batch.take([0, 1]), ordinary.settings, fresh=True)
    assert (among.found[:, 0] == ordinary.found[:, 0]).all()
    for node in range(1, len(build.nodes)):
        np.testing.assert_allclose(among.v(node)[:, 0], ordinary.v(node)[:, 0], atol=1e-6)


@pytest.mark.parametrize("name", BUILDS)
def test_a_fault_by_figures_equals_the_drawing_with_the_part_shorted_or_taken_out(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TIDEOVER_NATIVE", "0")  # every drawing is met once: not worth compiling
    struck = strike(load(EXAMPLES / f"{name}.yaml"))
    perfect = {k: np.where(v < 1.0, 1e-7, v) for k, v in struck.batch.values.items() if " to " in k[0]}
    struck = replace(struck, batch=override(struck.batch, perfect))
    context = Context(struck.network, ())
    wanted = (MAINS_FULL, FULL) if name.startswith("choir") else (MAINS_FULL,)
    settings = [Setting(s) for s in context.states if s.name in wanted]
    held = (struck.signals, struck.states)
    ours = context.points(struck.batch, settings, fresh=True, held=held)
    compared = 0
    for case, single in enumerate(struck.singles, start=1):
        if not single.fault.means or (name.endswith("first-drawn") and single.part.name not in FIRST_DRAWN):
            continue
        drawn, moved = _drawn(struck.network, single)
        theirs = Context(drawn, ()).points(*_case(struck, drawn, case, settings))
        both = ours.found[:, case] & theirs.found[:, 0]
        if (name, single.label) not in HUNTS:
            assert (ours.found[:, case] == theirs.found[:, 0]).all(), single.label
        for node in range(1, len(struck.network.nodes)):
            if single.fault.means == "open" and struck.network.nodes[node] in ADRIFT.get(single.part.name, ()):
                continue
            off = np.abs(ours.raw_v(node)[:, case] - theirs.raw_v(moved[node])[:, 0])[both]
            assert (off < 1e-3).all(), (single.label, struck.network.nodes[node], off)
            compared += int(both.sum())
    assert compared > 30


def _drawn(build: Network, single: Single) -> tuple[Network, list[int]]:
    """The drawing with the nodes of a short made one, or without the part; and where each node went."""
    moved = list(range(len(build.nodes)))
    gone = single.bridge if single.fault.means == "short" else single.part.name
    parts = [p for p in build.parts if p.name != gone]
    if single.fault.means == "open":
        return replace(build, parts=tuple(parts)), moved
    low, high = sorted(build.part(gone).nodes)
    moved = [low if n == high else n - (n > high) for n in moved]
    parts = [replace(p, nodes=tuple(moved[n] for n in p.nodes)) for p in parts]
    nodes = tuple(n for k, n in enumerate(build.nodes) if k != high)
    return replace(build, nodes=nodes, parts=tuple(parts), at=moved[build.at]), moved


def _case(struck: Struck, drawn: Network, case: int, settings: list[Setting]):  # type: ignore[no-untyped-def]
    """One case of the batch for another drawing, as `Context.points` takes it."""
    names = {p.name for p in drawn.parts}
    alone = struck.batch.take([case])
    batch = replace(alone, values={k: v for k, v in alone.values.items() if k[0] in names})
    held = tuple({k: v[[case]] for k, v in d.items() if k[0] in names} for d in (struck.signals, struck.states))
    return batch, settings, True, None, held
