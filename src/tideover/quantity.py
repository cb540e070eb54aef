"""Text to SI and back: the only place where a unit is read or written.

A builder writes ``15 V ±3 %``, ``35 mΩ -50/+0 %``, ``11.4 V to 12.6 V``, ``18 AWG`` or ``1 h 30 min``;
everything behind this module sees a `Quantity` in coherent SI units with its lower and upper limit. Units are
read as products of known symbols, so ``mΩ/m`` or ``°C/W`` need no entry of their own.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

LONGEST = 120
"""Characters that a quantity may have; longer text is no quantity."""

ZERO_CELSIUS = 273.15
"""Ice point. [K] Exact by definition of the Celsius scale (SI brochure, 9th edition, 2.3.1)."""


@dataclass(frozen=True)
class Quantity:
    """A value with its limits, in SI.

    Attributes
    ----------
    nominal, low, high : float
        ``low <= nominal <= high``, absolute values in `unit`.
    unit : str
        Coherent SI unit, such as ``V``, ``ohm``, ``m^2`` or ``K/W``; ``""`` for a plain number or a fraction.
    text : str
        As it was written.
    """

    nominal: float
    low: float
    high: float
    unit: str
    text: str

    def __str__(self) -> str:
        return self.text


class QuantityError(ValueError):
    """Text that is not the quantity asked for.

    Attributes
    ----------
    text : str
        As written.
    problem : str
        Continues ``X is "text", ...``: what is wrong with it.
    expected : str
        One sentence: what would be right, with an example.
    mend : str
        What to write instead.
    """

    def __init__(self, text: str, problem: str, expected: str, mend: str) -> None:
        super().__init__(f'"{text[:LONGEST]}" is {problem}. {expected} Write: {mend}')
        self.text, self.problem, self.expected, self.mend = text, problem, expected, mend


# --- units ----------------------------------------------------------------------------------------

Dimension = tuple[int, int, int, int, int, int]  # exponents of kg, m, s, A, K, mol
_NONE: Dimension = (0, 0, 0, 0, 0, 0)
_TIME: Dimension = (0, 0, 1, 0, 0, 0)
_AREA: Dimension = (0, 2, 0, 0, 0, 0)
_YEAR = 365.25 * 86400.0

_PREFIXES = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "μ": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}

# Symbols that take a prefix. Spelled-out forms are how people type without a Greek keyboard.
_PREFIXED: dict[str, tuple[float, Dimension]] = {
    "V": (1.0, (1, 2, -3, -1, 0, 0)),
    "A": (1.0, (0, 0, 0, 1, 0, 0)),
    "Ω": (1.0, (1, 2, -3, -2, 0, 0)),
    "ohm": (1.0, (1, 2, -3, -2, 0, 0)),
    "Ohm": (1.0, (1, 2, -3, -2, 0, 0)),
    "ohms": (1.0, (1, 2, -3, -2, 0, 0)),
    "W": (1.0, (1, 2, -3, 0, 0, 0)),
    "J": (1.0, (1, 2, -2, 0, 0, 0)),
    "Wh": (3600.0, (1, 2, -2, 0, 0, 0)),
    "C": (1.0, (0, 0, 1, 1, 0, 0)),
    "Ah": (3600.0, (0, 0, 1, 1, 0, 0)),
    "F": (1.0, (-1, -2, 4, 2, 0, 0)),
    "H": (1.0, (1, 2, -2, -2, 0, 0)),
    "s": (1.0, _TIME),
    "m": (1.0, (0, 1, 0, 0, 0, 0)),
    "g": (1e-3, (1, 0, 0, 0, 0, 0)),
    "K": (1.0, (0, 0, 0, 0, 1, 0)),
    "Hz": (1.0, (0, 0, -1, 0, 0, 0)),
    "mol": (1.0, (0, 0, 0, 0, 0, 1)),
}
# Symbols that stand as they are.
_PLAIN: dict[str, tuple[float, Dimension]] = {
    "%": (1e-2, _NONE),
    "ppm": (1e-6, _NONE),
    "cm": (1e-2, (0, 1, 0, 0, 0, 0)),
    "°C": (1.0, (0, 0, 0, 0, 1, 0)),
    "degC": (1.0, (0, 0, 0, 0, 1, 0)),
    "ΔK": (1.0, (0, 0, 0, 0, 1, 0)),
    **dict.fromkeys(("volt", "volts"), _PREFIXED["V"]),
    **dict.fromkeys(("amp", "amps", "ampere", "amperes"), _PREFIXED["A"]),
    **dict.fromkeys(("watt", "watts"), _PREFIXED["W"]),
    **dict.fromkeys(("sec", "second", "seconds"), (1.0, _TIME)),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), (60.0, _TIME)),
    **dict.fromkeys(("h", "hr", "hour", "hours"), (3600.0, _TIME)),
    **dict.fromkeys(("d", "day", "days"), (86400.0, _TIME)),
    **dict.fromkeys(("week", "weeks"), (7 * 86400.0, _TIME)),
    **dict.fromkeys(("month", "months"), (_YEAR / 12, _TIME)),
    **dict.fromkeys(("year", "years"), (_YEAR, _TIME)),
}

# How each SI unit is spoken of: a noun, an example of the right form.
_SPOKEN: dict[str, tuple[str, str]] = {
    "V": ("a voltage", "12 V"),
    "A": ("a current", "2 A"),
    "ohm": ("a resistance", "35 mΩ"),
    "W": ("a power", "13.2 W"),
    "J": ("an energy", "30 Wh"),
    "C": ("a charge", "2.5 Ah"),
    "F": ("a capacitance", "4.7 mF"),
    "H": ("an inductance", "22 µH"),
    "s": ("a time", "40 ms"),
    "K": ("a temperature", "25 °C"),
    "ΔK": ("a temperature difference", "5 K"),
    "m": ("a length", "2 m"),
    "m^2": ("an area", "0.75 mm²"),
    "kg": ("a mass", "46 g"),
    "1/s": ("a rate", "2 %/month"),
    "Hz": ("a frequency", "300 kHz"),
    "K/W": ("a thermal resistance", "20 K/W"),
    "J/K": ("a heat capacity", "45 J/K"),
    "1/K": ("a temperature coefficient", "50 ppm/K"),
    "V/K": ("a voltage drift", "-2 mV/K"),
    "ohm/m": ("a resistance per length", "26 mΩ/m"),
    "ohm m": ("a resistivity", "70 nΩ·m"),
    "A^2 s": ("a melting integral", "60 A²·s"),
    "W/(m K)": ("a thermal conductivity", "0.2 W/(m·K)"),
    "J/mol": ("an activation energy", "20 kJ/mol"),
    "": ("a plain number or a percentage", "20 %"),
    "%": ("a percentage", "20 %"),
}


def _symbol(name: str) -> tuple[float, Dimension] | None:
    if name in _PLAIN:
        return _PLAIN[name]
    if name in _PREFIXED:
        return _PREFIXED[name]
    if name[:1] in _PREFIXES and name[1:] in _PREFIXED:
        scale, dimension = _PREFIXED[name[1:]]
        return _PREFIXES[name[0]] * scale, dimension
    return None


_FACTOR = re.compile(r"\s*(?:([/()])|[·*]|1(?=\s*/)|([^\W\d_]+|%|°C)(?:\^?(-?[0-9]))?)")


@lru_cache(maxsize=4096)
def _unit(text: str, celsius: bool = False) -> tuple[float, Dimension] | None:
    """Scale and dimension of a unit written as a product; None when a symbol is unknown.

    With `celsius`, a ``C`` is a degree and not a coulomb.
    """
    scale, dimension, position = 1.0, _NONE, 0
    below, inside = False, False  # a "/" was just met; it holds for a whole bracket
    while position < len(text):
        found = _FACTOR.match(text, position)
        if not found:
            return None
        position = found.end()
        mark, name, power = found.groups()
        if mark == "/":
            below = True
        elif mark == "(":
            inside = True
        elif mark == ")":
            below, inside = False, False
        elif name:
            known = _symbol("K" if celsius and name == "C" else name)
            if known is None:
                return None
            exponent = int(power or 1) * (-1 if below else 1)
            scale *= known[0] ** exponent
            dimension = tuple(a + exponent * b for a, b in zip(dimension, known[1]))  # type: ignore[assignment]
            below = below and inside
    return scale, dimension


def _target(unit: str) -> Dimension:
    known = _unit(_clean(unit))
    if known is None:
        raise ValueError(f"{unit!r} is not a unit known to tideover.quantity")
    return known[1]


@lru_cache(maxsize=64)
def _spoken(unit: str) -> tuple[str, str]:
    if unit in _SPOKEN:
        return _SPOKEN[unit]
    return next(
        (words for other, words in _SPOKEN.items() if other and _target(other) == _target(unit)),
        (f"a value in {unit}", f"1 {unit}"),
    )


def _noun(dimension: Dimension) -> str:
    nouns = (words[0] for unit, words in _SPOKEN.items() if _target(unit) == dimension)
    return next(nouns, "a value of another kind")


def expectation(unit: str, example: str = "") -> str:
    """Say what is expected, without the full stop: ``A charge is expected, such as "2.5 Ah"``."""
    noun, usual = _spoken(unit)
    return f'{noun[0].upper()}{noun[1:]} is expected, such as "{example or usual}"'


def usual(unit: str) -> str:
    """An everyday value of that unit, as people write it."""
    return _spoken(unit)[1]


# --- reading --------------------------------------------------------------------------------------

_THOUSANDS = r"[0-9]{1,3}(?: [0-9]{3})+(?![0-9])"
_UNSIGNED = rf"(?:{_THOUSANDS}(?:\.[0-9]*)?|[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = rf"[+-]?\s?{_UNSIGNED}"
_TERM = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_COMPOUND = re.compile(rf"({_NUMBER})\s*([^\W\d_]+)\s*")
_LIMITS = re.compile(rf"(.+?)\s*([+-]\s?{_UNSIGNED})\s*([^/]*?)\s*/\s*([+-]\s?{_UNSIGNED})\s*(.*)")
_HYPHEN_RANGE = re.compile(r"([0-9.]+)-([0-9.]+\s*[^\d\s+-].*)")
_GAUGE = re.compile(r"(?:AWG\s*([0-9]+|[1-4]/0)|([0-9]+|[1-4]/0)\s*AWG)", re.IGNORECASE)
_SUPERSCRIPT = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")


@lru_cache(maxsize=4096)
def _clean(text: str) -> str:
    """One spelling for what keyboards and word processors write in many."""
    text = re.sub("[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", lambda m: "^" + m[0].translate(_SUPERSCRIPT), text.replace("º", "°"))
    text = unicodedata.normalize("NFKC", text).replace("−", "-").replace("deg C", "degC")
    text = re.sub(r"\+\s?/?\s?-|∓", "±", text)
    text = re.sub(r"(?<=[\w%°])\s*(?:[–—]|\.\.\.?)\s*(?=[0-9.+-])", " to ", text)
    text = re.sub(r"\s*[×x*]\s*10\^([+-]?[0-9]+)", r"e\1", text)
    text = re.sub(r"\bper\b", "/", text)
    return " ".join(re.sub("[–—]", "-", text).split())


@dataclass(frozen=True)
class _Reader:
    """What is asked for, kept together so that every complaint can name it."""

    text: str
    unit: str
    example: str

    @property
    def bare(self) -> bool:
        return self.unit in ("", "%")

    def error(self, problem: str, mend: str = "", expected: str = "") -> QuantityError:
        return QuantityError(
            self.text, problem, expected or expectation(self.unit, self.example) + ".", mend or self.example
        )

    def number(self, text: str) -> float:
        value = float(text.replace(" ", ""))
        if not math.isfinite(value):
            raise self.error("a number too large to mean anything")
        return value

    def term(self, text: str, heir: str = "") -> tuple[float, str]:
        """Value in SI and unit as written of one number with its unit; `heir` is a unit said elsewhere."""
        gauge = _GAUGE.fullmatch(text)
        if gauge and _target(self.unit) == _AREA:
            return self.gauge(gauge[1] or gauge[2]), "AWG"
        found = _TERM.fullmatch(text)
        if not found:
            raise self.error("not a number with a unit" if not self.bare else "not a number")
        number, written = self.number(found[1]), found[2].strip() or heir
        if not written:
            if not self.bare:
                raise self.error("a number without a unit", f"{text} {self.example.lstrip('-0123456789. ')}")
            return number, ""
        if _target(self.unit) == _TIME:
            parts = list(_COMPOUND.finditer(text))
            if len(parts) > 1 and "".join(p[0] for p in parts) == text:
                return sum(self.number(p[1]) * self.scale(p[2]) for p in parts), written
        if self.unit == "K" and written in ("°C", "C", "degC"):
            return number + ZERO_CELSIUS, written
        return number * self.scale(written), written

    def scale(self, written: str) -> float:
        """SI size of a unit as written, once it is known to measure the right thing."""
        target = _target(self.unit)
        for celsius in (False, True):
            known = _unit(written, celsius)
            if known and known[1] == target:
                return known[0]
        known = _unit(written)
        if known:
            raise self.error(_noun(known[1]) if known[1] != _NONE else "a percentage")
        near = self.near(written)
        mend = self.text.replace(written, near) if near and written in self.text else ""
        raise self.error(f'written in "{written[:40]}", which is no unit known here', mend)

    def near(self, written: str) -> str:
        """The unit that was meant when only the case of its letters is wrong: ``v``, ``KOHM``, ``mv``."""
        target = _target(self.unit)
        for name in (*_PREFIXED, *_PLAIN):
            for prefix in ("", *_PREFIXES):
                known = _symbol(prefix + name)
                if known and known[1] == target and (prefix + name).lower() == written.lower():
                    return prefix + name
        return ""

    def gauge(self, number: str) -> float:
        """Area of a wire gauge: ASTM B258, 0.127 mm at 36 and a ratio of 92 over 39 steps; 2/0 is -1."""
        n = 1 - int(number[0]) if number.endswith("/0") else int(number)
        if n > 44:
            raise self.error("a wire gauge finer than any wire", "18 AWG")
        return math.pi / 4 * (0.127e-3 * 92 ** ((36 - n) / 39)) ** 2

    def margin(self, number: float, written: str, nominal: float, own: str, said: str) -> float:
        """Absolute size of a tolerance given as a number and its unit."""
        relative = _unit(written)
        if not written and not self.bare:
            unit = own if own != "AWG" else "mm^2"
            raise self.error(
                "a value whose tolerance has no unit",
                f"{said} ±{abs(number):g} %, or {said} ±{abs(number):g} {unit}",
                "A tolerance is expected as a percentage or in the unit of the value.",
            )
        if relative and relative[1] == _NONE and written:
            if own in ("%", "ppm"):
                low, high = (show(nominal * s + t * number * relative[0], "%") for s, t in ((1, -1), (1, 1)))
                raise self.error(
                    "a percentage of a percentage, which can be read in two ways",
                    f"{low} to {high}",
                    "The two limits are expected.",
                )
            if self.unit == "K":
                problem = "a temperature with a tolerance in percent, which has no meaning"
                raise self.error(problem, f"{said} ±{abs(number):g} K")
            return number * relative[0] * abs(nominal)
        try:
            return number * (self.scale(written) if written else 1.0)
        except QuantityError as error:
            mend = self.example if own in ("%", "ppm") or self.unit == "K" else f"{said} ±{abs(number):g} %"
            raise self.error(f"a value whose tolerance is {error.problem}", mend) from None

    def read(self) -> Quantity:
        clean = _clean(self.text)
        if not clean:
            raise self.error("empty")
        if len(self.text) > LONGEST:
            raise self.error("too long to be a value")
        if re.search(r"[0-9],[0-9]", clean):
            raise self.error(
                "written with a comma",
                self.text.replace(",", "."),
                "A decimal point is expected, and a space or nothing between thousands.",
            )
        low, nominal, high = self.limits(clean)
        if not low <= nominal <= high:
            raise self.error(
                "a value outside its own tolerance", expected="A tolerance reaches to both sides, or to zero."
            )
        if not (math.isfinite(low) and math.isfinite(high)):
            raise self.error("a number too large to mean anything")
        return Quantity(nominal, low, high, self.unit, self.text)

    def limits(self, clean: str) -> tuple[float, float, float]:
        hyphen = _HYPHEN_RANGE.fullmatch(clean)
        ends = list(hyphen.groups()) if hyphen else re.split(r"\s+to\s+", clean)
        if len(ends) == 2:
            high, written = self.term(ends[1])
            low, _ = self.term(ends[0], written)
            if low > high:
                own = ends[0].lstrip("+-0123456789.eE ")
                raise self.error(
                    "a range whose first limit is the larger",
                    f"{ends[1]} to {ends[0]}" + ("" if own else f" {written}"),
                    "The lower limit comes first.",
                )
            return low, (low + high) / 2, high
        if len(ends) > 2:
            raise self.error("a range with more than two ends")
        if "±" in clean:
            return self.tolerance(clean)
        both = _LIMITS.fullmatch(clean)
        if not both:
            value, _ = self.term(clean)
            return value, value, value
        said, first, unit_first, second, unit_second = both.groups()
        nominal, own = self.term(said, "" if _unit(unit_second) in (None, _unit("%")) else unit_second)
        margins = [
            self.margin(self.number(number), written, nominal, own, said)
            for number, written in ((first, unit_first or unit_second), (second, unit_second))
        ]
        return nominal + min(margins), nominal, nominal + max(margins)

    def tolerance(self, clean: str) -> tuple[float, float, float]:
        said, _, rest = clean.partition("±")
        said, found = said.strip(), _TERM.fullmatch(rest.strip())
        if not found or found[1][0] in "+-":
            raise self.error("a value whose tolerance is no number", f"{said} ±5 %")
        written = found[2].strip()
        nominal, own = self.term(said, "" if _unit(written) in (None, _unit("%"), _unit("ppm")) else written)
        margin = self.margin(self.number(found[1]), written, nominal, own, said)
        return nominal - margin, nominal, nominal + margin


def parse(text: str, unit: str, example: str = "") -> Quantity:
    """Read a quantity with its tolerance or range.

    Parameters
    ----------
    text : str
        As a person writes it.
    unit : str
        Coherent SI unit that the value must have; ``""`` for a plain number or a percentage; ``K`` reads
        ``25 °C`` as an absolute temperature, ``ΔK`` reads a difference.
    example : str, optional
        An example of the right form for the complaint, if there is a better one than that of the unit.

    Returns
    -------
    Quantity
        In SI, with absolute limits. A range has its nominal value in the middle.

    Raises
    ------
    QuantityError
        Wrong or missing unit, no number, decimal comma, limits in the wrong order.

    Examples
    --------
    >>> q = parse("4.7 mF -20/+50 %", "F")
    >>> round(q.low * 1e3, 6), round(q.nominal * 1e3, 6), round(q.high * 1e3, 6)
    (3.76, 4.7, 7.05)
    """
    return _Reader(text, unit, example or _spoken(unit)[1]).read()


def exact(value: float, unit: str) -> Quantity:
    """Make a quantity without tolerance from a value in SI."""
    return Quantity(value, value, value, unit, show(value, unit, 6))


# --- writing --------------------------------------------------------------------------------------


def _digits(value: float, digits: int) -> str:
    """Write with so many significant digits, without an exponent.

    A value that is exact in fewer digits is written shorter (38, not 38.0); zeros from rounding stay.
    """
    rounded = float(f"{value:.{digits - 1}e}")
    if rounded == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{rounded:.{decimals}f}"
    if "." in text and math.isclose(rounded, value, rel_tol=1e-9):
        text = text.rstrip("0").rstrip(".")
    return text


def _engineering(value: float, symbol: str, digits: int, smallest: int = -12, largest: int = 9) -> str:
    rounded = float(f"{value:.{digits - 1}e}")
    power = 0 if rounded == 0 else 3 * math.floor(math.floor(math.log10(abs(rounded))) / 3)
    power = min(max(power, smallest), largest)
    prefix = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}[power]
    return f"{_digits(value / 10.0**power, digits)} {prefix}{symbol}"


def _time(value: float, digits: int) -> str:
    """Seconds as people say them: prefixes below two minutes, then the two largest of d, h, min, s."""
    size = abs(value)
    if size < 120:
        return _engineering(value, "s", digits, largest=0)
    if size >= 2 * _YEAR:
        return f"{_digits(value / _YEAR, digits)} years"
    steps = (("d", 86400), ("h", 3600), ("min", 60), ("s", 1))
    for _ in range(2):  # rounding may carry into the next larger unit
        first = 0 if size >= 172800 else 1 if size >= 3600 else 2
        last = min(3, first + (1 if digits <= 3 else 2))
        size = left = round(size / steps[last][1]) * steps[last][1]
    parts = []
    for name, seconds in steps[first : last + 1]:
        count, left = divmod(left, seconds)
        if count:
            parts.append(f"{count} {name}")
    return ("-" if value < 0 else "") + " ".join(parts)


def _temperature(value: float, digits: int) -> str:
    """Degrees Celsius; below 100 K, where none of this works, it can only be a difference."""
    if abs(value) < 100:
        return f"{_digits(value, digits)} K"
    return f"{_digits(round(value - ZERO_CELSIUS, 9), digits)} °C"


def _area(value: float, digits: int) -> str:
    scale, symbol = (1e6, "mm²") if abs(value) < 1e-4 else (1e4, "cm²") if abs(value) < 1.0 else (1.0, "m²")
    return f"{_digits(value * scale, digits)} {symbol}"


def _coefficient(value: float, digits: int) -> str:
    ppm = abs(value) < 1e-3
    return f"{_digits(value * (1e6 if ppm else 1e2), digits)} {'ppm' if ppm else '%'}/K"


def _charge(value: float, digits: int) -> str:
    if abs(value) >= 3.6:
        return _engineering(value / 3600, "Ah", digits, smallest=-3)
    return _engineering(value, "C", digits)


def _energy(value: float, digits: int) -> str:
    if abs(value) >= 180:  # the trade counts in watt-hours, down to a twentieth of one
        return _engineering(value / 3600, "Wh", digits)
    return _engineering(value, "J", digits)


def _scaled(symbol: str, smallest: int = -12, largest: int = 9) -> Callable[[float, int], str]:
    return lambda value, digits: _engineering(value, symbol, digits, smallest, largest)


_SHOWN: dict[str, Callable[[float, int], str]] = {
    "": _digits,
    "%": lambda value, digits: f"{_digits(100 * value, digits)} %",
    "s": _time,
    "K": _temperature,
    "ΔK": lambda value, digits: f"{_digits(value, digits)} K",
    "C": _charge,
    "J": _energy,
    "m": _scaled("m", smallest=-9, largest=3),
    "m^2": _area,
    "kg": lambda value, digits: _engineering(value * 1e3, "g", digits, largest=3),
    "1/K": _coefficient,
    "1/s": lambda value, digits: f"{_digits(value * _YEAR / 12 * 100, digits)} %/month",
    "V": _scaled("V"),
    "A": _scaled("A"),
    "W": _scaled("W"),
    "H": _scaled("H"),
    "Hz": _scaled("Hz"),
    "F": _scaled("F", largest=0),
    "ohm": _scaled("Ω"),
    "ohm/m": _scaled("Ω/m"),
    "ohm m": _scaled("Ω·m"),
    "V/K": _scaled("V/K"),
    "J/mol": _scaled("J/mol"),
}


def show(value: float, unit: str, digits: int = 3) -> str:
    """Write a value as a person would.

    Parameters
    ----------
    value : float
        In SI.
    unit : str
        Coherent SI unit; ``K`` is shown as a temperature in °C (below 100 K as a difference), ``ΔK`` as a
        difference in K, ``%`` as a percentage.
    digits : int
        Significant digits. Zeros at the end are left out where the value is exact without them.

    Returns
    -------
    str
        ``9.2 ms``, ``4.70 mF``, ``8 h 10 min``, ``25 °C``; ``parse`` reads it back.

    Examples
    --------
    >>> show(0.0092, "s"), show(29400, "s"), show(298.15, "K"), show(9000, "C"), show(0.047031, "ohm")
    ('9.2 ms', '8 h 10 min', '25 °C', '2.5 Ah', '47.0 mΩ')
    """
    value = float(value)
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return "without limit" if value > 0 else "without lower limit"
    written = _SHOWN.get(unit)
    if written:
        return written(value, digits)
    symbol = unit.replace("^2", "²").replace("^3", "³").replace("ohm", "Ω").replace(" ", "·")
    return f"{_digits(value, digits)} {symbol}"


def show_range(low: float, high: float, unit: str, digits: int = 3) -> str:
    """Write two limits: ``11.4 V to 12.6 V``."""
    return f"{show(low, unit, digits)} to {show(high, unit, digits)}"
