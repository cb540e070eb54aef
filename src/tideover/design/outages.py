"""How often and how long mains fails, read from the file: one line of text, keys, or the name of a log.

The line is cut at its key words, so that ``6 a year, lognormal median 52 min spread 1.3`` says the same as
``{rate: 6 a year, law: lognormal, median: 52 min, spread: 1.3}``.
"""

from __future__ import annotations

import math
import re

from tideover.design import messages as say
from tideover.design import outage_log, values
from tideover.design.model import Outages, Place, Slots
from tideover.design.source import Mapping, Node, Scalar, Sequence
from tideover.design.values import Report
from tideover.laws import outages as law
from tideover.parts.base import Parameter
from tideover.quantity import Quantity

WHERE = "need.outages"
EXAMPLE = "outages: 12 a year, mean 2 h"
JUDGEMENT = "engineering judgement"
YEAR = 365.25 * 86400.0
DAY = 86400.0
MOST = 5000.0
"""Outages a year; the weakest grids have several a day."""
LAWS = ("lognormal", "exponential")
KEYS = (
    "rate",
    "mean",
    "median",
    "each",
    "spread",
    "law",
    "follow-on",
    "short ones",
    "slots",
    "days",
    "chance",
    "log",
    "from",
    "to",
)
OF_LOG = ("log", "from", "to")
OF_SLOTS = ("slots", "days", "chance")

LENGTH = ("s", 0.1, 30 * DAY, "2 h")
MEAN = Parameter("mean", *LENGTH, "duration of an outage", JUDGEMENT)
MEDIAN = Parameter("median", *LENGTH, "duration that half of them reach", JUDGEMENT)
EACH = Parameter("each", *LENGTH, "duration of every one", JUDGEMENT)
SPREAD = Parameter("spread", "", 0.05, 3.0, 1.3, "deviation of the logarithm of the duration", JUDGEMENT)
FOLLOW_ON = Parameter("follow-on", "", 0.0, 0.9, 0.2, "share of outages after which another follows", JUDGEMENT)
WITHIN = Parameter("follow-on", "s", 60.0, 30 * DAY, "24 h", "until that other", JUDGEMENT)
CHANCE = Parameter("chance", "", 0.0, 1.0, 0.8, "that a slot is used", JUDGEMENT)

PERIODS = {"year": YEAR, "month": YEAR / 12, "week": 7 * DAY, "day": DAY}
_RATE = re.compile(
    r"(once|twice|[0-9][0-9 ]*\.?[0-9]*)\s*(?:times\s+)?(?:per|an?|each|every|/)\s*(year|month|week|day)"
)
_WORD = re.compile(
    r"\b(log-?normal|exponential|rate|mean|median|each|spread|law|short[ -]ones|follow[ -]on)\b", re.IGNORECASE
)
_LOG = re.compile(r".+\.(csv|tsv|txt)", re.IGNORECASE)
_CLOCK = r"([01]?[0-9]|2[0-4]):([0-5][0-9])"
_SPAN = re.compile(rf"{_CLOCK}\s*(?:to|-|–)\s*{_CLOCK}")
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SEVERAL = {"every day": range(7), "daily": range(7), "weekdays": range(5), "weekends": range(5, 7)}

Found = dict[str, Node]


def typical(place: Place, text: str = "") -> Outages:
    """Outages of a good public grid, for want of anything better."""
    words = ("rate", "mean", "spread", "follow-on", "short ones")
    of_law = (law.RATE, LAWS[0], law.MEAN_DURATION, law.SIGMA, law.FOLLOW_ON, law.WITHIN, law.SHORT_RATE)
    return Outages(text, *of_law, None, None, words, place)


def read(node: Node, report: Report) -> Outages | None:
    """Read what stands under ``outages``; None after a fault."""
    faults = 0

    def counted(fault: say.Fault) -> None:
        nonlocal faults
        faults += 1
        report(fault)

    if isinstance(node, Scalar):
        text = " ".join(node.text.split())
        if say.folded(text) == "typical":
            return typical(node.place, text)
        if say.folded(text) == "none":
            return _pattern({"rate": node, "short ones": node}, text, node.place, counted)
        found: Found = {"log": node} if _LOG.fullmatch(text) else _spoken(node)
    elif isinstance(node, Mapping):
        found = _keys(node, counted)
        text = ", ".join(f"{key} {_said(value)}" for key, value in found.items())
    else:  # a list is refused by the shape of the file
        return None
    if not found:
        if not faults:
            _refuse(node, counted)
        return None
    read_as = _log if "log" in found else _pattern
    outages = read_as(found, text, node.place, counted)
    return None if faults else outages


def rate(owner: str, key: str, node: Scalar, report: Report) -> float | None:
    """Read how often: ``12 a year``, ``2 per week``, ``once a month``, ``none``. [1/s]"""
    text = " ".join(node.text.split()).casefold()
    if text in ("none", "never"):
        return 0.0
    found = _RATE.fullmatch(text)
    example = f"{key}: {'1 a year' if key == 'losses' else '12 a year'}"
    expected = 'How often is expected, such as "12 a year", "2 a week" or "none".'
    if not found:
        problem = "which does not say how often"
        report(say.bad_value(node.place, f"{owner}.{key}", node.text, problem, expected, example))
        return None
    count = {"once": 1.0, "twice": 2.0}.get(found[1]) or float(found[1].replace(" ", ""))
    a_year = count * YEAR / PERIODS[found[2]]
    if a_year > MOST:
        problem = f"which is more than {MOST:.0f} a year"
        report(say.out_of_range(node.place, f"{owner}.{key}", node.text, problem, expected, example))
        return None
    return a_year / YEAR


# --- what stands there ---------------------------------------------------------------------------------


def _spoken(node: Scalar) -> Found:
    """The line cut at its key words; what stands before the first is the rate. Empty where it cannot be followed."""
    text = node.text
    cuts = [(m.start(), m.end(), say.folded(m[1])) for m in _WORD.finditer(text)]
    pieces = [(0, "rate"), *((end, key) for _, end, key in cuts)]
    ends = [*(start for start, _, _ in cuts), len(text)]
    found: Found = {}
    for (start, key), end, (begin, stop, _) in zip(pieces, ends, [(0, 0, ""), *cuts]):
        said = text[start:end].strip(" ,;:")
        first = start + (text[start:end].find(said) if said else 0)
        value = node.part(first, first + len(said))
        if key in ("lognormal", "log normal", "exponential"):
            if said:
                return {}
            key, value = "law", node.part(begin, stop)
        key = "follow-on" if key == "follow on" else key
        if not said and key == "rate" and cuts:
            continue
        if not value.text or key in found:
            return {}
        found[key] = value
    return found if "rate" in found and (len(found) > 1 or _RATE.fullmatch(text.strip().casefold())) else {}


def _keys(node: Mapping, report: Report) -> Found:
    known = {say.folded(key): key for key in KEYS}
    found: Found = {}
    for key, value in node.entries:
        name = known.get(say.folded(key.text))
        if name is None:
            report(say.unknown_key(key.place, WHERE, key.text, KEYS))
        elif name not in ("slots", "days") and not isinstance(value, Scalar):
            what = "a list" if isinstance(value, Sequence) else "a set of keys"
            mend = f"Write: {name}: ..., or see the keys of outages."
            report(say.wrong_shape(value.place, f"{WHERE}.{name}", what, "One value is expected.", mend))
        else:
            found[name] = value
    return found


def _said(node: Node) -> str:
    if isinstance(node, Sequence):
        return " and ".join(_said(item) for item in node.items)
    return " ".join(node.text.split()) if isinstance(node, Scalar) else ""


def _refuse(node: Node, report: Report) -> None:
    expected = 'How often and how long is expected, such as "12 a year, mean 2 h", or keys, or the name of a log.'
    text = node.text if isinstance(node, Scalar) else ""
    report(say.bad_value(node.place, WHERE, text, "no outages that can be followed", expected, EXAMPLE))


# --- a pattern -------------------------------------------------------------------------------------------


def _pattern(found: Found, text: str, place: Place, report: Report) -> Outages | None:
    """A rate, a law of duration, what follows, short ones and slots; what is not written is typical."""
    for owner, keys, mend in (
        ("slots", OF_SLOTS[1:], "Write: slots: [18:00 to 20:30]"),
        ("a log", OF_LOG[1:], "Write: log: outages.csv, or delete it."),
    ):
        for key in keys:
            if key in found and not (owner == "slots" and "slots" in found):
                report(say.wrong_order(found[key].place, f"{WHERE}.{key}", f"stands without {owner}", "", mend))
    slots = _slots(found, report) if "slots" in found else None
    planned = slots is not None
    assumed = [] if planned or "rate" in found else ["rate"]
    if planned and "rate" not in found:
        often, lasting = 0.0, (LAWS[0], law.MEAN_DURATION, law.SIGMA)
    else:
        often = _rate(found, "rate", law.RATE, report)
        lasting = _lasting(found, assumed, report) if often > 0.0 else (LAWS[0], law.MEAN_DURATION, law.SIGMA)
    follow, within = law.FOLLOW_ON, law.WITHIN
    if (node := found.get("follow-on")) and isinstance(node, Scalar):
        follow, within = _follow_on(node, report)
    elif often > 0.0:
        assumed.append("follow-on")
    if "short ones" not in found and not planned:
        assumed.append("short ones")
    short = _rate(found, "short ones", 0.0 if planned else law.SHORT_RATE, report)
    return Outages(text, often, *lasting, follow, within, short, slots, None, tuple(assumed), place)


def _rate(found: Found, key: str, otherwise: float, report: Report) -> float:
    node = found.get(key)
    return (rate(WHERE, key, node, report) or 0.0) if isinstance(node, Scalar) else otherwise


def _value(found: Found, key: str, p: Parameter, report: Report) -> float | None:
    node = found.get(key)
    value = values.read(WHERE, key, node, p, report) if node else None
    return value.nominal if isinstance(value, Quantity) else None


def _lasting(found: Found, assumed: list[str], report: Report) -> tuple[str, float, float]:
    """Law, mean and spread of the durations."""
    given = [key for key in ("mean", "median", "each") if key in found]
    if len(given) > 1:
        problem = f"stands beside {given[0]}, and one of them says it all"
        report(say.wrong_order(found[given[1]].place, f"{WHERE}.{given[1]}", problem, "", "Delete one of the two."))
        return LAWS[0], law.MEAN_DURATION, law.SIGMA
    if "each" in found:
        for key in ("spread", "law"):
            if key in found:
                problem = "stands beside each, which says that all last alike"
                report(say.wrong_order(found[key].place, f"{WHERE}.{key}", problem, "", "Delete one of the two."))
        return "each", _value(found, "each", EACH, report) or 1.0, 0.0
    word = found.get("law")
    name = say.folded(word.text).replace(" ", "") if isinstance(word, Scalar) else LAWS[0]
    if isinstance(word, Scalar) and name not in LAWS:
        report(say.unknown_word(word.place, f"{WHERE}.law", "law", word.text, LAWS))
        name = LAWS[0]
    if name == "exponential" and "spread" in found:
        problem = "stands beside exponential, whose spread is fixed"
        report(say.wrong_order(found["spread"].place, f"{WHERE}.spread", problem, "", "Delete one of the two."))
    spread = _value(found, "spread", SPREAD, report)
    if "spread" not in found and name == "lognormal":
        assumed.append("spread")
    sigma = (law.SIGMA if spread is None else spread) if name == "lognormal" else 0.0
    if "median" in found:
        median = _value(found, "median", MEDIAN, report) or 1.0
        mean = median * math.exp(0.5 * sigma**2) if name == "lognormal" else median / math.log(2.0)
        return name, mean, sigma
    if "mean" not in found:
        assumed.append("mean")
    return name, _value(found, "mean", MEAN, report) or law.MEAN_DURATION, sigma


def _follow_on(node: Scalar, report: Report) -> tuple[float, float]:
    """Share, and within which time."""
    if say.folded(node.text) in ("none", "no"):
        return 0.0, law.WITHIN
    share, _, time = node.text.partition("within")
    parts: Found = {"follow-on": node.part(0, len(share.rstrip()))}
    first = _value(parts, "follow-on", FOLLOW_ON, report)
    if not time.strip():
        return first or 0.0, law.WITHIN
    begin = len(node.text) - len(time.lstrip())
    second = _value({"follow-on": node.part(begin, len(node.text))}, "follow-on", WITHIN, report)
    return first or 0.0, second or law.WITHIN


# --- slots -----------------------------------------------------------------------------------------------


def _slots(found: Found, report: Report) -> Slots:
    spans = []
    for item in _items(found["slots"]):
        m = _SPAN.fullmatch(" ".join(item.text.split()))
        begin = int(m[1]) * 60 + int(m[2]) if m else 0
        end = int(m[3]) * 60 + int(m[4]) if m else 0
        if m is None or max(begin, end) > 24 * 60 or begin == end:
            expected = 'Two times of the day are expected, such as "18:00 to 20:30".'
            problem = "no slot of the day"
            mend = "slots: [18:00 to 20:30]"
            report(say.bad_value(item.place, f"{WHERE}.slots", item.text, problem, expected, mend))
            continue
        spans.append((begin * 60.0, (end if end > begin else end + 24 * 60) * 60.0))
    days = _days(found["days"], report) if "days" in found else tuple(range(7))
    chance = _value(found, "chance", CHANCE, report)
    return Slots(tuple(sorted(spans)), days, 1.0 if chance is None else chance)


def _items(node: Node) -> tuple[Scalar, ...]:
    """Values of a list, or those of a text with commas or ``and`` between them."""
    if isinstance(node, Sequence):
        return tuple(item for item in node.items if isinstance(item, Scalar))
    if not isinstance(node, Scalar):
        return ()
    out, begin = [], 0
    for cut in [*re.finditer(r"\s*(?:,|;|\band\b)\s*", node.text), None]:
        end = cut.start() if cut else len(node.text)
        out.append(node.part(begin, end))
        begin = cut.end() if cut else end
    return tuple(out)


def _days(node: Node, report: Report) -> tuple[int, ...]:
    days: set[int] = set()
    for item in _items(node):
        said = " ".join(item.text.split()).casefold()
        ends = [_day(word) for word in re.split(r"\s*(?:-|–|\bto\b)\s*", said)]
        if said in _SEVERAL:
            days |= set(_SEVERAL[said])
        elif None not in ends and len(ends) == 1:
            days.add(ends[0] or 0)
        elif None not in ends and len(ends) == 2:
            first, last = ends[0] or 0, ends[1] or 0
            days |= {(first + k) % 7 for k in range((last - first) % 7 + 1)}
        else:
            expected = 'Weekdays are expected, such as "mon-fri", "sat" or "every day".'
            problem = "no day of the week"
            report(say.bad_value(item.place, f"{WHERE}.days", item.text, problem, expected, "days: mon-fri"))
    return tuple(sorted(days))


def _day(word: str) -> int | None:
    names = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    return next((k for k, name in enumerate(names) if len(word) >= 3 and name.startswith(word)), None)


# --- a log -----------------------------------------------------------------------------------------------


def _log(found: Found, text: str, place: Place, report: Report) -> Outages | None:
    for key in found:
        if key not in OF_LOG:
            problem = "stands beside a log, which says it all"
            mend = "Delete it, or delete the log."
            report(say.wrong_order(found[key].place, f"{WHERE}.{key}", problem, "", mend))
    file, since, until = (found.get(key) for key in OF_LOG)
    if not isinstance(file, Scalar):
        return None
    limits = [node if isinstance(node, Scalar) else None for node in (since, until)]
    log = outage_log.read(file, limits[0], limits[1], report)
    if log is None:
        return None
    count = len(log.spans)
    mean = sum(end - begin for begin, end in log.spans) / count
    return Outages(text, count / log.lasts, "each", mean, 0.0, 0.0, law.WITHIN, 0.0, None, log, (), place)
