"""The measured agreement in words and figures, for the end of a test run and for the manual."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .compare import CLEAR, Passage, Standing


def digits(share: float) -> float:
    """Agreement in decimal digits: 3 is one part in a thousand."""
    return -math.log10(max(share, 1e-16))


def answered(seen: Sequence[Passage]) -> list[Passage]:
    return [p for p in seen if p.share == p.share]


def within(p: Passage) -> bool:
    """Every bound kept: it ended, by the same way, voltages, instants and energies alike."""
    return p.outcome == "ended" and p.same_sequence and p.share <= 1.0 and p.pace <= 1.0 and p.imbalance <= 1e-4


def _median(values: Sequence[float]) -> float:
    return sorted(values)[len(values) // 2] if values else float("nan")


def rows(seen: Sequence[Passage]) -> list[tuple[str, str]]:
    """What was measured over many outages."""
    good = answered(seen)
    ended = [p for p in good if p.outcome == "ended"]
    return [
        ("outages compared", f"{len(good)} of {len(seen)}"),
        ("points in time at which all node voltages were compared", f"{sum(p.points for p in good)}"),
        ("events compared", f"{sum(p.events for p in good)}"),
        ("cases with the same sequence of discrete states", f"{sum(p.same_sequence for p in good)} of {len(good)}"),
        ("cases within every bound", f"{sum(within(p) for p in good)} of {len(good)}"),
        (
            "worst voltage, over 1 mV or 0.1 %: median case, worst case",
            f"{_median([p.share for p in ended]):.3f}, {max(p.share for p in ended):.3g}",
        ),
        (
            "the same, both read at one time: cases within, worst case",
            f"{sum(p.plain <= 1.0 for p in ended)}, {max(p.plain for p in ended):.3g}",
        ),
        (
            "agreement of voltages in digits: median case, worst case",
            f"{3 + digits(_median([p.share for p in ended])):.1f}, {3 + digits(max(p.share for p in ended)):.1f}",
        ),
        (
            "worst instant of an event: median case, worst case",
            f"{_median([p.late for p in ended]) * 1e6:.2g} us, {max(p.late for p in ended) * 1e6:.2g} us",
        ),
        (f"cases with every instant within {CLEAR * 1e6:.0f} us", f"{sum(p.late <= CLEAR for p in ended)}"),
        (
            "energy not accounted for, over the throughput: median case, worst case",
            f"{_median([p.imbalance for p in ended]):.1e}, {max(p.imbalance for p in ended):.1e}",
        ),
        ("marches that gave up", f"{sum(p.outcome == 'failed' for p in seen)}"),
        ("steps of the engine: median case", f"{_median([p.steps for p in ended])}"),
    ]


def standing_rows(seen: Sequence[Standing]) -> list[tuple[str, str]]:
    """What was measured over many standing points."""
    found = [s for s in seen if s.outcome == "found"]
    return [
        ("standing points compared", f"{len(found)} of {len(seen)}"),
        ("with the same discrete states", f"{sum(s.same_states for s in found)}"),
        ("worst difference of a node's voltage", f"{max(s.volts for s in found):.1e} V"),
    ]


def markdown(standings: Sequence[Standing], seen: dict[str, Sequence[Passage]]) -> str:
    """The tables of the manual."""
    out = ["| standing points | |", "|---|---|", *(f"| {a} | {b} |" for a, b in standing_rows(standings)), ""]
    names = list(seen)
    out.append("| outage and return | " + " | ".join(names) + " |")
    out.append("|---|" + "---|" * len(names))
    columns = [rows(s) for s in seen.values()]
    out += ["| " + " | ".join([line[0][0], *(cell[1] for cell in line)]) + " |" for line in zip(*columns)]
    return "\n".join(out)


def line(p: Passage) -> str:
    """One case, for reading."""
    if p.share != p.share:
        return f"{p.name}: {p.note}"
    mark = " " if within(p) else "!"
    return (
        f"{mark} {p.name}: {p.outcome}, {p.events} events {'alike' if p.same_sequence else 'NOT ALIKE'}, voltages "
        f"{p.share:.3f} of what is allowed ({p.volts * 1e3:.3f} mV, {p.note}), instants {p.late * 1e6:.2f} us, "
        f"energy {p.imbalance:.1e}, {p.steps} steps, {p.engine_seconds:.1f} s and {p.judge_seconds:.1f} s"
    )
