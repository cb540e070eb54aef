"""What ``tideover cells group`` says of the groups it made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tideover.answers.base import FAILS, HOLDS, TIGHT
from tideover.cells.balance import APART, APART_RESISTANCE, Balance
from tideover.cells.choosing import Choice, all_out
from tideover.cells.grouping import WITHIN, Grouping
from tideover.quantity import show
from tideover.render.page import Page, grid

if TYPE_CHECKING:
    from tideover.cells.stock import StockCell

MOST_NAMED = 60
"""Cells that stay out for one reason and are named; of more, only the number is told."""
CAUTIONS = (
    "Before cells are joined side by side, bring them to the same voltage: within 20 mV, at most 50 mV, or join them "
    "through a resistor. 50 mV over 100 mΩ drive 0.5 A at once.",
    "Even a small pack gives hundreds of amperes into a short: a fuse at the pack, tools insulated, rings off, "
    "terminals covered, eye protection while welding. Never solder to a cell's body.",
    "Every group in series needs its own protection and balancing. Salvaged cells may fail without warning: charge "
    "where nothing burns, and in sight. The maker's data and local rules prevail.",
)


def status(figures: Balance) -> str:
    """Of the grouping as a whole."""
    return FAILS if figures.off > APART else TIGHT if _tight(figures) else HOLDS


def _tight(figures: Balance) -> bool:
    wide = figures.within is not None and bool(figures.within.max() > WITHIN)
    return wide or figures.off_resistance > APART_RESISTANCE


def report(page: Page, choice: Choice, grouping: Grouping, figures: Balance, seed: int, done: list[str]) -> list[str]:
    """Lines of the report."""
    series, parallel = grouping.groups.shape
    cells = choice.cells
    kind = _common(cells, "model") or cells[0].chemistry
    kind = kind if cells[0].chemistry.casefold() in kind.casefold() else f"{cells[0].chemistry} {kind}"
    title = (
        f"{series} in series of {parallel} side by side: {series * parallel} of {len(cells)} {kind} cells, seed {seed}"
    )
    lines = [page.strong(line) for line in page.wrap(title)]
    lines.append("")
    for state, word, text in _judged(choice, grouping, figures):
        first, *others = page.wrap(text, f"● {state:<5}  {word:<10}  ", " " * 21)
        lines += [page.mark(state) + first[1:], *others]
    for note in choice.notes:
        lines += ["", *page.wrap(note)]
    lines += ["", "Groups, the largest first", *_table(page, grouping, figures), ""]
    for n, row in enumerate(grouping.groups, 1):
        lines += page.wrap(", ".join(cells[k].id for k in row), f"  {n:>4}  ", " " * 8)
    lines += _left(page, choice, grouping)
    for text in done:
        lines += ["", *page.wrap(text)] if text is done[0] else page.wrap(text)
    lines.append("")
    for text in CAUTIONS:
        lines += page.wrap(text, "! ", "  ")
    return lines


def _common(cells: tuple[StockCell, ...], word: str) -> str:
    """What all cells have in common, as most write it; empty where they differ."""
    said = [getattr(cell, word) for cell in cells]
    return max(set(said), key=lambda s: (said.count(s), s)) if len({s.casefold() for s in said}) == 1 else ""


def _judged(choice: Choice, grouping: Grouping, figures: Balance) -> list[tuple[str, str, str]]:
    """Status, word and sentences on each thing that matters."""
    series, parallel = grouping.groups.shape
    found = [_usable(grouping)]
    if series > 1:
        found.append(_spread(grouping, figures))
    if figures.resistance is not None and series > 1:
        low, high = show(figures.resistance.min(), "ohm"), show(figures.resistance.max(), "ohm")
        found.append(_resistance(f"{low} to {high} a group by {choice.method}", figures.off_resistance))
    if figures.share is not None and figures.within is not None and parallel > 1:
        found.append(_sharing(figures.share.tolist(), figures.within.tolist()))
    return found


def _usable(grouping: Grouping) -> tuple[str, str, str]:
    """What the string gives, and how much more any other grouping could give."""
    weakest = int(grouping.capacity.argmin()) + 1
    whose = f"which is what the weakest group ({weakest}) has" if len(grouping.groups) > 1 else "with one group in all"
    below = grouping.bound - grouping.smallest
    text = f"{show(grouping.smallest, 'C', 5)}, {whose}. "
    if below > 1e-9 * grouping.bound:
        text += (
            f"That is {charge(below)} ({share(below / grouping.bound)}) below {show(grouping.bound, 'C', 5)}, "
            "which it is proved that no grouping of these cells can exceed."
        )
    else:
        text += "It is proved that no grouping of these cells can give more."
    return HOLDS, "usable", text


def _spread(grouping: Grouping, figures: Balance) -> tuple[str, str, str]:
    """How unlike the groups are, what that costs, and how much of it was measured."""
    lost = grouping.matched - grouping.smallest
    text = (
        f"{charge(grouping.spread)} between largest and smallest group. Against groups quite alike the same cells lose "
        f"{charge(lost)} ({share(lost / grouping.matched)})."
    )
    if figures.off > APART:
        text += (
            f" A group is {share(figures.off)} from the mean; beyond {share(APART)} (practice, unverified) the weakest "
            "is emptied first at every outage. Choose from more cells, or take another number in a group."
        )
    unsure = f"±{charge(float(figures.uncertainty.max()))} (one standard deviation)"
    if figures.measured:
        text += f" A group's sum is measured to {unsure}."
    else:
        text += (
            f" A group's sum is measured only to {unsure}: the groups are as alike as can be known, and the weakest "
            f"is to be expected about {charge(figures.expected_loss)} below the mean for that reason alone."
        )
    return (FAILS if figures.off > APART else HOLDS), "spread", text


def _resistance(groups: str, off: float) -> tuple[str, str, str]:
    """How unlike the groups are in resistance."""
    text = f"{groups}, at most {share(off)} from their mean."
    if off <= APART_RESISTANCE:
        return HOLDS, "resistance", text
    text += (
        f" Beyond {share(APART_RESISTANCE)} (practice, unverified) the group of most resistance reaches its cut-off "
        "first under load and gets warmer."
    )
    return TIGHT, "resistance", text


def _sharing(shares: list[float], within: list[float]) -> tuple[str, str, str]:
    """How unlike the currents of the cells in a group are."""
    worst = max(range(len(shares)), key=shares.__getitem__)
    text = (
        f"At the start of a discharge a cell of group {worst + 1} carries {shares[worst]:.2f} times the mean of its "
        f"group, strips left out; the resistances in a group are within ±{share(max(within))}."
    )
    wide = sum(w > WITHIN for w in within)
    if not wide:
        return HOLDS, "sharing", text
    text += (
        f" In {wide} of {len(within)} groups they are wider than ±{share(WITHIN)} (practice, unverified): at high "
        "currents such cells age apart. More cells to choose from, or fewer groups, would mend it."
    )
    return TIGHT, "sharing", text


def _table(page: Page, grouping: Grouping, figures: Balance) -> list[str]:
    mean = grouping.matched
    columns = [("group", ""), ("capacity", "C"), ("from the mean", "")]
    rows: list[list[object]] = [
        [n, float(q), f"{'+' if q >= mean else '-'}{charge(abs(q - mean))}"] for n, q in enumerate(grouping.capacity, 1)
    ]
    if figures.resistance is not None and figures.within is not None and figures.share is not None:
        columns += [("resistance", "ohm"), ("within ±", "%"), ("largest share", "")]
        for k, row in enumerate(rows):
            row += [float(figures.resistance[k]), float(figures.within[k]), f"{figures.share[k]:.3f}"]
    return grid(page, columns, rows)


def _left(page: Page, choice: Choice, grouping: Grouping) -> list[str]:
    """Which cells stay out, and why."""
    reasons: dict[str, list[str]] = {}
    for cell, why in all_out(choice, grouping):
        reasons.setdefault(why, []).append(cell.id)
    if not reasons:
        return ["", "No cell stays out."]
    lines = ["", f"Cells that stay out: {sum(map(len, reasons.values()))}"]
    for why, ids in sorted(reasons.items(), key=lambda item: (-len(item[1]), item[0])):
        named = ": " + ", ".join(ids) if len(ids) <= MOST_NAMED else ""
        lines += page.wrap(f"{len(ids)} {why}{named}", "  ", "    ")
    return lines


def charge(value: float) -> str:
    """A difference of capacities, in mAh down to its tenths.

    Examples
    --------
    >>> charge(8.6), charge(0.4), charge(400.0), charge(9000.0)
    ('2.4 mAh', '0.1 mAh', '111 mAh', '2.5 Ah')
    """
    return f"{value / 3.6:.1f} mAh" if value < 360.0 else show(value, "C")


def share(value: float) -> str:
    """A share in percent, in two digits.

    Examples
    --------
    >>> share(0.0000314), share(0.15)
    ('0.0031 %', '15 %')
    """
    return show(value, "%", 2)
