"""Writes a fitted cell as a file that a build can name, and reads back from it how sure each of its values is.

A value that the logs tell carries about two standard uncertainties as its tolerance, because a build takes tolerances
for limits. What they do not tell is the shelf's, without one, and its origin says so. The whole covariance stands
under ``fit``, as a factor F (its rows are unknowns, the covariance is F F^T), of which prediction draws.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from tideover.cells.fit import RESOLVED, Fitted
from tideover.cells.log import Array
from tideover.cells.model import PER_CASE
from tideover.design.cell_files import CELL, FORM
from tideover.design.cell_model import CellModel
from tideover.files import write_text
from tideover.parts.pack import PACK
from tideover.quantity import show

SIGMAS = 2.0
"""Standard uncertainties in a tolerance."""
KEPT = 0.99
"""Share of the variance that the factor keeps."""
FITTED = tuple(name for name in PER_CASE if name not in ("hysteresis_rate", "self_discharge"))
"""Values of the pack that a fit gives, by Python name."""
UNKNOWN = {"fast_capacitance": "fast_time", "slow_capacitance": "slow_time"}
"""Unknown of the fit that tells a value, where the names differ."""
PRIOR = "not told by the logs"


def origin(fitted: Fitted, name: str) -> str:
    """Where a value comes from: the logs that tell it, or the shelf."""
    unknown = UNKNOWN.get(name, name)
    if unknown not in fitted.gain:
        return f"{fitted.like.title}, typical, unverified"
    told = fitted.told_by.get(unknown, ())
    if told:
        return f"fitted: {', '.join(told)}"
    return f"{PRIOR}, which leave that of {fitted.like.title}: typical, unverified"


def width(fitted: Fitted, name: str) -> float | None:
    """Standard uncertainty of a value, of its logarithm or for the activation energy in J/mol; None where no log tells
    it."""
    unknown = UNKNOWN.get(name, name)
    if unknown not in fitted.gain or fitted.gain[unknown] >= RESOLVED:
        return None
    return fitted.width(unknown)


def written(fitted: Fitted) -> str:
    """The file's text."""
    lines = [f"{CELL}: {FORM}", f"title: {_quoted(fitted.title)}"]
    lines += ["# Tolerances are about two standard uncertainties.", "values:", f"  chemistry: {fitted.chemistry}"]
    own: list[str] = []
    for name in FITTED:
        p = PACK.parameter(name)
        value = float(getattr(fitted.cells, name)[0])
        if name == "hysteresis" and value == 0.0:
            continue
        own.append(name)
        lines.append(f"  {p.key}: {show(value, p.unit, 5)}{_tolerance(name, value, width(fitted, name))}")
    shelf = fitted.like
    for p in PACK.parameters:
        given = shelf.values.get(p.name)
        if p.unit == "word" or given is None or p.name in own or p.name in ("series", "parallel"):
            continue
        lines.append(f"  {p.key}: {given}")
    lines.append("from:")
    lines += [f"  {PACK.parameter(name).key}: {_quoted(origin(fitted, name))}" for name in own]
    lines += _curve(fitted)
    if fitted.notes:
        lines += ["notes:", *(f"  - {_quoted(note)}" for note in fitted.notes)]
    return "\n".join([*lines, *_fit(fitted), ""])


def write(fitted: Fitted, path: Path) -> None:
    """Write the file whole or not at all."""
    write_text(path, written(fitted))


def _tolerance(name: str, value: float, sigma: float | None) -> str:
    if sigma is None:
        return ""
    share = SIGMAS * sigma / value if name == "activation_energy" else SIGMAS * sigma
    if name == "activation_energy" or share < 0.1:
        return f" ±{100 * min(share, 0.99):.2g} %"
    return f" -{100 * -math.expm1(-share):.2g}/+{100 * math.expm1(share):.2g} %"


def _curve(fitted: Fitted) -> list[str]:
    cells = fitted.cells
    lines = ["curve:", "  # charge, open circuit, its standard uncertainty, ohmic and slow resistance over the stated"]
    for k, s in enumerate(cells.knots):
        name = f"volts {s:g}"
        sigma = fitted.width(name) if name in fitted.names else 0.0
        lines.append(
            f"  - [{100 * s:g} %, {cells.volts[0, k]:.4f} V, {1e3 * sigma:.2g} mV, {cells.ohmic[0, k]:.4g}, "
            f"{cells.lag[0, k]:.4g}]"
        )
    return lines


def _fit(fitted: Fitted) -> list[str]:
    lines = ["fit:", "  form: 1", f"  cutoff: {fitted.cutoff:.4g} V", "  logs:"]
    for m, leads in zip(fitted.misfits, fitted.leads):
        lines.append(
            f"    - {{name: {_quoted(m.name)}, digest: {m.digest or 'none'}, rms: {1e3 * m.rms:.3g} mV, "
            f"noise: {1e3 * m.noise:.3g} mV, share: {m.share:.3g}, start: {m.start:.4f}, leads: {1e3 * leads:.3g} mΩ}}"
        )
    c = fitted.cover
    lines.append(
        f"  seen: {{current: {c.current:.4g} A, charge current: {c.charge_current:.4g} A, coldest: {c.coldest:.2f} K, "
        f"warmest: {c.warmest:.2f} K, lowest charge: {c.lowest_charge:.4f}}}"
    )
    lines.append("  factor:")
    for name, row in zip(fitted.names, factor(fitted.covariance)):
        lines.append(f"    {name}: [{', '.join(f'{x:.3g}' for x in row)}]")
    return lines


def factor(covariance: Array) -> Array:
    """F with F F^T near a covariance, of its largest parts, all unknowns weighing alike; shape (m, r)."""
    sigma = np.sqrt(np.diag(covariance))
    scaled = covariance / np.outer(sigma, sigma)
    values, vectors = np.linalg.eigh(scaled)
    values, vectors = values[::-1], vectors[:, ::-1]
    enough = int(np.searchsorted(np.cumsum(values) / values.sum(), KEPT)) + 1
    return np.asarray(sigma[:, None] * vectors[:, :enough] * np.sqrt(np.maximum(values[:enough], 0.0)))


def read_factor(model: CellModel) -> tuple[tuple[str, ...], Array]:
    """Unknowns and factor of a cell that was read from a file; none where it has no fit of ours."""
    rows = model.fit.get("factor")
    if not isinstance(rows, dict):
        return (), np.zeros((0, 0))
    return tuple(rows), np.array([[float(x) for x in row] for row in rows.values()])


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
