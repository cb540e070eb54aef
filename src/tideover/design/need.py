"""What the load needs, read from the file."""

from __future__ import annotations

import re
from itertools import pairwise

from tideover.design import messages as say
from tideover.design import outages, values
from tideover.design.model import Need
from tideover.design.source import Mapping, Scalar, Sequence
from tideover.design.values import Report
from tideover.parts.base import Parameter
from tideover.quantity import Quantity, parse, show, show_range

JUDGEMENT = "engineering judgement"
WINDOW = Parameter("window", "V", 0.5, 100.0, "11.4 V to 12.6 V", "steady limits", JUDGEMENT)
DIP = Parameter("dips", "V", 0.0, 100.0, "10.5 V", "lowest voltage of a dip", JUDGEMENT)
DURATION = Parameter("dips", "s", 1e-7, 60.0, "5 ms", "of a dip", JUDGEMENT)
RUNTIME = Parameter("runtime", "s", 1.0, 400 * 86400.0, "8 h", "asked of the pack", JUDGEMENT)
RECHARGE = Parameter("recharge", "s", 60.0, 400 * 86400.0, "14 h", "until full again", JUDGEMENT)
AMBIENT = Parameter("ambient", "K", 223.15, 358.15, "15 °C to 35 °C", "room temperature", "a room people use")
YEARS = Parameter("years", "s", 86400.0, 50 * 365.25 * 86400.0, "5 years", "of service", JUDGEMENT)
YEAR = 365.25 * 86400.0
POLICIES = ("usual", "strict")
"""Derating policies, the one that holds unless told first; what each keeps in reserve stands with the answers."""

_DIP = re.compile(r"(.+?)\s+for\s+(.+)")


def read(node: Mapping, report: Report) -> Need | None:
    """Read the need; None after a fault that leaves it incomplete."""
    at, window = _text(node, "at").strip("() "), _window(node, report)
    if not at and isinstance(place := node.get("at"), Scalar):
        report(say.bad_value(place.place, "need.at", "", "", "The name of a node is expected.", "at: load"))
    dips = _dips(node, window[0] if window else None, report)
    runtime = _quantity(node, RUNTIME, report)
    recharge = _quantity(node, RECHARGE, report)
    ambient = _quantity(node, AMBIENT, report) or parse(str(AMBIENT.default), "K")
    found, losses = node.get("at"), node.get("losses")
    if not at or not window or not found:
        return None
    return Need(
        at=" ".join(at.split()),
        window=window,
        dips=dips,
        runtime=runtime.nominal if runtime else None,
        recharge=recharge.nominal if recharge else None,
        ambient=(ambient.low, ambient.high),
        outages=outages.read(found_outages, report) if (found_outages := node.get("outages")) else None,
        losses=outages.rate("need", "losses", losses, report) if isinstance(losses, Scalar) else None,
        policy=_policy(node, report),
        years=_years(node, report),
        place=found.place,
    )


def _text(node: Mapping, key: str) -> str:
    found = node.get(key)
    return " ".join(found.text.split()) if isinstance(found, Scalar) else ""


def _policy(node: Mapping, report: Report) -> str:
    written = _text(node, "policy")
    named = {say.folded(name): name for name in POLICIES}
    found = node.get("policy")
    if written and say.folded(written) not in named and isinstance(found, Scalar):
        report(say.unknown_word(found.place, "need.policy", "policy", found.text, POLICIES))
    return named.get(say.folded(written), POLICIES[0])


def _quantity(node: Mapping, p: Parameter, report: Report) -> Quantity | None:
    found = node.get(p.key)
    value = values.read("need", p.key, found, p, report) if isinstance(found, Scalar) else None
    return value if isinstance(value, Quantity) else None


def _window(node: Mapping, report: Report) -> tuple[float, float] | None:
    value, found = _quantity(node, WINDOW, report), node.get("window")
    if not value or not isinstance(found, Scalar):
        return None
    if value.low == value.high:
        low, high = show_range(0.95 * value.nominal, 1.05 * value.nominal, "V", 4).split(" to ")
        problem = "one voltage, and no supply holds one exactly"
        expected = "Two limits are expected, or a tolerance."
        report(
            say.bad_value(
                found.place, "need.window", found.text, problem, expected, f"window: {low} to {high}"
            )
        )
        return None
    return value.low, value.high


def _years(node: Mapping, report: Report) -> float:
    found = node.get("years")
    if isinstance(found, Scalar) and re.fullmatch(r"[0-9.]+", found.text.strip()):
        found = Scalar(f"{found.text.strip()} years", found.place, found.start, found.end)
    value = values.read("need", "years", found, YEARS, report) if isinstance(found, Scalar) else None
    return value.nominal / YEAR if isinstance(value, Quantity) else 5.0


def _dips(node: Mapping, lowest: float | None, report: Report) -> tuple[tuple[float, float], ...]:
    """Dips, the shallow ones first; a deeper one is allowed for a shorter time, or it has no meaning."""
    found = node.get("dips")
    items = found.items if isinstance(found, Sequence) else (found,) if isinstance(found, Scalar) else ()
    dips: list[tuple[float, float, Scalar]] = []
    for item in items:
        if not isinstance(item, Scalar):
            continue
        pair = _DIP.fullmatch(item.text.strip())
        if not pair:
            expected = 'A voltage and a time are expected, such as "10.5 V for 5 ms".'
            problem = "a dip without its voltage or its time"
            report(
                say.bad_value(
                    item.place, "need.dips", item.text, problem, expected, "dips: [10.5 V for 5 ms]"
                )
            )
            continue
        offset = len(item.text) - len(item.text.lstrip())
        volts = values.read(
            "need", "dips", item.part(offset + pair.start(1), offset + pair.end(1)), DIP, report
        )
        time = values.read(
            "need", "dips", item.part(offset + pair.start(2), offset + pair.end(2)), DURATION, report
        )
        if not isinstance(volts, Quantity) or not isinstance(time, Quantity):
            continue
        if lowest is not None and volts.nominal >= lowest:
            problem = (
                f"is {say.quoted(item.text)}, which is no dip: the window allows {show(lowest, 'V')} for ever"
            )
            mend = f"Write a voltage below {show(lowest, 'V')}, or delete it."
            report(say.wrong_order(item.place, "need.dips", problem, "", mend))
            continue
        dips.append((volts.nominal, time.nominal, item))
    dips.sort(key=lambda dip: -dip[0])
    for shallow, deep in pairwise(dips):
        if deep[1] >= shallow[1]:
            deeper, other = say.quoted(deep[2].text), say.quoted(shallow[2].text)
            problem = f"allows {deeper}, not shorter than {other}, which is less deep"
            expected = "A deeper dip is allowed for a shorter time."
            mend = "Exchange the two times, or delete the shallower dip."
            report(say.wrong_order(deep[2].place, "need.dips", problem, expected, mend))
    return tuple((volts, time) for volts, time, _ in dips)
