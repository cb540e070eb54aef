"""What the load sees while the pack is charged to the end: one that stands on the pack sees the charger's voltage."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.answers.base import FAILS, HOLDS, TIGHT, Finding
from tideover.answers.context import Context
from tideover.answers.limits import WINDOW_TIGHT
from tideover.answers.refills import Refills
from tideover.quantity import show


def highest(refills: Refills, cases: Sequence[int]) -> tuple[float, float, int] | None:
    """Highest voltage at the load over some recharges, when, and in which; None where none was marched. [V] [s]"""
    best: tuple[float, float, int] | None = None
    for case in cases:
        position = int(refills.positions[case])
        if refills.waves is None or position < 0:
            continue
        wave = refills.waves.case(position)
        v = wave.v[:, refills.waves.nodes.index(refills.network.at)]
        k = int(v.argmax())
        if best is None or v[k] > best[0]:
            best = float(v[k]), float(wave.t[k]), case
    return best


def load_kept(
    context: Context, drawn: Refills, labels: Sequence[str], corners: Refills, corner_labels: Sequence[str]
) -> tuple[Finding, ...]:
    """The load's upper limit against the highest voltage of every recharge: as drawn it fails, in a corner it is tight.

    No standing state shows the end of a charge, where the charger still holds its voltage.
    """
    (low, high), where = context.network.need.window, context.network.nodes[context.network.at]
    found = highest(drawn, range(len(labels)))
    if found is None:
        return ()
    volts, t, case = found
    label, status = labels[case], FAILS if volts > high else HOLDS
    edge = highest(corners, range(len(corner_labels)))
    if status == HOLDS and edge is not None and edge[0] > high:
        volts, t, label, status = edge[0], edge[1], corner_labels[edge[2]], TIGHT
    elif status == HOLDS and high - volts < WINDOW_TIGHT.value * (high - low):
        status = TIGHT
    return (
        Finding(
            name="load voltage rises out of its window while the pack is charged",
            status=status,
            subject=context.network.need.at,
            state=f"mains, charging, {label}",
            quantity="highest voltage at the load",
            value=volts,
            unit="V",
            limit=high,
            margin=high - volts,
            why=f"{show(volts, 'V', 4)} at ({where}), {show(t, 's')} after mains is back",
            mend="" if status == HOLDS else "A lower hold voltage, or a converter or a diode between pack and load.",
            source=f"voltage at the load along the recharge; tight below {100 * WINDOW_TIGHT.value:.0f} % of the "
            f"window's width: {WINDOW_TIGHT.source}",
            place=context.need_place,
        ),
    )
