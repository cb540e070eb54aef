"""``tideover cells predict``: how long a fitted cell carries another load."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.given import cell_model, logs_of, value
from tideover.cli.common import HOLDS, Refusal, page, write, write_json
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.cells.predict import Prediction
    from tideover.cells.run import Load
    from tideover.design.cell_model import CellModel


@click.command("predict")
@click.argument("cell")
@click.option("--current", metavar="VALUE", default="", help="Constant current, of one cell.")
@click.option("--power", metavar="VALUE", default="", help="Constant power, of one cell.")
@click.option("--resistor", metavar="VALUE", default="", help="Load resistor, across one cell.")
@click.option("--profile", metavar="FILE", default="", help="Power of a log, repeated until the cell is empty.")
@click.option("--to", "cutoff", metavar="VALUE", default="", help="Voltage at which it ends; the cell's lowest.")
@click.option("--from", "start", metavar="VALUE", default="100 %", show_default=True, help="Charge at the start.")
@click.option("--ambient", metavar="VALUE", default="25 °C", show_default=True, help="Around the cell.")
@click.option("--seed", default=1, show_default=True, help="Of the draws behind the interval.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def predict(
    cell: str,
    current: str,
    power: str,
    resistor: str,
    profile: str,
    cutoff: str,
    start: str,
    ambient: str,
    seed: int,
    json_: bool,
) -> int:
    """Predict how long a fitted cell carries a load.

    CELL is a file that `tideover cells fit` wrote, or the name of a cell on the shelf. One load is told: a current, a
    power, a resistor or a profile. The interval holds nine of ten such cells; it is told where the prediction leaves
    what the logs have seen.

    Exit status: 0 done, 2 could not run.
    """
    import numpy as np

    from tideover.cells.model import numbers
    from tideover.cells.predict import predict as predicting

    model = cell_model(cell)
    load, said = _load(current, power, resistor, profile)
    low = value("--to", cutoff, "V", "2.8 V") or numbers(model)["lowest_voltage"]
    begins = value("--from", start, "", "100 %")
    air = value("--ambient", ambient, "K", "25 °C") or 298.15
    if begins is None or not 0.0 < begins <= 1.05:
        raise Refusal(f'--from is "{start}", which no cell can have.', "A state of charge is expected, up to 100 %.")
    if not 200.0 < air < 380.0:
        raise Refusal(f'--ambient is "{ambient}", outside what cells bear.', 'Write, for example: --ambient "20 °C"')
    highest = numbers(model)["highest_voltage"]
    if not 0.0 < low < highest:
        raise Refusal(f'--to is "{cutoff}", but the cell is full at {show(highest, "V")}.', 'Write: --to "2.8 V"')
    found = predicting(model, load, low, begins, air, np.random.default_rng(seed))
    if json_:
        write_json(_data(model, said, low, found, seed))
    else:
        write("\n".join(_lines(model, said, low, begins, air, found, seed)) + "\n")
    return HOLDS


def _load(current: str, power: str, resistor: str, profile: str) -> tuple[Load, str]:
    from tideover.cells.run import CURRENT, POWER, RESISTANCE, Load

    given = [text for text in (current, power, resistor, profile) if text]
    if len(given) != 1:
        what = "No load is told." if not given else "More than one load is told."
        raise Refusal(what, 'Write one: --current "2 A", --power "5 W", --resistor "3.3 ohm" or --profile FILE')
    if profile:
        log = logs_of((profile,))[0]
        return Load.table(POWER, log.t, log.i * log.v), f"the power of {log.name}, {show(log.t[-1], 's')}, repeated"
    for option, text, law, unit in (
        ("--current", current, CURRENT, "A"),
        ("--power", power, POWER, "W"),
        ("--resistor", resistor, RESISTANCE, "ohm"),
    ):
        if text:
            level = value(option, text, unit, f"2 {unit}") or 0.0
            if level <= 0.0:
                raise Refusal(f'{option} is "{text}", which draws nothing.', f'Write, for example: {option} "2 {unit}"')
            return Load.constant(law, level), f"{show(level, unit)} all the time"
    raise AssertionError("one of them is given")


def _lines(
    model: CellModel, said: str, low: float, begins: float, air: float, found: Prediction, seed: int
) -> list[str]:
    from tideover.answers.base import Series
    from tideover.render.chart import chart

    out = page()
    first, middle, last = found.runtime
    lines = [*map(out.strong, out.wrap(model.title))]
    lines += out.wrap(
        f"Load: {said}, from {100 * begins:.3g} % of charge to {show(low, 'V')}, in air of {show(air, 'K')}.", "", "  "
    )
    if middle == float("inf"):
        return [*lines, "", *out.wrap("The voltage does not fall that far: the load draws next to nothing.")]
    span = f"; nine of ten between {show(first, 's')} and {show(last, 's')} (seed {seed})" if last > first else ""
    lines += ["", *out.wrap(f"Runtime: {show(middle, 's')}{span}.")]
    given = f"{show(found.charge, 'C')}, {show(found.energy, 'J')}"
    lines += out.wrap(f"Delivered: {given}; the cell ends at {show(found.end_temp, 'K')}.")
    for sentence in found.beyond:
        lines += out.wrap(sentence, "  ")
    curve = Series("voltage", "time", "s", "V", tuple(found.t.tolist()), tuple(found.v.tolist()))
    return [*lines, "", *chart(out, [curve])]


def _data(model: CellModel, said: str, low: float, found: Prediction, seed: int) -> dict[str, Any]:
    return {
        "form": 1,
        "cell": model.title,
        "load": said,
        "to": low,
        "runtime": dict(zip(("low", "middle", "high"), (x if x < float("inf") else None for x in found.runtime))),
        "charge": found.charge,
        "energy": found.energy,
        "end temperature": found.end_temp,
        "beyond": list(found.beyond),
        "seed": seed,
        "time": found.t.tolist(),
        "volts": found.v.tolist(),
    }
