"""Which cells of the stock may stand together in a pack, and why the others may not.

Chemistries are never mixed. Cells side by side are of one model and one age class; so is the whole pack, unless the
builder allows groups of different models or ages in series. Resistances taken by different methods are not compared.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tideover.cells.grouping import Grouping, TooFew, allot, best_mean
from tideover.cells.stock import StockCell
from tideover.design.messages import folded, listed, nearest

MIXABLE = ("model", "age")
"""In what groups in series may differ, when it is allowed; in a group nothing may."""
NOT_SAID = "not said"
AS_KIND = ("chemistry", "model", "age")


@dataclass(frozen=True)
class Wish:
    """What is asked for.

    Attributes
    ----------
    series, parallel : int
        Groups, and cells in each.
    mix : tuple of str
        Words of `MIXABLE`.
    chemistry, model, age : str
        Only cells of that; empty for any.
    method : str
        Only resistances taken by it; empty for that by which most cells were measured.
    resistance : bool
        Whether resistance is looked at.
    """

    series: int
    parallel: int
    mix: tuple[str, ...] = ()
    chemistry: str = ""
    model: str = ""
    age: str = ""
    method: str = ""
    resistance: bool = True


@dataclass(frozen=True)
class Choice:
    """Cells that may be grouped, and all others.

    Attributes
    ----------
    cells : tuple of StockCell
        The candidates; all of one chemistry and, where resistance counts, measured by one method.
    kinds : tuple of tuple of str
        Of each: what must not differ in a group. Empty tuples where all are alike.
    method : str
        Of the resistances; empty where they are left aside.
    out : tuple of (StockCell, str)
        The others, each with the reason.
    notes : tuple of str
        What should be known of the choice, each a sentence.
    """

    cells: tuple[StockCell, ...]
    kinds: tuple[tuple[str, ...], ...]
    method: str
    out: tuple[tuple[StockCell, str], ...]
    notes: tuple[str, ...]


class CannotChoose(Exception):
    """No pack can be made as asked; its texts are the problem and what would help."""

    def __init__(self, problem: str, *mends: str) -> None:
        super().__init__(problem)
        self.problem, self.mends = problem, mends


def choose(stock: Sequence[StockCell], wish: Wish) -> Choice:
    """Candidates for a pack.

    Parameters
    ----------
    stock : sequence of StockCell
        The inventory. [-]
    wish : Wish
        What is asked for. [-]

    Returns
    -------
    choice : Choice

    Raises
    ------
    CannotChoose
        When no cells that may stand together are enough, or when the builder has to say which of several.
    """
    fit, out = _sorted_out(stock, wish)
    cohorts = _by(fit, wish, _apart(wish))
    full = {key: cells for key, cells in cohorts.items() if _bound(cells, wish) > 0.0}
    if not full:
        raise _too_few(fit, out, wish)
    chemistries = sorted({key[0] for key in full})
    if len(chemistries) > 1:
        raise CannotChoose(
            f"There are cells enough of {' and of '.join(chemistries)}, and chemistries are never mixed.",
            f"Say which: --chemistry {chemistries[0]}",
        )
    methods = Counter({m: sum(len(cells) for key, cells in full.items() if key[1] == m) for m in {k[1] for k in full}})
    method = min(methods, key=lambda m: (-methods[m], m))
    best = max((key for key in full if key[1] == method), key=lambda key: (_bound(full[key], wish), key))
    chosen = full[best]
    others = {key: cells for key, cells in full.items() if key != best}
    notes = [f"Also enough for it: {_named(key, wish, cells)} ({_cells(len(cells))})." for key, cells in others.items()]
    notes += _remarks(chosen, wish)
    for key, cells in cohorts.items():
        if key != best:
            out += [(cell, _why_other(cell, chosen[0], wish)) for cell in cells]
    kinds = tuple(tuple(folded(getattr(cell, word)) for word in wish.mix) for cell in chosen)
    return Choice(tuple(chosen), kinds, method if wish.resistance else "", tuple(out), tuple(notes))


def _sorted_out(stock: Iterable[StockCell], wish: Wish) -> tuple[list[StockCell], list[tuple[StockCell, str]]]:
    """Cells that are fit for a pack of this wish, and the others with the reason."""
    fit, out = [], []
    for cell in stock:
        reason = _unfit(cell, wish)
        if reason:
            out.append((cell, reason))
        else:
            fit.append(cell)
    return fit, out


def _unfit(cell: StockCell, wish: Wish) -> str:
    """Why a cell cannot be in the pack, whatever the others are; empty if it can."""
    if cell.status == "used":
        return "built into a pack already"
    if cell.status in ("rejected", "quarantine"):
        said = "rejected" if cell.status == "rejected" else "in quarantine"
        return f"{said}: {cell.reason}" if cell.reason else said
    if not cell.capacity:
        return "capacity not measured"
    if not cell.chemistry:
        return "chemistry not said"
    for word in AS_KIND:
        wanted = getattr(wish, word)
        if wanted and folded(wanted) != folded(getattr(cell, word)):
            return f"of another {word} than asked for ({getattr(cell, word) or NOT_SAID})"
    if wish.resistance:
        if not cell.resistance:
            return "resistance not measured"
        if not cell.method:
            return "method of its resistance not said"
        if wish.method and cell.method != wish.method:
            return f"resistance by another method ({cell.method})"
    return ""


def _apart(wish: Wish) -> tuple[str, ...]:
    """In what the whole pack must not differ, beside chemistry and method."""
    return tuple(word for word in MIXABLE if word not in wish.mix)


def _by(cells: Iterable[StockCell], wish: Wish, words: Sequence[str]) -> dict[tuple[str, ...], list[StockCell]]:
    """Cells that may be in one pack: chemistry, method, then the `words`, folded."""
    found: dict[tuple[str, ...], list[StockCell]] = {}
    for cell in cells:
        key = (cell.chemistry, cell.method if wish.resistance else "", *(folded(getattr(cell, w)) for w in words))
        found.setdefault(key, []).append(cell)
    return dict(sorted(found.items()))


def _bound(cells: Sequence[StockCell], wish: Wish) -> float:
    """What the smallest group can have at most; zero where the groups cannot be filled. [C]"""
    kinds: dict[tuple[str, ...], list[float]] = {}
    for cell in cells:
        kind = tuple(folded(getattr(cell, word)) for word in wish.mix)
        kinds.setdefault(kind, []).append(float(cell.capacity or 0.0))
    arrays = [np.array(values) for values in kinds.values()]
    try:
        counts = allot(arrays, wish.series, wish.parallel, bool(wish.mix))
    except TooFew:
        return 0.0
    return min(best_mean(q, n, wish.parallel) for q, n in zip(arrays, counts) if n)


def _remarks(cells: Sequence[StockCell], wish: Wish) -> list[str]:
    """What a builder should know of the cells chosen from."""
    notes = []
    unjudged = sum(cell.status == "new" for cell in cells)
    if unjudged:
        notes.append(f"{_count(unjudged)} not screened yet (status new); screen before anything is welded.")
    for word in ("model", "age"):
        unsaid = sum(not getattr(cell, word) for cell in cells)
        if unsaid and word not in wish.mix:
            notes.append(f"{_count(unsaid)} without a {word}: taken as alike, which nobody has said.")
    if not wish.resistance:
        notes.append("Resistance was left aside: how the cells share the current is not known.")
    if wish.mix and len({tuple(folded(getattr(cell, w)) for w in wish.mix) for cell in cells}) > 1:
        notes.append(
            f"Groups in series may differ in {' and '.join(wish.mix)}: they age apart, the weakest decides, and a "
            "balancer has more to do. Nothing differs within a group."
        )
    return notes


def _cells(n: int) -> str:
    return f"{n} cells" if n != 1 else "1 cell"


def _count(n: int) -> str:
    return f"{n} of the cells are" if n != 1 else "One of the cells is"


def _named(key: tuple[str, ...], wish: Wish, cells: Sequence[StockCell]) -> str:
    """A cohort as words, as its first cell has them: ``NMC, model NMC 18650, age not said``."""
    said = [key[0], *(f"{word} {getattr(cells[0], word) or NOT_SAID}" for word in _apart(wish))]
    return ", ".join([*said, *([f"resistance by {key[1]}"] if key[1] else [])])


def _why_other(cell: StockCell, chosen: StockCell, wish: Wish) -> str:
    """In what a cell differs from those chosen."""
    for word in ("chemistry", *_apart(wish)):
        if folded(getattr(cell, word)) != folded(getattr(chosen, word)):
            return f"of another {word} ({getattr(cell, word) or NOT_SAID})"
    return f"resistance by another method ({cell.method})"


# --- when there are too few -----------------------------------------------------------------------


def _too_few(fit: Sequence[StockCell], out: Sequence[tuple[StockCell, str]], wish: Wish) -> CannotChoose:
    """What there is, and what would permit a pack."""
    need = wish.series * wish.parallel
    shape = f"{wish.series} × {wish.parallel} = {need}"
    if not fit:
        problem = f"{shape} cells are asked for, and none can be used."
        return CannotChoose(problem, *_reasons(out), *_there_is(out, wish), *_easier(out, wish))
    cohorts = _by(fit, wish, MIXABLE)
    problem = f"{shape} cells that may stand together are asked for; of no kind there are so many."
    whole = Wish(1, 1)
    lines = [
        f"{_cells(len(cells))}, enough for {len(cells) // wish.parallel} of the groups: {_named(key, whole, cells)}"
        for key, cells in sorted(cohorts.items(), key=lambda item: -len(item[1]))
    ]
    if len(lines) > 8:
        lines = [*lines[:8], f"and {len(lines) - 8} kinds more"]
    mends = []
    for mix in (("model",), ("age",), MIXABLE):
        if set(mix) > set(wish.mix) and _feasible(fit, wish, mix=mix):
            words, plural = " ".join(f"--mix {word}" for word in mix), " and ".join(f"{word}s" for word in mix)
            mends.append(
                f"{words} would permit it: groups of different {plural} in series, never side by side. They age apart "
                "and the weakest decides."
            )
            break
    smaller = [n for n in range(wish.parallel - 1, 0, -1) if _feasible(fit, wish, parallel=n)]
    fewer = [n for n in range(wish.series - 1, 0, -1) if _feasible(fit, wish, series=n)]
    if smaller:
        mends.append(f"{smaller[0]} side by side would do: --parallel {smaller[0]}")
    if fewer:
        mends.append(f"{fewer[0]} in series would do, at another voltage: --series {fewer[0]}")
    return CannotChoose(problem, *lines, *_reasons(out), *mends, *_easier(out, wish))


def _feasible(
    fit: Sequence[StockCell],
    wish: Wish,
    mix: tuple[str, ...] | None = None,
    series: int | None = None,
    parallel: int | None = None,
) -> bool:
    """Whether another wish could be filled."""
    other = Wish(
        series or wish.series, parallel or wish.parallel, wish.mix if mix is None else mix, resistance=wish.resistance
    )
    return any(_bound(cells, other) > 0.0 for cells in _by(fit, other, _apart(other)).values())


def _reasons(out: Sequence[tuple[StockCell, str]]) -> list[str]:
    """How many stay out for what; reasons that differ behind a colon or in brackets stand together."""
    counts = Counter(reason.split(":")[0].split(" (")[0] for _, reason in out)
    return [f"{n} {'stay' if n != 1 else 'stays'} out: {reason}" for reason, n in counts.most_common()]


def _there_is(out: Sequence[tuple[StockCell, str]], wish: Wish) -> list[str]:
    """What may be asked for instead of words that no cell has."""
    found = []
    for word in AS_KIND:
        said = sorted({getattr(cell, word) for cell, _ in out} - {""}, key=by_id)
        if getattr(wish, word) and folded(getattr(wish, word)) not in map(folded, said):
            found.append(f"Of {word} there is in the inventory: {listed(nearest(getattr(wish, word), said))}.")
    return found


def _easier(out: Sequence[tuple[StockCell, str]], wish: Wish) -> list[str]:
    """What would let more cells in."""
    reasons = " ".join(reason for _, reason in out)
    found = []
    cures = {
        "resistance not measured": "measure their resistance",
        "method of its resistance not said": "say the method in the inventory",
        "resistance by another method": "measure all resistances by one method",
    }
    helps = [cure for said, cure in cures.items() if said in reasons]
    if wish.resistance and helps:
        text = ", ".join([*helps, "or group by capacity alone: --ignore-resistance"])
        found.append(text[:1].upper() + text[1:])
    if "chemistry not said" in reasons:
        found.append("Write the chemistry of each cell in the inventory, such as NMC or LFP.")
    if "capacity not measured" in reasons:
        found.append("A cell without a measured capacity cannot be matched: discharge it once at a known current.")
    return found


# --- afterwards -----------------------------------------------------------------------------------


def all_out(choice: Choice, grouping: Grouping) -> list[tuple[StockCell, str]]:
    """Every cell that stays out with its reason, in the order of their ids.

    Parameters
    ----------
    choice : Choice
        What was grouped. [-]
    grouping : Grouping
        Rows of its cells. [-]
    """
    out = list(choice.out)
    chosen = [choice.cells[k] for k in grouping.groups.ravel()]
    kinds = {choice.kinds[k] for k in grouping.groups.ravel()}
    weakest = min(cell.capacity or 0.0 for cell in chosen)
    resistances = [cell.resistance for cell in chosen if cell.resistance]
    for k in grouping.left_out:
        cell = choice.cells[k]
        if choice.kinds[k] not in kinds:
            why = f"of another {' or '.join(MIXABLE)} than those that give most"
        elif (cell.capacity or 0.0) < weakest:
            why = "surplus, weaker than all that were chosen"
        elif choice.method and cell.resistance and not min(resistances) <= cell.resistance <= max(resistances):
            why = "surplus, with a resistance apart from all that were chosen"
        else:
            why = "surplus"
        out.append((cell, why))
    return sorted(out, key=lambda item: by_id(item[0].id))


def by_id(text: str) -> tuple[tuple[int, int, str], ...]:
    """Key that sorts ids as people do: A2 before A10.

    Examples
    --------
    >>> sorted(["A10", "A2", "7"], key=by_id)
    ['7', 'A2', 'A10']
    """
    pieces = re.findall(r"[0-9]{1,18}|[^0-9]+", text.casefold())
    return (*((0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p) for p in pieces), (2, 0, text))
