"""Rows of a log that matter to a fit: steps of current with what follows them, and enough of the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Log

MOST = 900
"""Rows of one log that a fit looks at. Those of a smooth discharge say the same many times over."""
VOLTS = 0.008
"""Change of voltage after which a row is kept. [V]"""
SHARE = 1.0 / 250.0
"""Share of the charge of the log after which a row is kept. [-]"""
STEP = 0.04
"""Share of the largest current that counts as a step. [-]"""


def thinned(log: Log, most: int = MOST, cells: int = 1) -> NDArray[np.intp]:
    """Choose rows.

    Parameters
    ----------
    log : Log
        As read. [-]
    most : int
        Rows wanted at most; steps are kept even where that makes more. [-]
    cells : int
        In series inside the unit, which makes its voltages as much larger. [-]

    Returns
    -------
    keep : array of int
        Ascending; with the first and the last row.
    """
    loose = 1.0
    while True:
        keep = _chosen(log, loose, cells)
        if len(keep) <= most or loose > 1e4:
            return keep
        loose *= max(1.2, (len(keep) / most) ** 0.7)


def _chosen(log: Log, loose: float, cells: int) -> NDArray[np.intp]:
    t, v, i, charge = log.t.tolist(), log.v.tolist(), log.i.tolist(), log.charge.tolist()
    top = float(np.abs(log.i).max(initial=0.0)) or 1.0
    total = float(np.abs(log.charge - log.charge[0]).max()) or 1.0
    new = set(log.breaks)
    keep = [0]
    step = 0.0
    volts, part = VOLTS * cells * loose, SHARE * total * loose
    stepped = STEP * top * max(loose / 4.0, 1.0)
    for k in range(1, len(t)):
        last = keep[-1]
        if k in new or abs(i[k] - i[k - 1]) > stepped:
            if last != k - 1:
                keep.append(k - 1)
            keep.append(k)
            step = t[k - 1]
            continue
        since = t[k] - t[last]
        settling = since > 0.4 * loose * (t[last] - step + 0.5) and since > 0.25 * volts / VOLTS
        far = abs(v[k] - v[last]) > volts or abs(charge[k] - charge[last]) > part
        if far or (settling and abs(v[k] - v[last]) > 0.1 * volts):
            keep.append(k)
    if keep[-1] != len(t) - 1:
        keep.append(len(t) - 1)
    return np.array(keep)
