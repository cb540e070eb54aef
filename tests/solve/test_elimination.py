"""Elimination of the nodes: the written code against a dense solve."""

from __future__ import annotations

import numpy as np
import pytest

from tideover.solve import Condition, elimination, rest
from tideover.solve.system import build

from .workbench import at, network, ohms, source


@pytest.mark.parametrize("seed", range(12))
def test_solution_equals_a_dense_solve(seed):
    """Random meshes of conductances with one-way couplings, as a converter has; 20 cases side by side."""
    rng = np.random.default_rng(seed)
    count, cases = int(rng.integers(2, 14)), 20
    given: list[object] = [None]
    matrix = np.zeros((cases, count, count))
    places: dict[tuple[int, int], list[str | float]] = {}

    def where(values):
        given.append(values)
        return f"given[{len(given) - 1}]"

    def add(r, c, values):
        places.setdefault((r, c), []).append(where(values))
        matrix[:, r, c] += values

    for k in range(count):
        add(k, k, np.exp(rng.uniform(-3, 1, cases)))
    for _ in range(2 * count):
        r, c = rng.integers(count, size=2)
        if r == c:
            continue
        g = np.exp(rng.uniform(-4, 4, cases))
        for a, b, sign in ((r, r, 1), (c, c, 1), (r, c, -1), (c, r, -1)):
            add(a, b, sign * g)
        add(r, c, 0.3 * g * rng.random(cases))
    places[0, 0].append(0.25)
    matrix[:, 0, 0] += 0.25
    currents = [[rng.standard_normal(cases) for _ in range(int(rng.integers(1, 4)))] for _ in range(count)]
    flows: list[list[str | float]] = [[where(i) for i in node] for node in currents]
    v = rng.standard_normal((count, cases))
    given[0] = v
    electrical = count - 1
    written = elimination.write(count, electrical, places, flows)
    out = written.run((), (), None, given)

    left = np.stack([sum(node) for node in currents], axis=1)
    tied = np.arange(count) < electrical
    left += np.where(tied, elimination.INSULATION * v.T, 0.0)
    matrix += np.diag(np.where(tied, elimination.INSULATION, 0.0))
    dense = np.linalg.solve(matrix, -left[..., None])[..., 0]
    found = np.stack(np.broadcast_arrays(*out[:count]), axis=1)
    np.testing.assert_allclose(found, dense, rtol=1e-8, atol=1e-10 * np.abs(dense).max())


def test_order_takes_the_loneliest_node_first():
    chain = [(0, 1), (1, 2), (2, 3)]
    order = elimination.order_of(4, chain)
    assert sorted(order) == [0, 1, 2, 3]
    assert order[0] in (0, 3)


@pytest.mark.parametrize("seed", range(6))
def test_a_random_resistor_network_agrees_with_its_matrix(seed):
    """The whole way: parts, symbols, elimination, rest; against the conductance matrix solved densely."""
    rng = np.random.default_rng(100 + seed)
    names = [f"n{k}" for k in range(int(rng.integers(3, 9)))]
    parts = {"brick": source(12.0, 0.05, current_limit=20.0), "bleed": ohms("in", "return", 20.0)}
    ends = ["in", *names]
    joins = [(ends[k], ends[k + 1]) for k in range(len(ends) - 1)] + [(names[-1], "return")]
    joins += [tuple(rng.choice([*ends, "return"], 2, replace=False)) for _ in range(len(names))]
    values = np.exp(rng.uniform(np.log(5.0), np.log(500.0), len(joins)))
    for k, ((a, b), r) in enumerate(zip(joins, values)):
        parts[f"r{k}"] = ohms(str(a), str(b), float(r))
    net = network(parts)
    found = rest(build(net), Condition())
    size = len(net.nodes)
    g = np.zeros((size, size))
    for (a, b), r in [*zip(joins, values), (("in", "return"), 20.0)]:
        i, j = at(net, str(a)), at(net, str(b))
        g[[i, j], [i, j]] += 1.0 / r
        g[[i, j], [j, i]] -= 1.0 / r
    volts = found.v[0]
    current = g @ volts
    brick = (12.0 - volts[at(net, "in")]) / 0.05
    others = [k for k in range(size) if k not in (0, at(net, "in"))]
    scale = np.abs(g).sum(axis=1) * 12.0
    assert np.all(np.abs(current[others]) < 1e-9 * scale[others])
    assert current[at(net, "in")] == pytest.approx(brick, rel=1e-6)
    assert found.outcome[0] == 0


def test_a_single_node_is_divided():
    written = elimination.write(1, 0, {(0, 0): ["given[1]"]}, [["given[2]"]])
    out = written.run((), (), None, [np.zeros((1, 1)), np.array([2.0]), np.array([4.0])])
    assert out[0] == pytest.approx(-2.0)
