"""One kind of cell from its logs: the cell that explains them best, and how sure that is.

Regularised least squares by Gauss and Newton: what is likely beforehand (a cell of the shelf, see `unknowns`) counts
beside the voltages of all logs, every unknown's effect being computed through the pack's own equations (`run`), all
unknowns side by side as cases of one batch. What is left between model and log is no white noise but the model's own
error, which goes on from row to row; so each log counts as no more rows than its residuals are worth, and the
uncertainty that comes out is that of such rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tideover.cells import fixture, poor, thermal
from tideover.cells.log import Array, Log
from tideover.cells.model import chemistry, nearest_item, numbers, of_chemistry, of_item
from tideover.cells.run import CellCases, Rows, simulate
from tideover.cells.thin import thinned
from tideover.cells.unknowns import FULL_WIDTH, KNOTS, Prior, moved, prior_of, typical_cell
from tideover.design.cell_model import CellModel
from tideover.laws.cells import Curve
from tideover.laws.constants import TEMP_25
from tideover.quantity import show

NOISE = 0.008
"""First guess of the residuals, for one cell. [V]"""
FINEST = 3e-4
"""Residuals are never taken for less. [V]"""
ROUNDS, ITERATIONS = 4, 6
"""Estimates of the residuals, and steps of Gauss and Newton under each."""
ENOUGH = 0.02
"""Largest step, in standard deviations of what was likely beforehand, that counts as none."""
FARTHEST = 3.0
"""Largest step, in the same terms: beyond it the model is no straight line any more."""
OUTLIER = 4.0
"""Residual, in standard deviations, from which a row loses weight."""
NEAR_FULL = 0.12
"""A cell whose first voltage, less the drop of its current, is this near its highest was full: a full cell rests up to
0.1 V below the charger's voltage. [V]"""
RESTED = 0.010
"""How well the voltage at which a log begins, after the rest before it, is that of an open circuit: cells go on
settling by some 10 mV for hours (typical, unverified). [V]"""
MOST_WORTH = 60.0
"""Independent rows that one log of several counts as at most. The model's own error is alike from pulse to pulse, which
a correlation along the log does not show: without this, a test of many short pulses would decide how a run of hours
ends. Judgement."""
RESOLVED = 0.5
"""Share of its width beforehand below which an unknown counts as told by the logs."""


@dataclass(frozen=True)
class Misfit:
    """How well one log is explained.

    Attributes
    ----------
    name, digest : str
        Of the log.
    rows, worth : float
        Rows looked at, and how many independent ones they are worth. [-]
    rms, worst : float
        Residual voltage: root mean square, weighting time evenly, and the largest. [V]
    noise, share : float
        Standard deviation of the residuals where the voltage is flat [V], and what goes on top of it: an error of
        charge, as a share of the capacity. [-]
    start : float
        State of charge found at its first row. [-]
    """

    name: str
    digest: str
    rows: int
    worth: float
    rms: float
    worst: float
    noise: float
    share: float
    start: float


@dataclass(frozen=True)
class Cover:
    """What the logs have seen: beyond it a prediction extrapolates.

    Attributes
    ----------
    current, charge_current : float
        Largest on discharge and on charge, held for some time. [A]
    coldest, warmest : float
        Of the cell. [K]
    lowest_charge : float
        State of charge. [-]
    """

    current: float
    charge_current: float
    coldest: float
    warmest: float
    lowest_charge: float


@dataclass(frozen=True, eq=False)
class Fitted:
    """A kind of cell as its logs tell it.

    Attributes
    ----------
    title, chemistry : str
        What it is called, and its chemistry.
    like : CellModel
        The cell of the shelf that it was compared with.
    cells : CellCases
        The best cell, one case.
    names : tuple of m str
        Unknowns, as `unknowns.moved` takes them.
    covariance : array, shape (m, m)
        Of the deviations from the best cell.
    gain : dict of str to float
        By unknown: uncertainty that is left of what there was beforehand. [-]
    told_by : dict of str to tuple of str
        By unknown: logs that tell it; empty where none does.
    misfits : tuple of Misfit
        One for each log.
    cover : Cover
        What the logs have seen.
    cutoff : float
        Voltage of the empty unit at rest. [V]
    notes : tuple of str
        What a reader should know.
    leads : tuple of float
        Resistance outside the cell, of each log. [ohm]
    """

    title: str
    chemistry: str
    like: CellModel
    cells: CellCases
    names: tuple[str, ...]
    covariance: Array
    gain: dict[str, float]
    told_by: dict[str, tuple[str, ...]]
    misfits: tuple[Misfit, ...]
    cover: Cover
    cutoff: float
    notes: tuple[str, ...]
    leads: tuple[float, ...]

    def width(self, name: str) -> float:
        """Standard uncertainty of an unknown: of a factor's logarithm, of volts, of J/mol."""
        k = self.names.index(name)
        return float(np.sqrt(self.covariance[k, k]))


@dataclass
class _Record:
    """One log under way: its rows, and what is taken of its residuals."""

    log: Log
    rows: Rows
    start: float
    start_width: float
    leads: float
    noise: float
    share: float = 0.0
    worth: float = 0.2
    spans: Array | None = None


def fit(
    logs: Sequence[Log],
    word: str | None = None,
    like: str | None = None,
    title: str = "",
    leads: tuple[float, float] | None = None,
    nominal: float | None = None,
    cutoff: float | None = None,
    starts: Mapping[str, float] | None = None,
    ambient: float = TEMP_25,
    start_width: float = FULL_WIDTH,
) -> Fitted:
    """Fit one kind of cell to its logs.

    Parameters
    ----------
    logs : sequence of Log
        Of one cell, or of cells taken as alike. At least one discharges it. [-]
    word : str, optional
        Chemistry; that of `like` counts otherwise, else NMC. [-]
    like : str, optional
        Cell of the shelf to compare with; otherwise the nearest in size. [-]
    title : str
        What the cell is called. [-]
    leads : (float, float), optional
        Resistance between cell and logger that is in the voltages, with its standard uncertainty; where nobody says, it
        is recognised when it is far more than such a cell can have, see `fixture`. [ohm]
    nominal : float, optional
        Capacity to compare with the shelf, where the logs do not go from full to empty. [C]
    cutoff : float, optional
        Voltage of the empty cell at rest; otherwise the lowest that the logs reach at a small current. [V]
    starts : mapping of str to float, optional
        State of charge at the first row of a log, by its name; otherwise full where its voltage says so. [-]
    ambient : float
        Counts for logs without temperatures. [K]
    start_width : float
        Standard uncertainty of a full charge. [-]

    Returns
    -------
    fitted : Fitted

    Raises
    ------
    ValueError
        When the logs cannot tell a cell: none discharges it, or there is none. LookupError for a cell that is not on
        the shelf.
    """
    logs = [log for log in logs if len(log.t) > 2]
    if not logs or max(float(np.ptp(log.charge)) for log in logs) <= 0.0:
        raise ValueError("None of the logs moves any charge.")
    most = max(float(np.ptp(log.charge)) for log in logs)
    shelf = of_item(nearest_item(word or "NMC", nominal or most, like))
    cells_in = round(numbers(shelf)["cells_per_unit"])
    low = cutoff if cutoff is not None else _lowest(logs, shelf)
    base = typical_cell(shelf, nominal or most, low)
    outside_cell = None
    if leads is None:
        others = [typical_cell(other, nominal or most, low) for other in of_chemistry(chemistry(shelf))]
        alike = [other for other in others if other.cells_per_unit == base.cells_per_unit]
        outside_cell = fixture.recognised(logs, base, alike)
    if outside_cell is not None:
        leads = (outside_cell.leads, outside_cell.spread)
    records = _records(logs, base, numbers(shelf), starts or {}, leads, ambient, start_width)
    full = [r for r in records if r.start_width <= start_width]
    if 0 < len(full) < len(records):
        _read_starts(records, _first_look(full, base, shelf, leads), start_width)
    prior = _prior(records, base, shelf, leads)
    best, covariance, information = _solve(records, base, prior)
    cells = moved(base, prior.names, best[None])
    runs = [_follow(r, cells, prior, best[None], k) for k, r in enumerate(records)]
    misfits = tuple(_misfit(r, run, prior, best) for r, run in zip(records, runs))
    warm, warm_widths, warm_gain = thermal.fit(cells, [r.rows for r in records], [r.start for r in records])
    heat_path: dict[str, Any] = {name: np.array([value]) for name, value in warm.items()}
    cells = replace(cells, **heat_path)
    names, cover = _joined(prior, covariance, warm_widths)
    gain = {n: float(g) for n, g in zip(prior.names, np.sqrt(np.diag(covariance)) / prior.widths)} | warm_gain
    told = {name: _told_by(k, information, gain[name], logs) for k, name in enumerate(prior.names)}
    told |= {
        n: tuple(log.name for log in logs if log.temp is not None) if warm_gain[n] < RESOLVED else () for n in warm
    }
    outside = tuple(
        (leads[0] if leads else 0.0) + (best[prior.names.index(f"leads {log.name}")] if leads else 0.0) for log in logs
    )
    seen = _cover(records, runs, cells)
    notes = _notes(logs, gain, seen, shelf, records, cells_in)
    if outside_cell is not None:
        notes = (outside_cell.said(shelf.title), *notes)
    notes = (*poor.poorly(misfits, cells_in, cells_in * float(np.ptp(cells.volts[0]))), *notes)
    return Fitted(
        title or shelf.title,
        chemistry(shelf),
        shelf,
        cells,
        names,
        cover,
        gain,
        told,
        misfits,
        seen,
        low,
        notes,
        outside,
    )


# --- before the fit -------------------------------------------------------------------------------


def _lowest(logs: Sequence[Log], shelf: CellModel) -> float:
    """Voltage of the empty cell: the lowest that a small current, or the smallest there is, reaches. [V]"""
    own = numbers(shelf)
    found = []
    for log in logs:
        under = log.i > 0.02 * max(float(log.i.max()), 1e-9)
        if not under.any():
            continue
        mean = float(np.median(log.i[under]))
        calm = under & (log.i <= 1.3 * mean)
        found.append((mean, float(np.min(log.v[calm]))))
    if not found:
        return own["lowest_voltage"]
    slowest = min(mean for mean, _ in found)
    reached = min(v for mean, v in found if mean <= 2.0 * slowest)
    highest = own["highest_voltage"]
    return round(min(max(reached, 0.3 * highest), 0.9 * highest), 2)


def _records(
    logs: Sequence[Log],
    base: CellCases,
    own: Mapping[str, float],
    starts: Mapping[str, float],
    leads: tuple[float, float] | None,
    ambient: float,
    width: float,
) -> list[_Record]:
    """Rows of every log, and what is known of its first state of charge."""
    out = []
    scale = base.cells_per_unit
    for log in logs:
        rows = Rows.of(log, thinned(log, cells=scale), ambient)
        outside = leads[0] if leads else 0.0
        open_circuit = float(log.v[0] + log.i[0] * (base.resistance[0] + outside))
        if log.name in starts:
            start, spread = float(starts[log.name]), width
        elif open_circuit > own["highest_voltage"] - NEAR_FULL * scale:
            start, spread = 1.0, width
        else:
            curve = Curve.through(KNOTS, base.volts)
            grid = np.linspace(-0.05, 1.0, 421)
            volts = scale * np.asarray(curve.value(grid[:, None]))[:, 0]
            start, spread = float(grid[np.argmin(np.abs(volts - open_circuit))]), 0.10
        spans = np.gradient(rows.t)
        out.append(_Record(log, rows, start, spread, outside, NOISE * scale, spans=spans / spans.sum()))
    return out


def _prior(
    records: Sequence[_Record], base: CellCases, shelf: CellModel, leads: tuple[float, float] | None
) -> Prior:
    """Unknowns of the cell and of these logs."""
    return prior_of(
        chemistry(shelf),
        bool(base.hysteresis[0]),
        [r.log.name for r in records],
        np.array([r.start_width for r in records]),
        None if leads is None else np.full(len(records), leads[1]),
    )


def _first_look(
    full: Sequence[_Record], base: CellCases, shelf: CellModel, leads: tuple[float, float] | None
) -> CellCases:
    """The cell as the logs alone tell it whose first charge is known."""
    own = [replace(r) for r in full]
    prior = _prior(own, base, shelf, leads)
    best, _, _ = _solve(own, base, prior)
    return moved(base, prior.names, best[None])


def _read_starts(records: Sequence[_Record], cells: CellCases, width: float) -> None:
    """Charge at which the other logs begin, off the curve that is known by now, where they begin at rest.

    Without this a cell that resists less than that of the shelf is taken for a fuller one.
    """
    grid = np.linspace(-0.05, 1.0, 2101)
    volts = cells.at(grid[:, None])[0][:, 0]
    slope = np.gradient(volts, grid)
    for r in records:
        if r.start_width <= width or abs(r.log.i[0]) > 0.02 * np.abs(r.log.i).max():
            continue
        k = int(np.argmin(np.abs(volts - r.log.v[0])))
        near = RESTED * cells.cells_per_unit / max(float(slope[k]), 1e-9)
        r.start, r.start_width = float(grid[k]), float(np.clip(near, width, r.start_width))


# --- the fit itself -------------------------------------------------------------------------------


def _follow(record: _Record, cells: CellCases, prior: Prior, by: Array, k: int) -> Array:
    """Voltages at the rows of one log, shape (cases, n)."""
    column = {name: j for j, name in enumerate(prior.names)}
    outside = np.full(cells.count, record.leads)
    place = column.get(f"leads {record.log.name}")
    if place is not None:
        outside = outside + by[:, place]
    start = record.start + by[:, column[f"start {record.log.name}"]]
    return simulate(replace(cells, leads=outside), record.rows, start).v


def _solve(records: list[_Record], base: CellCases, prior: Prior) -> tuple[Array, Array, list[Array]]:
    """Best deviations, their covariance, and what each log tells of each unknown (its diagonal of information)."""
    m = len(prior.names)
    root = np.linalg.cholesky(prior.covariance)
    widths = prior.widths
    small = 1e-3 * np.where(widths > 0.0, widths, 1.0)
    z = np.zeros(m)  # deviations in units in which the prior is standard normal

    def residuals(by: Array) -> list[Array]:
        cells = moved(base, prior.names, by)
        return [r.rows.v - _follow(r, cells, prior, by, k) for k, r in enumerate(records)]

    def cost(left: Sequence[Array], z: Array, weights: Sequence[Array]) -> float:
        return float(z @ z + sum(np.sum(w * e * e) for w, e in zip(weights, left)))

    hessian, information = np.eye(m), [np.zeros(m) for _ in records]
    for number in range(ROUNDS):
        for _ in range(ITERATIONS if number else 2 * ITERATIONS):
            by = root @ z
            all_ = residuals(np.vstack([by, by + np.diag(small)]))
            left = [e[0] for e in all_]
            slopes = [-((e[1:] - e[0]) / small[:, None]) for e in all_]  # of the model, (m, n)
            weights = [_weights(r, e, s, prior) for r, e, s in zip(records, left, slopes)]
            whitened = [root.T @ s for s in slopes]
            hessian = np.eye(m) + sum((a * w) @ a.T for a, w in zip(whitened, weights))
            downhill = sum(a @ (w * e) for a, w, e in zip(whitened, weights, left)) - z
            information = [np.sum(s * s * w, axis=1) * widths**2 for s, w in zip(slopes, weights)]
            step = np.linalg.solve(hessian, downhill)
            step *= min(1.0, FARTHEST / max(float(np.abs(step).max()), 1e-9))
            tries = np.array([1.0, 0.5, 0.2, 0.05])
            after = residuals((root @ (z[:, None] + step[:, None] * tries)).T)
            costs = [cost([e[k] for e in after], z + tries[k] * step, weights) for k in range(len(tries))]
            best = int(np.argmin(costs))
            if costs[best] >= cost(left, z, weights):
                break
            z = z + tries[best] * step
            if np.abs(tries[best] * step).max() < ENOUGH:
                break
        if number < ROUNDS - 1:
            by = root @ z
            all_ = residuals(np.vstack([by, by + np.diag(small)]))
            free = float(m - np.trace(np.linalg.inv(hessian)))
            _judge(records, [e[0] for e in all_], [-((e[1:] - e[0]) / small[:, None]) for e in all_], prior, free)
    return root @ z, root @ np.linalg.inv(hessian) @ root.T, information


def _weights(record: _Record, left: Array, slopes: Array, prior: Prior) -> Array:
    """Of every row: the inverse of its variance, less where it is an outlier, and less as rows repeat each other."""
    variance = _variance(record, slopes, prior)
    far = np.abs(left) / np.sqrt(variance) / OUTLIER
    return np.asarray(record.worth / variance / np.maximum(far, 1.0) ** 1.5)


def _variance(record: _Record, slopes: Array, prior: Prior) -> Array:
    by_charge = slopes[prior.names.index(f"start {record.log.name}")]
    return np.asarray(record.noise**2 + (record.share * by_charge) ** 2)


def _judge(records: list[_Record], left: list[Array], slopes: list[Array], prior: Prior, free: float) -> None:
    """Estimate of every log how large its residuals are, and how many independent rows they are worth."""
    worth = sum(len(e) * r.worth for r, e in zip(records, left))
    lost = min(free / max(worth, 1.0), 0.5)  # share of the independent rows that the unknowns have used up
    for record, e, s in zip(records, left, slopes):
        by_charge = s[prior.names.index(f"start {record.log.name}")]
        best = (np.inf, 0.0, record.noise)
        for ratio in (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8):
            grown = 1.0 + (ratio * by_charge) ** 2
            clipped = np.minimum(e * e / grown, 16.0 * np.median(e * e / grown) / 0.455 + 1e-12)
            sigma2 = max(float(np.mean(clipped)), FINEST**2)
            badness = len(e) * np.log(sigma2) + float(np.sum(np.log(grown)))
            if badness < best[0] - 4.0:
                best = (badness, ratio, np.sqrt(sigma2))
        record.noise = best[2] / np.sqrt(1.0 - lost)
        record.share = best[1] * record.noise
        own = repeats(e / np.sqrt(_variance(record, s, prior)))
        record.worth = 1.0 / own if len(records) == 1 else min(1.0 / own, MOST_WORTH / len(e))


def repeats(e: Array) -> float:
    """How many rows say the same, from the residuals' correlation along a log: 1 for white noise.

    Notes
    -----
    One plus twice the sum of the autocorrelations, taken in pairs until a pair is no more positive [1]_.

    References
    ----------
    .. [1] C. J. Geyer, Statistical Science 7 (1992) 473.
    """
    e = np.clip(e - e.mean(), -OUTLIER, OUTLIER)
    n = len(e)
    if n < 8 or not np.any(e):
        return 1.0
    size = 1 << (2 * n - 1).bit_length()
    power = np.abs(np.fft.rfft(e, size)) ** 2
    rho = np.fft.irfft(power)[: n // 2]
    rho = rho / rho[0]
    pairs = rho[1 : 2 * ((len(rho) - 1) // 2) + 1].reshape(-1, 2).sum(axis=1)
    stop = np.flatnonzero(pairs <= 0.0)
    total = float(pairs[: stop[0]].sum() if len(stop) else pairs.sum())
    return float(np.clip(1.0 + 2.0 * total, 1.0, n / 4.0))


# --- after the fit --------------------------------------------------------------------------------


def _misfit(record: _Record, volts: Array, prior: Prior, best: Array) -> Misfit:
    left = record.rows.v - volts[0]
    start = record.start + best[prior.names.index(f"start {record.log.name}")]
    spans = record.spans if record.spans is not None else np.full(len(left), 1.0 / len(left))
    rms = float(np.sqrt(np.sum(spans * left**2)))
    worth = max(len(left) * record.worth, 1.0)
    worst = float(np.abs(left).max())
    digest = record.log.digest
    return Misfit(record.log.name, digest, len(left), worth, rms, worst, record.noise, record.share, float(start))


def _joined(prior: Prior, covariance: Array, warm: Mapping[str, float]) -> tuple[tuple[str, ...], Array]:
    """Unknowns of the cell (not of the logs) with the thermal ones beside them."""
    keep = [k for k, n in enumerate(prior.names) if not n.startswith(("start ", "leads "))]
    size = len(keep)
    out = np.zeros((size + len(warm), size + len(warm)))
    out[:size, :size] = covariance[np.ix_(keep, keep)]
    out[range(size, len(out)), range(size, len(out))] = [w**2 for w in warm.values()]
    return (*(prior.names[k] for k in keep), *warm), out


def _told_by(k: int, information: list[Array], gain: float, logs: Sequence[Log]) -> tuple[str, ...]:
    """Logs that tell an unknown: those that bring at least a tenth of what is known of it."""
    if gain >= RESOLVED:
        return ()
    shares = np.array([each[k] for each in information])
    return tuple(log.name for log, share in zip(logs, shares) if share >= 0.1 * shares.sum())


def _cover(records: list[_Record], runs: list[Array], cells: CellCases) -> Cover:
    current, charging, temps, lowest = 0.0, 0.0, [], 1.0
    for r in records:
        i = r.log.i
        current = max(current, float(np.quantile(i, 0.995)), float(np.sort(i)[-3]))
        charging = max(charging, float(-np.sort(i)[2]))
        temps += [r.rows.ambient] if r.rows.temp is None else [float(r.rows.temp.min()), float(r.rows.temp.max())]
        lowest = min(lowest, float(r.start - r.rows.charge.max() / cells.capacity[0]))
    return Cover(current, max(charging, 0.0), min(temps), max(temps), lowest)


def _notes(
    logs: Sequence[Log],
    gain: Mapping[str, float],
    seen: Cover,
    shelf: CellModel,
    records: Sequence[_Record],
    cells_in: int,
) -> tuple[str, ...]:
    out = []
    pairs = {"fast": "fast pair", "slow": "slow pair"}
    untold = [
        said for key, said in pairs.items() if gain[f"{key}_time"] >= RESOLVED or gain[f"{key}_resistance"] >= RESOLVED
    ]
    if untold:
        out.append(
            f"The {' and the '.join(untold)}: these logs do not tell resistance and time constant apart from the "
            f"open-circuit voltage; what they leave open is that of {shelf.title}. A pulse test with rests tells them."
        )
    if gain["resistance"] >= RESOLVED:
        rested = all(abs(r.log.i[0]) <= 0.02 * np.abs(r.log.i).max() for r in records)
        tells = "a log at another current, or steps of current recorded every second," if rested else (
            "a log that begins at rest, or one at another current,"
        )
        out.append(f"The ohmic resistance is not resolved: {tells} {'tell' if rested else 'tells'} it.")
    if gain["activation_energy"] >= RESOLVED:
        out.append(
            f"Resistance against temperature is not resolved (the logs lie from {show(seen.coldest, 'K')} to "
            f"{show(seen.warmest, 'K')}): the usual 20 kJ/mol stays, give or take 5."
        )
    for r in records:
        if r.start_width > 0.05:
            out.append(f"{r.log.name} does not begin full; its first state of charge was found with the fit.")
        if r.rows.temp is None:
            out.append(f"{r.log.name} has no temperatures; it is taken to stand in air of {show(r.rows.ambient, 'K')}.")
    if seen.lowest_charge > 0.05:
        out.append(f"No log goes below {100 * seen.lowest_charge:.0f} % of charge; what lies below is the shelf's.")
    return tuple(out)
