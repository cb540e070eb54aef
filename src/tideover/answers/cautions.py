"""The usual cautions, and which of them a build calls for.

They are shown with every sheet and page. A caution stands where a kind of part, a chemistry or a fact about the
build makes it apply; the words are ours, the matter is common knowledge of the trade. They are no substitute for
the maker's instructions or for local rules, which the last of them says.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tideover.network import Network, Placed
from tideover.quantity import Quantity

LITHIUM = ("NMC", "NCA", "LFP", "LTO", "LCO")
LOW_VOLTAGE = 60.0
"""Above this a direct voltage is no longer taken as safe to touch. [V] IEC 62368-1, energy source class 1."""
STORES = 1.0
"""A capacitor that holds this much stays charged long enough to hurt. [J] Engineering judgement."""


@dataclass(frozen=True)
class Caution:
    """One caution and when it applies.

    Attributes
    ----------
    key : str
        One word, for tests and links.
    text : str
        One or two short sentences.
    applies : callable
        ``applies(network) -> bool``.
    """

    key: str
    text: str
    applies: Callable[[Network], bool]


def for_network(network: Network) -> tuple[str, ...]:
    """Cautions that a build calls for, the gravest first.

    Parameters
    ----------
    network : Network
        As read. [-]

    Returns
    -------
    texts : tuple of str
        In the order of `CAUTIONS`.
    """
    return tuple(c.text for c in CAUTIONS if c.applies(network))


# --- facts about a build -----------------------------------------------------------------------------


def _parts(network: Network, *kinds: str) -> list[Placed]:
    return [part for part in network.parts if part.kind.name in kinds]


def _number(part: Placed, name: str) -> float:
    value = part.values[name]
    return value.nominal if isinstance(value, Quantity) else value


def _word(part: Placed, name: str) -> str:
    return part.kind.parameter(name).choices[int(_number(part, name))]


def _has(*kinds: str) -> Callable[[Network], bool]:
    return lambda network: bool(_parts(network, *kinds))


def _chemistry(*names: str) -> Callable[[Network], bool]:
    return lambda network: any(_word(pack, "chemistry") in names for pack in _parts(network, "pack"))


def _lithium(network: Network) -> bool:
    return _chemistry(*LITHIUM)(network)


def _lithium_charged(network: Network) -> bool:
    return _lithium(network) and bool(_parts(network, "charger"))


def _welded(network: Network) -> bool:
    """Cells that someone joins: more than one unit, and not ready-made lead-acid blocks."""
    return any(
        _word(pack, "chemistry") != "PbA" and _number(pack, "series") * _number(pack, "parallel") > 1
        for pack in _parts(network, "pack")
    )


def _salvaged(network: Network) -> bool:
    """The file says so, or gives its cells less than their stated capacity."""
    return "salvag" in network.design.text.casefold() or any(
        _number(pack, "health") < 1.0 for pack in _parts(network, "pack")
    )


def _unfused(network: Network) -> bool:
    return bool(_parts(network, "pack")) and not _parts(network, "fuse")


def _high(network: Network) -> bool:
    packs = (_number(p, "series") * _number(p, "highest_voltage") for p in _parts(network, "pack"))
    outputs = (_number(p, "voltage") for p in _parts(network, "adapter"))
    return max((*packs, *outputs), default=0.0) > LOW_VOLTAGE


def _stores(network: Network) -> bool:
    """A capacitor with a good deal in it: what it holds at the highest source voltage of the build."""
    sources = [_number(p, "voltage") for p in _parts(network, "adapter")]
    volts = max((*sources, 5.0))
    return any(0.5 * _number(p, "capacitance") * volts**2 > STORES for p in _parts(network, "capacitor"))


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "mains",
        "Mains only through a complete adapter certified for your country; no mains wiring in the box.",
        _has("adapter"),
    ),
    Caution(
        "voltage",
        f"Parts of this build exceed {LOW_VOLTAGE:.0f} V: touching them can hurt; have a licensed person check it.",
        _high,
    ),
    Caution(
        "unfused",
        "There is no fuse in this build: put one right at the pack's plus, before any wire.",
        _unfused,
    ),
    Caution(
        "short circuit",
        "A shorted pack gives hundreds of amperes: rings off, tools insulated, terminals covered, eye protection.",
        _has("pack"),
    ),
    Caution(
        "lithium fire",
        "Lithium cells burn and give off poisonous gas: charge on a surface that cannot burn, near a smoke "
        "alarm, with a free way out; if one vents, leave and call the fire service.",
        _lithium,
    ),
    Caution(
        "salvaged cells",
        "Salvaged cells have an unknown past: no dented, swollen, rusted or deeply discharged ones; test each, "
        "keep them apart for weeks in a fire-safe place, and never mix kinds.",
        _salvaged,
    ),
    Caution(
        "charging",
        "Charge only inside the cells' temperature window (usually 0 °C to 45 °C) and with the profile of their "
        "chemistry; a protection board is the last resort, not a charge controller.",
        _lithium_charged,
    ),
    Caution(
        "welding",
        "Weld, never solder, to a cell; insulate the shoulder of the can, wear eye protection, try the pulse on scrap.",
        _welded,
    ),
    Caution(
        "lead-acid gas",
        "Lead-acid blocks give off hydrogen and hold acid: a vented box, no sparks near it, gloves and eye protection.",
        _chemistry("PbA"),
    ),
    Caution(
        "capacitors",
        "Large capacitors stay charged after switch-off: bleed them through a resistor first; mind the polarity.",
        _stores,
    ),
    Caution(
        "heat",
        "Keep vents clear and cells away from what gets hot; use wire and a box of flame-rated material.",
        _has("box"),
    ),
    Caution(
        "use",
        "Not for life support, alarms or safety functions. Prove it under load first, and then twice a year.",
        _has("load"),
    ),
    Caution(
        "transport",
        "A home-made lithium pack may generally not be posted or flown; worn-out cells go to a collection point.",
        _lithium,
    ),
    Caution(
        "rules",
        "Numbers here are estimates: local codes, the data sheets of the parts in hand and, where the law asks for "
        "one, a licensed person come first.",
        lambda network: True,
    ),
)
"""Every caution, the gravest first."""
