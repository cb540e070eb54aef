"""Small networks put together in the test itself, without a build file."""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.network.build import Network, Placed
from tideover.parts import KINDS

ROOM = 298.15


def network(parts: dict[str, tuple[str, dict[str, str], dict[str, Any]]]) -> Network:
    """A network of parts: ``name: (kind, {terminal: node}, {parameter: value in SI or word})``.

    A terminal that is not named is on the return. Parameters that are neither given nor have a default must not be
    needed. The box is large, so that its air stays at the temperature of the room.
    """
    nodes = ["return"]
    for _, ends, _ in parts.values():
        nodes += [n for n in ends.values() if n not in nodes]
    placed = []
    for name, (kind, ends, given) in parts.items():
        at_nodes = tuple(nodes.index(ends.get(t, "return")) for t in KINDS[kind].terminals)
        placed.append(Placed(name, KINDS[kind], at_nodes, _values(kind, given), None))  # type: ignore[arg-type]
    hall = {"width": 3.0, "depth": 3.0, "height": 3.0, "ambient": ROOM}
    placed.append(Placed("box", KINDS["box"], (), _values("box", hall), None))  # type: ignore[arg-type]
    return Network("bench", tuple(nodes), tuple(placed), None, None, len(nodes) - 1)  # type: ignore[arg-type]


def _values(kind: str, given: dict[str, Any]) -> dict[str, float]:
    out = {}
    known = {q.name: q for q in KINDS[kind].parameters}
    assert set(given) <= set(known), set(given) - set(known)
    for name, q in known.items():
        value = given.get(name, q.default)
        if isinstance(value, str):
            value = q.choices.index(value)
        out[name] = float("nan") if value is None else float(value)
    return out


def source(volts: float, ohms: float = 1e-3, **more: Any) -> tuple[str, dict[str, str], dict[str, Any]]:
    """An adapter that is little but a voltage behind a resistance, at the node ``in``."""
    given = {"voltage": volts, "rated_current": 50.0, "current_limit": 90.0, "output_resistance": ohms}
    given |= {"reverse_leakage": 0.0, "overload": "constant current"}
    return "adapter", {"plus": "in"}, given | more


def ohms(a: str, b: str, value: float, **more: Any) -> tuple[str, dict[str, str], dict[str, Any]]:
    """A resistance without temperature coefficient; the micro-ohm of solder is taken off."""
    ends = {t: n for t, n in {"a": a, "b": b}.items() if n != "return"}
    return "resistor", ends, {"resistance": value - 1e-6, "tempco": 0.0} | more


def at(net: Network, name: str) -> int:
    return net.nodes.index(name)


def nearly(a: Any, b: Any) -> float:
    """Largest difference relative to the larger of both and 1."""
    a, b = np.asarray(a, dtype=float), np.asarray(b, dtype=float)
    return float(np.max(np.abs(a - b) / np.maximum(1.0, np.maximum(np.abs(a), np.abs(b))), initial=0.0))
