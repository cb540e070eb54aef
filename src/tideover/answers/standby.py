"""How long does it last switched off or idle?

Asks what
    How long a full and a half-full pack last with mains away and nothing to carry: switched off, idle (on, the load
    takes nothing), and unplugged; in the coldest room, at 25 °C and in the warmest; until the board cuts off, and from
    there until the cells are harmed. What drains them, each drain as it counts at the cells.

Why it matters
    A supply that is put away full in spring is empty in autumn, and the cells that its board had cut off are dead a
    month later: what harms most home-made packs is not use but the drawer. A module's quiet milliamperes do it.

How computed
    Standing points of the whole network from full down to empty, at every charge of a grid, give the current out of the
    cells; the time is the integral of charge over that current and the cells' own discharge, which doubles for each
    12.5 K. A drain counts as what the pack's current falls by when that drain alone is set to nothing. So one behind a
    converter counts with that converter's ratio and losses. Lockouts and the board act as they do in the network.

Blind spots
    Quiescent currents are typical or your own readings; they scatter by half from module to module and grow with
    voltage and heat more than the model says. Self-discharge is a share of the whole capacity; old cells have more.
    Loads that are off but keep a pilot lamp are loads at no power here. With several packs only the first is judged.

An example that trips it
    A boost module that takes 1.5 mA at no load, on two salvaged cells, without a switch: 5 Ah last less than five
    months.

Cure
    A switch between pack and everything else, a module that sleeps at light load, a charger and a board with less
    drain, dividers of high resistance; for months in a drawer the pack half full, cool and disconnected.

Source
    Typical quiescent currents as stated with the parts; self-discharge typical, unverified; harm by the chemistry's
    lowest voltage.
"""

from __future__ import annotations

from tideover.answers import standby_said as say
from tideover.answers import states
from tideover.answers.base import OPEN, Answer, worst
from tideover.answers.context import Context, settled
from tideover.answers.drains import drained

KEY = "standby"


def answer(context: Context) -> Answer:
    """How long it lasts at rest; see the top of this file."""
    packs = states.of_kind(context.network, "pack")
    if not packs:
        return Answer(KEY, OPEN, "There is no pack in the drawing, so nothing runs down.")
    found = drained(context.network, packs[0])
    said = say.findings(context, found)
    return Answer(
        KEY, worst(f.status for f in said), say.headline(context, found, said), settled(said), say.tables(found)
    )
