"""Logs that the fitted cell does not follow: said first, with what to do, as nothing else of the fit counts then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from tideover.design.cell_model import POOR
from tideover.quantity import show

MOST = 0.025
"""Root mean square of the residual voltage from which a log counts as not followed, for one cell of the unit:
two pairs and a curve follow sound logs to 5 to 20 mV. Engineering judgement. [V]"""
SHARE = 0.02
"""The same as a share of the voltage from empty to full at rest; the smaller of both counts. Engineering judgement."""
LEAST = 0.020
"""Never less than this: the published pulse test of a flat chemistry is followed to 18.5 mV, and its cell
still predicts a run at another temperature within 2 %. [V]"""


class Followed(Protocol):
    """What is looked at of a log: its name, and what is left between it and the model. [V]"""

    @property
    def name(self) -> str: ...

    @property
    def rms(self) -> float: ...


def poorly(logs: Sequence[Followed], cells: int, window: float) -> tuple[str, ...]:
    """Warnings about logs that are followed worse than a fit can be trusted with, the worst first.

    Parameters
    ----------
    logs : sequence of Followed
        One for each log of the fit. [-]
    cells : int
        In series inside the unit. [-]
    window : float
        From empty to full at rest, of the unit. [V]

    Returns
    -------
    said : tuple of str
        One sentence or two for all of them; none where every log is followed.
    """
    most = max(min(MOST * cells, SHARE * window), LEAST)
    bad = sorted((log for log in logs if log.rms > most), key=lambda log: -log.rms)
    if not bad:
        return ()
    named = "; ".join(f"{log.name} by {show(log.rms, 'V', 2)}" for log in bad)
    return (
        f"{POOR}: the cell does not follow {named} root mean square, where at most {show(most, 'V', 2)} is to be "
        "expected. Do not rely on it. Fit without the worst log to see whether that one is at fault; log it again, "
        "from a full cell at rest and with its temperature; state leads (--leads), the air around (--ambient), the "
        "chemistry (--chemistry) and the empty cell (--cut-off).",
    )
