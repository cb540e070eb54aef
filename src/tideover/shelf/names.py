"""Finds a part by what people call it: case, spaces, word order, plurals, spelling of units do not matter."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from tideover.shelf.reading import Item, items

LONGEST = 200
"""Characters of a name that are compared when the nearest is sought."""
_PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3}
_QUANTITY = re.compile(r"(?<![\w.])([0-9]+(?:\.[0-9]+)?) ?(p|n|u|m|k)?(ohms?|ah|v|a|w|f|h)\b")
_OTHER_UNIT = re.compile(r"(?<=[0-9]) (mm2|m|awg|um)\b")
_IN_SERIES = re.compile(r"\b([0-9]{1,2}) ?(?:series|cells?|s)\b")
_SPELLINGS = str.maketrans({"×": "x", "μ": "u", "ω": "ohm", "–": "-", "—": "-", "−": "-"})
_FILLERS = {"with", "and", "the", "of", "for", "in"}


def _base(found: re.Match[str]) -> str:
    """2200 uf and 2.2 mf are one capacitance: both become 0.0022f."""
    number, prefix, unit = found.groups()
    return f"{float(number) * _PREFIX[prefix or '']:.6g}{unit.rstrip('s')} "


def words(text: str) -> tuple[str, ...]:
    """The words of a name in a single spelling, sorted; equal for names that mean the same.

    Examples
    --------
    >>> words("Electrolytic, 2200 µF 35V") == words("2.2 mF 35 V electrolytics")
    True
    """
    text = unicodedata.normalize("NFKC", text).lower().translate(_SPELLINGS)
    text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    text = re.sub(r"[0-9]+\.[0-9]+", lambda number: f"{float(number[0]):g}", text)
    text = re.sub(r"(?<=[0-9]) *[x*] *(?=[0-9])", "x", text)
    text = " ".join(re.sub(r"[^a-z0-9./+%]", " ", text).split())
    text = re.sub(r"(?<=[0-9]) ?mm\b", " ", text)
    text = _OTHER_UNIT.sub(r"\1", _IN_SERIES.sub(r"\1s ", _QUANTITY.sub(_base, text)))
    kept = (word.strip(".") for word in text.split() if word not in _FILLERS)
    return tuple(sorted(_singular(word) for word in kept if word))


def _singular(word: str) -> str:
    if word.endswith(("ches", "shes", "xes")):
        return word[:-2]
    return word[:-1] if len(word) > 3 and word.isalpha() and word.endswith("s") and word[-2] != "s" else word


@cache
def _known() -> dict[tuple[str, ...], Item | None]:
    """Every name and alias; None where two parts claim the same one."""
    known: dict[tuple[str, ...], Item | None] = {}
    for item in items():
        for spelling in {words(name) for name in (item.name, *item.aliases)}:
            known[spelling] = None if spelling in known else item
    return known


@cache
def _all_words() -> tuple[tuple[Item, frozenset[str], frozenset[str]], ...]:
    """Of every item, the words of its names and those of everything said of it."""
    return tuple(
        (
            item,
            frozenset(words(" ".join((item.name, *item.aliases)))),
            frozenset(words(" ".join((item.name, *item.aliases, item.kind, item.about, item.family)))),
        )
        for item in items()
    )


def find(text: str) -> Item | None:
    """The part called so, or None when no part, or more than one, answers to the name.

    Parameters
    ----------
    text : str
        A name or an alias, in any case and word order; ``x`` does for ``×``, ``u`` for ``µ``.

    Examples
    --------
    >>> find("Blade fuse, 7.5A").name
    '7.5 A blade fuse'
    """
    return _known().get(words(text))


def nearest(text: str, n: int = 3) -> list[str]:
    """Names of up to `n` parts that may have been meant, best first; empty when nothing is like it."""
    from difflib import SequenceMatcher

    wanted = words(text[:LONGEST])
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(" ".join(wanted))
    scores: dict[str, float] = {}
    for spelling, item in _known().items():
        if item is None or not wanted:
            continue
        matcher.set_seq1(" ".join(spelling))
        shared = len(set(spelling) & set(wanted))
        alike = matcher.ratio() if matcher.quick_ratio() > 0.4 else 0.0
        score = shared / len(set(wanted)) + 0.5 * shared / len(set(spelling) | set(wanted)) + alike
        scores[item.name] = max(score, scores.get(item.name, 0.0))
    ranked = sorted(scores, key=lambda name: -scores[name])
    return [name for name in ranked if scores[name] > 0.65][: max(n, 0)]


def search(text: str) -> list[Item]:
    """All parts of which every word of `text` is said, those first whose names contain them all.

    A word matches any that begins with it (``resist`` finds resistors); a number with its unit must be equal.
    No words find everything.
    """
    wanted = words(text)
    named: list[Item] = []
    told: list[Item] = []
    for item, names, everything in _all_words():
        if _contains(names, wanted):
            named.append(item)
        elif _contains(everything, wanted):
            told.append(item)
    return named + told


def _contains(known: frozenset[str], wanted: tuple[str, ...]) -> bool:
    return all(
        word in known or (word.isalpha() and any(other.startswith(word) for other in known))
        for word in wanted
    )
