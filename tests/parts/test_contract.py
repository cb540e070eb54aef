"""What every kind of part owes the solver, asked of all of them at random points."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tideover.parts import ALL, Kind
from tideover.parts.base import PLACES
from tideover.parts.charger import LAG
from tideover.quantity import exact, parse, show
from tideover.solve.look import complete, symbolic
from tideover.solve.program import program
from tideover.solve.trace import Written

from .draws import Points, draw

COUNT = 400
NONE: frozenset[str] = frozenset()
ELECTRICAL = tuple(k for k in ALL if k.name != "box")
every_kind = pytest.mark.parametrize("kind", ALL, ids=lambda k: k.name)
every_electrical_kind = pytest.mark.parametrize("kind", ELECTRICAL, ids=lambda k: k.name)
FINAL = {("fuse", "element", "blown")}
"""Discrete states without a way out, by intent."""


def groundings(kind: Kind) -> list[frozenset[str]]:
    """No terminal grounded, and each one alone, and the minus with the one before it."""
    ends = [t for t in kind.terminals if t != "air"]
    return [NONE, *(frozenset({t}) for t in ends), *([frozenset(ends[-2:])] if len(ends) > 2 else [])]


def flow_of(points: Points) -> Any:
    look = points.look()
    return complete(points.kind.equations(look), look)


def wide(points: Points, values: Any) -> list[Any]:
    """Outputs as arrays of the points' shape: a constant output is a plain number."""
    shape = points.air.shape
    return [np.broadcast_to(np.asarray(y, dtype=float), shape) for y in values]


# --- conservation -----------------------------------------------------------------------------


@every_electrical_kind
def test_terminal_currents_sum_to_zero(kind):
    currents = [i for t, i in flow_of(draw(kind, COUNT, 1)).currents.items() if t != "air"]
    largest = np.max([np.abs(i) * np.ones_like(currents[0]) for i in currents], axis=0)
    assert np.all(np.abs(sum(currents)) <= 1e-12 * largest)


def store_slope(points: Points, state: str) -> Any:
    """d(store)/d(state) by the five-point rule, exact for the quadratic and quartic stores that there are."""
    h = 0.1 if points.curve is None else 1e-3

    def at(by: float) -> Any:
        return points.kind.equations(points.moved(f"x:{state}", by * h).look()).store

    return (at(-2) - 8.0 * at(-1) + 8.0 * at(1) - at(2)) / (12.0 * h)


def away_from_knots(points: Points) -> Any:
    """The open-circuit curve changes its polynomial at its knots: no difference may reach across one."""
    fine = np.ones_like(points.air, dtype=bool)
    if points.curve is not None:
        for name in ("charge", "weak_charge"):
            gap = np.abs(points.x[name][..., None] - points.curve.curve.knots).min(axis=-1)
            fine &= gap > 3e-3
    return fine


@every_electrical_kind
def test_power_in_is_heat_and_useful_power_and_rate_of_storing(kind):
    points = draw(kind, COUNT, 2)
    flow = flow_of(points)
    into = [points.v[t] * i for t, i in flow.currents.items() if t != "air"]
    storing = [store_slope(points, s) * flow.rates[s] for s in points.x]
    terms = [*into, flow.supplied, *(-y for y in (flow.heat, flow.delivered, *storing))]
    terms = wide(points, terms)
    largest = np.abs(terms).max(axis=0)
    left = np.abs(sum(terms))
    fine = away_from_knots(points)
    assert fine.mean() > 0.7
    assert np.all(left[fine] <= 1e-9 * largest[fine])


@pytest.mark.parametrize("kind", [k for k in ALL if k.warm], ids=lambda k: k.name)
def test_heat_warms_the_part_or_reaches_the_air_around_it(kind):
    """A part that stands outside the box gives its heat to the room and none to the air in the box."""
    points = draw(kind, COUNT, 3)
    flow = flow_of(points)
    warming = flow.rates["temp"] * points.p["heat_capacity"] * flow.bodies
    outside = points.p["stands"] == PLACES.index("outside") if kind.apart else np.zeros(points.air.shape, dtype=bool)
    assert outside.any() == kind.apart and not outside.all()
    rise = points.temp - points.p.get("room", points.air)
    to_room = np.where(outside, rise / points.p["thermal_resistance"] * flow.bodies, 0.0)
    terms = wide(points, [flow.heat, -warming, flow.currents["air"], -to_room])
    assert np.all(np.abs(sum(terms)) <= 1e-9 * np.abs(terms).max(axis=0))
    assert np.all(flow.currents["air"] * outside == 0.0)


def test_box_gives_the_room_what_its_air_and_wall_do_not_keep():
    """At the temperature of the room nothing flows; a warm box loses, a cold one gains."""
    box = next(k for k in ALL if k.name == "box")
    points = draw(box, COUNT, 4)
    even = points.moved("air", points.p["ambient"] - points.air)
    even = even.moved("x:wall_temp", even.p["ambient"] - even.x["wall_temp"])
    flow = flow_of(even)
    conductance = even.p["width"] * even.p["depth"]
    assert np.all(np.abs(flow.currents["air"]) < 0.1 * conductance + 50.0 * even.p["vent_area"])
    assert np.all(np.abs(flow.rates["wall_temp"]) < 1e-9)
    warm = flow_of(even.moved("air", 10.0).moved("x:wall_temp", 5.0))
    cold = flow_of(even.moved("air", -10.0).moved("x:wall_temp", -5.0))
    assert np.all(warm.currents["air"] > 0.0)
    assert np.all(cold.currents["air"] < 0.0)


# --- the code that runs is the formula that was read ------------------------------------------


def alike(points: Points, written: Any, plain: Any, share: float = 1e-11) -> None:
    """Equal but for the order of rounding, against the largest value each quantity takes nearby."""
    for k, (a, b) in enumerate(zip(wide(points, written), wide(points, plain), strict=True)):
        with np.errstate(invalid="ignore"):
            off = np.abs(a - b) / (np.abs(a) + np.abs(b) + 1e-12)
        assert np.nanmax(off) <= share, (k, float(np.nanmax(off)))


def run(piece: Written, points: Points, grounded: frozenset[str], arguments: list[Any] | None = None) -> Any:
    given = points.arguments(grounded) if arguments is None else arguments
    constants = piece.prepare(points.p)
    by_name = dict(zip(piece.inputs, given, strict=True))
    steady = piece.settle(constants, *(by_name[k] for k in piece.steady_inputs))
    return piece.run(constants, steady, points.curve, *(by_name[k] for k in piece.live_inputs))


@every_kind
def test_written_code_equals_the_plain_equations(kind):
    points = draw(kind, COUNT, 5)
    for grounded in groundings(kind):
        p = program(kind, grounded)
        look = points.look(grounded)
        flow = complete(kind.equations(look), look)
        alike(points, run(p.rates, points, grounded), [flow.rates[s] for s in p.states], 1e-9)
        alike(points, run(p.ledger, points, grounded), [flow.supplied, flow.heat, flow.delivered], 1e-9)
        alike(points, run(p.store, points, grounded), [flow.store])
        shown = {f"{t} [A]": i for t, i in flow.currents.items() if t != "air"} | flow.shown
        assert tuple(shown) == p.shown_names
        alike(points, run(p.shown, points, grounded), list(shown.values()), 1e-9)


@every_kind
def test_written_guards_and_delays_equal_the_plain_ones(kind):
    points = draw(kind, COUNT, 6)
    p = program(kind, NONE)
    look = points.look()
    guards = [arc.when(look) for m in kind.machines for arc in m.arcs if arc.when]
    delays = [arc.after(look) for m in kind.machines for arc in m.arcs if arc.after]
    ends = run(p.ends, points, NONE)
    alike(points, ends[: len(guards)], guards, 1e-9)
    alike(points, ends[len(guards) : len(guards) + 1], [kind.equations(look).collapsed], 1e-9)
    alike(points, run(p.delays, points, NONE), delays)
    assert all(np.all(np.asarray(d) > 0.0) or d.size == 0 for d in map(np.asarray, delays)), "a delay of nothing"


@every_electrical_kind
def test_only_voltage_differences_matter(kind):
    points = draw(kind, COUNT, 12)
    lifted = points
    for t in points.v:
        lifted = lifted.moved(f"v:{t}", 4.0)
    here, there = flow_of(points), flow_of(lifted)
    names = [t for t in here.currents if t != "air"]
    steep = slope_sum(points)
    a = wide(points, [*(here.currents[t] for t in names), *here.rates.values()])
    b = wide(points, [*(there.currents[t] for t in names), *there.rates.values()])
    for one, other, slope in zip(a, b, steep, strict=True):
        assert np.all(np.abs(one - other) <= 1e-12 * np.abs(one) + 1e-13 * slope + 1e-15)


def slope_sum(points: Points) -> list[Any]:
    """How much rounding of the voltages may matter: absolute slopes of currents and rates by voltage, times volts."""
    total: Any = 0.0
    for t in points.v:
        slope, _ = differences(points, f"v:{t}", 1e-3)
        total = total + np.abs(slope) * (np.abs(points.v[t]) + 4.0)
    air = list(flow_of(points).currents).index("air") if points.kind.warm else None
    return [y for k, y in enumerate(total) if k != air]


@every_kind
def test_parameters_folded_into_the_code_change_nothing(kind):
    """Words, and what is 0 or 1 in every part, may be written into the code as numbers.

    So a case whose charger has no input limit is the same alone and beside one that has. (A hysteresis of nothing
    leaves its state at nothing.)
    """
    points = draw(kind, COUNT, 13)
    settled = dict(points.p)
    for k, q in enumerate(kind.parameters):
        if q.unit == "word" and q.key != "chemistry":
            settled[q.name] = np.full_like(points.air, k % len(q.choices))
        elif q.low == 0.0 and q.default == 0.0:
            settled[q.name] = np.zeros_like(points.air)
        elif q.default == 1.0:
            settled[q.name] = np.ones_like(points.air)
    folded = frozenset((n, float(v[0, 0])) for n, v in settled.items() if np.all(v == v[0, 0]))
    x = {s: 0.0 * y if np.all(settled.get(s, 1.0) == 0.0) else y for s, y in points.x.items()}
    points = Points(**{**points.__dict__, "p": settled, "x": x})
    plain, folding = program(kind, NONE), program(kind, NONE, folded)
    assert folding.states == plain.states
    for piece in ("rates", "ledger", "store", "shown"):
        alike(points, run(getattr(folding, piece), points, NONE), run(getattr(plain, piece), points, NONE), 1e-9)


@pytest.mark.parametrize("kind", [k for k in ALL if k.like], ids=lambda k: k.name)
def test_a_kind_that_behaves_as_a_simpler_one_has_its_equations(kind):
    model, parameters = kind.like
    points = draw(kind, COUNT, 14)
    same = Points(**{**points.__dict__, "kind": model, "p": parameters(points.look().p)})
    own, its = flow_of(points), flow_of(same)
    assert list(own.currents) == list(its.currents)
    alike(points, list(its.currents.values()), list(own.currents.values()), 1e-9)
    alike(points, list(its.rates.values()), list(own.rates.values()), 1e-6)
    alike(points, [its.heat], [own.heat], 1e-9)


# --- derivatives ------------------------------------------------------------------------------


def seen_through(kind: Kind) -> tuple[Any, Any]:
    """Symbols of a kind, with every quantity written out in full: a link is a help of the elimination only."""
    g, look = symbolic(kind, NONE, {})
    look.link = lambda value: value  # type: ignore[method-assign]
    return g, look


def differences(points: Points, name: str, h: float) -> Any:
    """Central differences of currents and rates by one input; shape (outputs, parts, points)."""

    def at(by: float) -> Any:
        flow = flow_of(points.moved(name, by))
        return np.array(wide(points, [*flow.currents.values(), *flow.rates.values()]))

    up, down = at(h), at(-h)
    return (up - down) / (2.0 * h), np.maximum(np.abs(up), np.abs(down))


def symbol_of(look: Any, name: str) -> Any:
    which, key = name.split(":")
    return getattr(look, which)[key]


@every_kind
def test_exact_derivatives_agree_with_differences(kind):
    """Where two step lengths of the difference agree there is no bend within reach, and the slope must agree too."""
    points = draw(kind, COUNT, 7)
    g, look = seen_through(kind)
    flow = complete(kind.equations(look), look)
    outputs = [*flow.currents.values(), *flow.rates.values()]
    names = points.inputs()
    symbols = [look.air if n == "air" else look.temp if n == "temp" else symbol_of(look, n) for n in names]
    inputs = program(kind, NONE).rates.inputs
    for name, symbol in zip(names, symbols, strict=True):
        piece = Written([g.slope(y, symbol) for y in outputs], inputs, f"{kind.name} slopes")
        slopes = np.array(wide(points, run(piece, points, NONE)))
        h = 1e-3 if name in ("air", "temp", "x:wall_temp") else 3e-6
        coarse, size = differences(points, name, h)
        fine, _ = differences(points, name, 0.5 * h)
        rounding = 8.0 * np.finfo(float).eps * size / h
        scale = np.maximum(np.abs(slopes), np.abs(fine))
        bent = np.abs(coarse - fine) > 1e-6 * scale + 4.0 * rounding
        assert bent.mean() < 0.12, (name, float(bent.mean()))
        off = np.abs(slopes - fine) - (1e-5 * scale + 16.0 * rounding + 1e-12)
        assert np.all(off[~bent] <= 0.0), (name, float(off[~bent].max()))
        assert (scale > 100.0 * rounding).any() or not scale.any(), f"{name}: nothing but rounding was compared"


# --- elimination of a part's own states -------------------------------------------------------


def linearised(kind: Kind, points: Points) -> tuple[Any, ...]:
    """Currents, rates and all their exact slopes by voltages (with air) and states: the last axes (row, column).

    A loose state keeps what slope it has at a glance: what reaches it round by a link is left out with the rest.
    """
    seen = seen_slopes(kind, points, seen_through(kind))
    at_a_glance = seen_slopes(kind, points, symbolic(kind, NONE, {}))
    loose = is_loose(kind)
    fx = np.where(loose[:, None], at_a_glance[-1], seen[-1])
    return (*seen[:-1], fx)


def is_loose(kind: Kind) -> Any:
    declared = {s.name: s.loose for s in kind.states}
    return np.array([declared.get(s, kind.heat_steers is None) for s in program(kind, NONE).states], dtype=bool)


def seen_slopes(kind: Kind, points: Points, symbols: tuple[Any, Any]) -> tuple[Any, ...]:
    g, look = symbols
    flow = complete(kind.equations(look), look)
    p = program(kind, NONE)
    v = [look.air if t == "air" else look.v[t] for t in p.terminals]
    x = [look.temp if s == "temp" else look.x[s] for s in p.states]
    i = [flow.currents[t] for t in p.terminals]
    f = [flow.rates[s] for s in p.states]

    def values(rows: list[Any]) -> Any:
        out = wide(points, run(Written(rows, p.rates.inputs, "linearised"), points, NONE))
        return np.array(out).reshape(len(rows), *points.air.shape)

    def slopes(rows: list[Any], by: list[Any]) -> Any:
        flat = values([g.slope(y, s) for y in rows for s in by])
        return np.moveaxis(flat.reshape(len(rows), len(by), *points.air.shape), (0, 1), (-2, -1))

    front = (np.moveaxis(values(i), 0, -1), np.moveaxis(values(f), 0, -1))
    return (*front, slopes(i, v), slopes(i, x), slopes(f, v), slopes(f, x))


def size_of(values: Any, axis: Any) -> Any:
    return np.abs(values).max(axis=axis, keepdims=True, initial=0.0)


def per_class(values: Any, air: Any) -> Any:
    """Largest over the electrical terminals for each of those, and the air's own: amperes and watts kept apart."""
    electrical = np.where(air, 0.0, values).max(axis=-1, keepdims=True)
    return np.where(air, values, electrical)


def kept(kind: Kind) -> tuple[Any, Any, Any, Any]:
    """Which couplings the stage promises to keep: current by voltage, current by state, rate by voltage, by state.

    A loose state keeps its own slope alone; a temperature (or a wall) meets the air but not the voltages, unless
    heat steers the part.
    """
    p = program(kind, NONE)
    declared = {s.name: s for s in kind.states}
    loose = is_loose(kind)
    hot = np.array([s not in declared or declared[s].unit == "K" for s in p.states], dtype=bool)
    air = np.array([t == "air" for t in p.terminals])
    return (
        air[:, None] == air[None, :],
        np.where(air[:, None], hot[None, :], ~loose[None, :]),
        np.where(air[None, :], hot[:, None], ~loose[:, None]),
        np.eye(len(loose), dtype=bool) | (~loose[:, None] & ~loose[None, :]),
    )


@every_kind
@pytest.mark.parametrize("moves", [0.0, 1.0])
def test_stage_solves_the_linearised_part_as_a_dense_solve_does(kind, moves):
    """Also shows that no pivot of the written elimination is near zero, for steps from nanoseconds to a day."""
    points = draw(kind, COUNT, 8)
    p = program(kind, NONE)
    rng = np.random.default_rng(9)
    shape = points.air.shape
    h = np.exp(rng.uniform(np.log(1e-9), np.log(1e5), shape))
    i, f, iv, ix, fv, fx = linearised(kind, points)
    slow = {s.name for s in kind.states if s.slow} | {"temp"}
    held = np.array([moves if s in slow else 1.0 for s in p.states])
    f, fv, fx = f * held, fv * held[:, None], fx * held[:, None]
    keep_iv, keep_ix, keep_fv, keep_fx = kept(kind)
    x = [points.temp if s == "temp" else points.x[s] for s in p.states]
    n = len(x)
    x = np.moveaxis(np.array(x).reshape(n, *shape), 0, -1)
    base = x + 0.1 * rng.standard_normal(x.shape)
    a = np.eye(n) - h[..., None, None] * fx * keep_fx
    right = base + h[..., None] * f - x
    wide_right = h[..., None, None] * fv * keep_fv
    own = np.linalg.solve(a, right[..., None])[..., 0] if n else right
    follow = np.linalg.solve(a, wide_right) if n else wide_right
    effective = i + ((ix * keep_ix) @ own[..., None])[..., 0]
    matrix = iv * keep_iv + (ix * keep_ix) @ follow

    given = [*points.arguments(), *np.moveaxis(base, -1, 0), h, np.full(shape, moves)]
    out = np.array(wide(points, run(p.stage, points, NONE, given)))
    nt, ne = len(p.terminals), len(p.entries)
    written_matrix = np.zeros_like(matrix)
    for k, (r, c) in enumerate(p.entries):
        written_matrix[..., r, c] = out[nt + k]
    written_follow = np.zeros_like(follow)
    for k, (r, c) in enumerate(p.follows):
        written_follow[..., r, c] = out[nt + ne + n + k]
    pairs = [
        (np.moveaxis(out[:nt], 0, -1), effective, 0.0),
        (written_matrix, matrix, 0.0),
        (np.moveaxis(out[nt + ne : nt + ne + n], 0, -1), own, np.abs(x) + np.abs(own)),
        (written_follow, follow, 1.0 + size_of(follow, -1)),
    ]
    stiff = np.linalg.cond(a) if n else np.ones(shape)
    air = np.array([t == "air" for t in p.terminals])
    pairs[0] = (*pairs[0][:2], per_class(np.abs(i) + np.abs(effective), air))
    pairs[1] = (*pairs[1][:2], per_class(size_of(iv, -1)[..., 0] + size_of(matrix, -1)[..., 0], air)[..., None])
    for written, dense, size in pairs:
        share = np.abs(written - dense) / (size + 1e-12)
        allowed = 1e-9 + 1e-14 * stiff.reshape(*shape, *[1] * (share.ndim - 2))
        assert np.all(share <= allowed), float((share / allowed).max())


# --- monotone where it must be ----------------------------------------------------------------

MONOTONE = {
    **{k: ("a", {}) for k in ("cable", "wire", "strip", "track", "connector", "resistor", "shunt", "fuse")},
    "switch": ("a", {"closed": 1.0}),
    "diode": ("anode", {}),
    "ideal diode": ("anode", {"channel": ("on", "turning off", "off", "turning on")}),
    "capacitor": ("plus", {}),
    "adapter": ("plus", {}),
}


@pytest.mark.parametrize("name", MONOTONE)
def test_current_into_a_terminal_never_falls_when_its_voltage_rises(name):
    kind = next(k for k in ALL if k.name == name)
    terminal, fixed = MONOTONE[name]
    points = draw(kind, COUNT, 10)
    signals = {s: np.full_like(v, fixed[s]) if s in fixed else v for s, v in points.s.items()}
    points = Points(**{**points.__dict__, "s": signals})
    before = kind.equations(points.look()).currents[terminal]
    for by in (1e-4, 1e-2, 1.0, 10.0):
        after = kind.equations(points.moved(f"v:{terminal}", by).look()).currents[terminal]
        assert np.all(after >= before - 1e-12 * np.abs(before))
        before = after
        points = points.moved(f"v:{terminal}", by)


# --- discrete states --------------------------------------------------------------------------

MACHINES = [(kind, m) for kind in ALL for m in kind.machines]
every_machine = pytest.mark.parametrize(("kind", "m"), MACHINES, ids=[f"{k.name}: {m.name}" for k, m in MACHINES])


def reached(m: Any, first: str) -> set[str]:
    found, queue = {first}, [first]
    while queue:
        here = queue.pop()
        new = {a.target for a in m.arcs if a.source == here} - found
        found |= new
        queue += new
    return found


@every_machine
def test_arcs_join_known_states_by_exactly_one_reason(kind, m):
    for arc in m.arcs:
        assert arc.source in m.states
        assert arc.target in m.states
        assert arc.source != arc.target
        assert (arc.when is None) != (arc.after is None), (arc.source, arc.target)
        assert not (arc.settles and arc.after), "a timed arc is followed at once anyway"
    assert len(set(m.states)) == len(m.states)
    for state, x, _ in m.entry:
        assert state in m.states
        assert x in [s.name for s in kind.states]


@every_machine
def test_every_state_is_entered_and_left(kind, m):
    assert reached(m, m.states[0]) == set(m.states)
    for state in m.states:
        if (kind.name, m.name, state) in FINAL:
            assert reached(m, state) == {state}
        else:
            assert m.states[0] in reached(m, state), f"{state} never leads back to {m.states[0]}"


@every_machine
def test_no_state_has_two_timers(kind, m):
    """A machine keeps one due time: a second timed arc out of a state would be lost."""
    timed = [a.source for a in m.arcs if a.after]
    assert len(set(timed)) == len(timed)


# --- declarations -----------------------------------------------------------------------------


@every_kind
def test_parameters_are_declared_soundly(kind):
    names = [p.name for p in kind.parameters]
    assert len(set(names)) == len(names)
    assert not {s.name for s in kind.states} & {"temp"}
    for p in kind.parameters:
        assert p.about, p.key
        assert p.source, p.key
        assert p.low <= p.high, p.key
        if p.unit == "word":
            assert p.choices, p.key
            assert p.default is None or p.default in p.choices, p.key
        elif p.default is not None:
            assert p.low <= p.default <= p.high, p.key


@every_kind
def test_units_are_known_to_the_reader_of_quantities(kind):
    for p in kind.parameters:
        if p.unit != "word":
            text = show(p.high, p.unit, 6)
            assert parse(text, p.unit).nominal == pytest.approx(p.high, rel=1e-4), p.key
            assert exact(p.low, p.unit).nominal == p.low


@every_kind
def test_terminals_states_and_signals_have_one_name_each(kind):
    flow = flow_of(draw(kind, 3, 11))
    assert set(flow.currents) == set(kind.terminals) | ({"air"} if kind.warm else set())
    assert set(flow.rates) == {s.name for s in kind.states} | ({"temp"} if kind.warm else set())
    assert len(set(kind.terminals)) == len(kind.terminals)
    assert kind.through is None or set(kind.through) <= set(kind.terminals)
    assert kind.optional <= set(kind.terminals)
    for s in kind.states:
        assert s.scale > 0.0
        assert not s.guess or s.guess == "supply" or kind.parameter(s.guess)
    for key in flow.shown:
        assert key.endswith("]"), f"{key} has no unit"


# --- what is blocked is blocked exactly -------------------------------------------------------


def in_states(kind: Kind, machine: str, states: tuple[str, ...], seed: int) -> Points:
    points = draw(kind, COUNT, seed)
    table = next(m for m in kind.machines if m.name == machine).states
    code = np.random.default_rng(seed).choice([table.index(s) for s in states], points.air.shape)
    return Points(**{**points.__dict__, "m": {**points.m, machine: code}})


def kind_of(name: str) -> Kind:
    return next(k for k in ALL if k.name == name)


def test_ideal_diode_under_servo_control_never_conducts_backwards():
    points = in_states(kind_of("ideal diode"), "channel", ("on", "turning off"), 20)
    points.p["control"][:] = 0.0
    u = points.v["anode"] - points.v["cathode"]
    reverse = u < -0.1 * points.p["regulation_voltage"]
    assert reverse.sum() > 50
    body = 1e-9 * u
    np.testing.assert_allclose(flow_of(points).shown["current [A]"][reverse], body[reverse], rtol=1e-9)


def test_charger_that_is_off_asks_for_nothing_and_lets_nothing_back():
    points = in_states(kind_of("charger"), "phase", ("off",), 21)
    points.x["current"][:] = 0.0
    flow = flow_of(points)
    assert np.all(flow.shown["charge current [A]"] == 0.0)
    assert np.all(flow.rates["current"] == 0.0)


def test_charger_without_headroom_comes_to_rest_at_no_current():
    kind = kind_of("charger")
    points = in_states(kind, "phase", ("precharge", "charging", "tapering", "full"), 22)
    points.p["type"][:] = np.where(points.p["type"] == 2.0, 0.0, points.p["type"])
    points.x["current"][:] = 0.0
    v_in = points.v["input"] - points.v["minus"]
    points.x["output"] = np.maximum(points.x["output"], v_in)
    flow = flow_of(points)
    assert np.all(flow.shown["charge current [A]"] == 0.0)
    tight = points.p["dropout"] / points.p["pass_resistance"] > 0.03 * points.p["charge_current"]
    assert tight.mean() > 0.5
    assert np.all(flow.rates["current"][tight] == 0.0)

    width = 0.03 * points.p["charge_current"]  # of the rounded corner; now half of it short of headroom
    points.x["output"] = v_in - points.p["dropout"] + 0.5 * width * points.p["pass_resistance"]
    asked = flow_of(points).rates["current"] * LAG
    assert np.all(asked <= width / 16.0 * (1.0 + 1e-6))
    assert np.any(asked > width / 16.0 * (1.0 - 1e-6))


@pytest.mark.parametrize("name", ["adapter", "boost", "buck", "buck-boost", "linear regulator", "charger"])
def test_a_source_never_feeds_less_than_nothing(name):
    """A source that is live and overfed from outside gives no current; it takes none beyond its stated leakage."""
    kind = kind_of(name)
    points = draw(kind, COUNT, 23)
    shown = flow_of(points).shown
    if name == "adapter":
        assert np.all(shown["regulator current [A]"] >= -1e-12)
    elif name == "charger":
        assert np.all(np.minimum(shown["charge current [A]"], 0.0) >= np.minimum(points.x["current"], 0.0) - 1e-12)
    else:
        assert np.all(shown["reach [A]"] >= 0.0), float(shown["reach [A]"].min())
