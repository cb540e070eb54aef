"""``tideover cells pack``: what the strips, taps and welds of a pack do to its cells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.given import quantity, read_pack, single_thread, stated_load, usual_load
from tideover.cli.common import FAILS, HOLDS, Refusal, page, write, write_json
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.cells.as_built import AsBuilt
    from tideover.design.cell_model import BuiltPack

CAUTIONS = ("welding", "short circuit", "lithium fire")
"""Keys of the usual cautions that stand below every pack."""
LEAD_ACID = "PbA"

@click.command("pack", short_help="Say how a pack shares its current.")
@click.argument("file")
@click.option("--current", metavar="CURRENT", help="Load of the pack, such as 5A; without a load, C/2 is taken.")
@click.option("--power", metavar="POWER", help="Load of the pack instead, such as 12W.")
@click.option("--ambient", metavar="RANGE", default="0 °C to 40 °C", show_default=True, help="Air around the pack.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
# The drawing to scale, with the cells' ids in place, is to be written by an option --draw OUT.svg of this command.
def pack_command(file: str, current: str | None, power: str | None, ambient: str, json_: bool) -> int:
    """Say how the cells of a pack share its current, and where its strips run hot.

    FILE describes a pack of known cells, with its strips under the key `strip`. Every cell is followed by itself
    through a discharge to the cut-off of the weakest group and an hour of rest: as described, with poor welds, cold
    and warm. Then come the heat of every piece of strip, the best places for the leads, and the weakest spot.

    Exit status: 0 nothing is beyond its limit, 1 something is, 2 could not run.
    """
    single_thread()
    load = stated_load(current, power)
    air = _ambient(ambient)
    pack = read_pack(file)
    from tideover.cells.as_built import assess
    from tideover.cli.cells import pack_text
    from tideover.parts import KINDS

    kind = KINDS["pack"]
    note = ""
    if load == (None, None):
        load = (usual_load(pack), None)
        note = f"No load is stated; half its capacity in an hour is taken: {show(load[0] or 0.0, 'A')}."
    found = assess(pack, kind, load[0], load[1], air)
    if json_:
        write_json(_data(pack, found, load))
    else:
        write(pack_text.text(page(), pack, found, load, note, _cautions(pack)))
    return FAILS if found.fails else HOLDS


def _ambient(text: str) -> tuple[float, float, float]:
    value = quantity("--ambient", text, "K", "0 °C to 40 °C")
    if value.low < 213.15 or value.high > 358.15:
        expected = "Air from -60 °C to 85 °C is expected."
        raise Refusal(f'--ambient is "{text}", where no pack stands.', expected, 'Write: --ambient "0 °C to 40 °C"')
    return value.low, min(max(298.15, value.low), value.high), value.high


def _cautions(pack: BuiltPack) -> list[str]:
    """The usual ones, and what the pack's own short circuit asks for."""
    from tideover.answers.cautions import CAUTIONS as KNOWN
    from tideover.design.welded import number
    from tideover.parts import KINDS

    kind = KINDS["pack"]
    acid = kind.parameter("chemistry").choices[int(number(pack, kind, "chemistry"))] == LEAD_ACID
    keys = ("short circuit", "lead-acid gas") if acid else CAUTIONS
    return [c.text for c in KNOWN if c.key in keys]


def _data(pack: BuiltPack, found: AsBuilt, load: tuple[float | None, float | None]) -> dict[str, Any]:
    from dataclasses import asdict

    from tideover.cells.as_built import group_sums
    from tideover.parts import KINDS
    from tideover.render.data import FORM, plain

    return {
        "form": FORM,
        "title": pack.title,
        "current": load[0],
        "power": load[1],
        "groups": [plain(asdict(s)) for s in group_sums(pack, KINDS["pack"])],
        "cases": [plain(asdict(c)) for c in found.cases],
        "strips": [plain(asdict(h)) for h in found.strips],
        "leads": [plain(asdict(w)) for w in found.ways],
        "as described": plain(asdict(found.as_it_is)),
        "changes": [plain(asdict(w)) for w in found.changes],
        "rule of thumb": plain(found.thumb),
        "voltage lost": plain(found.lost_volts),
        "short circuit": plain(found.short),
        "weakest": plain(asdict(found.weakest)),
        "fails": found.fails,
        "cautions": _cautions(pack),
    }
