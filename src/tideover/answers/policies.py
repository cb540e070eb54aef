"""Derating policies: what share of its rating a part may be loaded with, and how far under its limit it must stay.

Two of them. `usual` is what small supplies are commonly planned for. `strict` follows what is published of aerospace
guides; where such a guide is laxer than the usual share, or says nothing, strict keeps a figure of our own below it.
Results are a screen for parts worth a second look, not a proof that any standard is met.
"""

from __future__ import annotations

from dataclasses import dataclass

from tideover.answers.limits import JUDGEMENT, RATED_TIGHT, TYPICAL
from tideover.laws.fuses import FAMILIES

ECSS = "ECSS-Q-ST-30-11C, as transcribed publicly"
NASA = "NASA EEE-INST-002, public excerpt"
FUSE_PAGE = "public fuse derating page for aerospace practice"
OURS = f"{JUDGEMENT}: the guides are laxer here or silent"


@dataclass(frozen=True)
class Reserve:
    """What one policy keeps in reserve.

    Attributes
    ----------
    figure : float
        Share of the rating that may be used, above 1 where the rating is a lowest value; or how far a temperature must
        stay under its limit. [-] or [K]
    source : str
        Where it comes from.
    """

    figure: float
    source: str = TYPICAL


SHARES: dict[str, dict[str, Reserve]] = {
    "small capacitor voltage": {"usual": Reserve(0.80), "strict": Reserve(0.60, f"ceramic and film: {NASA}")},
    "electrolytic capacitor voltage": {"usual": Reserve(0.85), "strict": Reserve(0.70, OURS)},
    "supercapacitor voltage": {"usual": Reserve(0.93), "strict": Reserve(0.85, OURS)},
    "capacitor ripple current": {"usual": Reserve(0.80), "strict": Reserve(0.60, OURS)},
    "diode reverse voltage": {"usual": Reserve(0.75), "strict": Reserve(0.70)},
    "diode current": {"usual": Reserve(0.75), "strict": Reserve(0.50)},
    "transistor voltage": {"usual": Reserve(0.80), "strict": Reserve(0.75)},
    "transistor current": {"usual": Reserve(0.70), "strict": Reserve(0.60, OURS)},
    "regulator input voltage": {"usual": Reserve(0.90), "strict": Reserve(0.80)},
    "regulator lowest input": {"usual": Reserve(1.0), "strict": Reserve(1.05, OURS)},
    "regulator output current": {"usual": Reserve(0.80), "strict": Reserve(0.70, OURS)},
    "resistor power": {"usual": Reserve(0.60), "strict": Reserve(0.50)},
    "contact current": {"usual": Reserve(0.70), "strict": Reserve(0.50, f"{ECSS}, table 6-10")},
    "relay coil voltage": {"usual": Reserve(0.95, JUDGEMENT), "strict": Reserve(0.90, OURS)},
    "conductor current": {
        "usual": Reserve(1.0, "the allowance where it lies is the reserve"),
        "strict": Reserve(0.81, f"three wires in a bundle, {ECSS}"),
    },
    "adapter current": {
        "usual": Reserve(RATED_TIGHT.value, RATED_TIGHT.source),
        "strict": Reserve(0.75, OURS),
    },
    "cell current": {"usual": Reserve(0.70), "strict": Reserve(0.50, OURS)},
    "board current": {"usual": Reserve(0.70), "strict": Reserve(0.60, OURS)},
    "load voltage": {"usual": Reserve(1.0, "its maker's limits"), "strict": Reserve(0.98, OURS)},
    "load lowest voltage": {"usual": Reserve(1.0, "its maker's limits"), "strict": Reserve(1.02, OURS)},
    "fuse current, blade": {
        "usual": Reserve(FAMILIES["blade"].load_factor),
        "strict": Reserve(0.50, FUSE_PAGE),
    },
    "fuse current, 5x20": {
        "usual": Reserve(FAMILIES["time-lag, low breaking"].load_factor, "IEC 60127 ratings, which carry more"),
        "strict": Reserve(0.50, FUSE_PAGE),
    },
}
"""By what is loaded, then by policy; names of the policies as in `tideover.design.need.POLICIES`. [-]"""
LOWEST = ("regulator lowest input", "load lowest voltage")
"""Where the rating is a lowest value and the share stands above it."""

UNDER: dict[str, dict[str, Reserve]] = {
    "diode junction": {"usual": Reserve(25.0), "strict": Reserve(40.0, "110 °C of 150 °C: typical, unverified")},
    "transistor junction": {"usual": Reserve(25.0), "strict": Reserve(40.0, "110 °C of 150 °C: typical, unverified")},
    "regulator junction": {"usual": Reserve(20.0), "strict": Reserve(40.0, OURS)},
}
"""How far a junction must stay under its limit. [K]"""

FUSE_PER_KELVIN: dict[str, Reserve] = {
    "usual": Reserve(0.0018, "0.0015 to 0.002: typical, unverified"),
    "strict": Reserve(0.005, FUSE_PAGE),
}
"""What a fuse's rated current loses with each kelvin above 25 °C. [1/K]"""


def reserve(name: str, policy: str) -> Reserve:
    """What a policy keeps in reserve, by name of a row of `SHARES` or `UNDER`; KeyError when there is none."""
    return (SHARES.get(name) or UNDER[name])[policy]
