"""Writes the small logs of the tests, one for each quirk, from one record: ``python tests/cells/make_logs.py``.

The record is a formula: an open-circuit voltage that falls in a straight line with charge, and a series resistance.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).with_name("logs")
CAPACITY, RESISTANCE, FULL, EMPTY = 3600.0, 0.06, 4.15, 3.05


def voltage(t, i):
    """Of the cell of the tests, full at the first row. [V]"""
    q = np.concatenate([[0.0], np.cumsum(np.diff(t) * 0.5 * (i[1:] + i[:-1]))])
    return np.round(FULL - (FULL - EMPTY) * q / CAPACITY - RESISTANCE * i, 4)


T = np.arange(24) * 60.0
I = np.where((T >= 120.0) & (T <= 1200.0), 2.5, 0.0)
V = voltage(T, I)
TEMP = 25.0 + np.round(0.2 * np.arange(24), 1)
Q = np.concatenate([[0.0], np.cumsum(np.diff(T) * 0.5 * (I[1:] + I[:-1]))])
# With a charge after the discharge.
T2 = np.arange(44) * 60.0
I2 = np.where((T2 >= 120) & (T2 <= 1200), 2.5, np.where((T2 >= 1500) & (T2 <= 2400), -1.2, 0.0))
V2 = voltage(T2, I2)


@dataclass
class Quirk:
    """One log: its file, what must be stated, what must come out."""

    text: str | bytes
    state: dict = field(default_factory=dict)
    t: np.ndarray = field(default_factory=lambda: T)
    v: np.ndarray = field(default_factory=lambda: V)
    i: np.ndarray = field(default_factory=lambda: I)
    says: str = ""
    """Words that must stand among what was assumed."""
    breaks: int = 0
    temp: bool = False
    counted: bool = False


def table(header, *columns, delimiter=",", end="\n", above="", below=""):
    """A file from a header and columns of words."""
    lines = [delimiter.join(row) for row in zip(*columns)]
    return above + (delimiter.join(header) + end if header else "") + end.join(lines) + end + below


def f(x, form="{:g}"):
    return [form.format(v) for v in x]


def comma(x, form="{:g}"):
    return [w.replace(".", ",") for w in f(x, form)]


def clock(t, begin=0):
    return [f"{int(s) // 3600:02d}:{int(s) // 60 % 60:02d}:{int(s) % 60:02d}" for s in t + begin]


def stamps(t, form, begin="2025-03-04 10:00"):
    return [(datetime.fromisoformat(begin) + timedelta(seconds=float(s))).strftime(form) for s in t]


t, v, i = f(T), f(V), f(I)
H = ("time [s]", "voltage [V]", "current [A]")
Q2 = np.concatenate([[0.0], np.cumsum(np.diff(T2) * 0.5 * np.abs(I2[1:] + I2[:-1]))])
PLAIN = table(H, t, v, i)
HALF = 12
RESTART = np.concatenate([T[:HALF], T[HALF:] - T[HALF]])
COARSE = np.repeat(np.arange(12), 2) * 1.0
SPREAD = np.arange(24) * 0.5
WORDS = ["Rest" if x == 0 else "Discharge" if x > 0 else "Charge" for x in I2]

QUIRKS: dict[str, Quirk] = {
    "plain": Quirk(PLAIN),
    "bom": Quirk(b"\xef\xbb\xbf" + PLAIN.encode()),
    "utf16": Quirk(PLAIN.encode("utf-16")),
    "latin1": Quirk(table((*H, "Temperature [°C]"), t, v, i, f(TEMP)).encode("latin-1"), temp=True, says="Latin-1"),
    "windows_line_ends": Quirk(table(H, t, v, i, end="\r\n")),
    "old_line_ends": Quirk(table(H, t, v, i, end="\r")),
    "semicolons_decimal_comma": Quirk(
        table(("Zeit [s]", "Spannung [V]", "Strom [A]"), comma(T), comma(V), comma(I), delimiter=";"), says="comma"
    ),
    "commas_quoted_decimal_comma": Quirk(table(H, *([f'"{w}"' for w in comma(x)] for x in (T, V, I))), says="comma"),
    "tabs": Quirk(table(("temps [s]", "tension [V]", "courant [A]"), t, v, i, delimiter="\t")),
    "blanks": Quirk(table(("t/s", "U/V", "I/A"), f(T, "{:8.1f}"), f(V, "{:8.4f}"), f(I, "{:8.3f}"), delimiter="  ")),
    "blanks_decimal_comma": Quirk(
        table(("t/s", "U/V", "I/A"), comma(T, "{:8.1f}"), comma(V, "{:8.4f}"), comma(I, "{:8.3f}"), delimiter=" ")
    ),
    "bars": Quirk(table(H, t, v, i, delimiter=" | ")),
    "thousands": Quirk(
        table(
            ("time [ms]", "voltage [mV]", "current [mA]"),
            [f'"{1000 * x:,.1f}"' for x in T],
            f(V * 1000),
            [f'"{1000 * x:,.1f}"' for x in I],
        )
    ),
    "milli_units": Quirk(
        table(
            ("Time(min)", "Voltage(mV)", "Current(mA)", "Temp(K)"),
            f(T / 60),
            f(V * 1000),
            f(I * 1000),
            f(TEMP + 273.15),
        ),
        temp=True,
    ),
    "fahrenheit": Quirk(table((*H, "temp [degF]"), t, v, i, f(TEMP * 1.8 + 32)), temp=True),
    "units_with_underscore": Quirk(
        table(("elapsed_h", "voltage_mV", "current_A"), f(T / 3600, "{:.9f}"), f(V * 1000), i)
    ),
    "units_row": Quirk(
        table(("Time", "Voltage", "Current"), ["min", *f(T / 60)], ["mV", *f(V * 1000)], ["mA", *f(I * 1000)])
    ),
    "units_in_fields": Quirk(
        table(("Time", "Voltage", "Current"), f(T, "{:g} s"), f(V, "{:g} V"), f(I * 1000, "{:g} mA"))
    ),
    "millivolts_untold": Quirk(table(("time [s]", "voltage", "current [A]"), t, f(V * 1000), i), says="millivolts"),
    "current_untold_by_count": Quirk(
        table(("time [s]", "voltage [V]", "current", "capacity [mAh]"), t, v, f(I * 1000), f(Q / 3.6)),
        says="count",
        counted=True,
    ),
    "metadata_above": Quirk(
        table(H, t, v, i, above="Logger of the choir loft\nSerial;none\nNominal capacity: 1000 mAh\n\n"), says="remarks"
    ),
    "remarks": Quirk("# choir loft\n" + PLAIN.replace("\n240,", "\n# lamp on\n240,")),
    "header_in_remark": Quirk("# " + PLAIN),
    "no_header": Quirk(table((), t, v, i), {"columns": "time [s], voltage [V], current [A]"}),
    "columns_by_name": Quirk(
        table(("time [s]", "U1 [V]", "U2 [V]", "I [A]"), t, f(V * 3), v, i), {"columns": "voltage=U2 [V]"}
    ),
    "columns_shuffled": Quirk(
        table(("Step", "Current (A)", "No", "Voltage (V)", "Time (s)"), ["1"] * 24, i, f(np.arange(24)), v, t)
    ),
    "clock": Quirk(table(("clock", "voltage [V]", "current [A]"), clock(T, 3600), v, i)),
    "clock_midnight": Quirk(
        table(("time", "voltage [V]", "current [A]"), clock((T + 86000) % 86400), v, i), says="midnight"
    ),
    "clock_days": Quirk(table(("time", "voltage [V]", "current [A]"), [f"1d {w}" for w in clock(T, 7200)], v, i)),
    "clock_past_24": Quirk(table(("time", "voltage [V]", "current [A]"), clock(T, 86000), v, i)),
    "clock_two_fields": Quirk(
        table(("time", "voltage [V]", "current [A]"), [w[3:] for w in clock(T)], v, i), {"units": "time=mm:ss"}
    ),
    "iso": Quirk(table(("timestamp", "voltage [V]", "current [A]"), stamps(T, "%Y-%m-%dT%H:%M:%S"), v, i)),
    "iso_zone": Quirk(table(("timestamp", "voltage [V]", "current [A]"), stamps(T, "%Y-%m-%dT%H:%M:%S+02:00"), v, i)),
    "date_and_time_columns": Quirk(
        table(
            ("Date", "Time", "voltage [V]", "current [A]"),
            stamps(T, "%Y-%m-%d", "2025-03-04 23:50"),
            stamps(T, "%H:%M:%S", "2025-03-04 23:50"),
            v,
            i,
        )
    ),
    "day_first_proved": Quirk(
        table(("date", "voltage [V]", "current [A]"), stamps(T, "%d.%m.%Y %H:%M:%S", "2025-03-24 10:00"), v, i),
        says="day-first",
    ),
    "month_first_by_midnight": Quirk(
        table(("date", "voltage [V]", "current [A]"), stamps(T, "%m/%d/%Y %H:%M", "2025-03-04 23:50"), v, i),
        says="month-first",
    ),
    "dates_of_one_day": Quirk(table(("date", "voltage [V]", "current [A]"), stamps(T, "%d/%m/%Y %H:%M"), v, i)),
    "dates_stated": Quirk(
        table(
            ("date", "voltage [V]", "current [A]"),
            stamps(T * 2880, "%d/%m/%Y %H:%M", "2025-01-01 00:00")[:6],
            f(V[:6]),
            f(I[:6] / 1000),
        ),
        {"dates": "day-first", "discharge": "positive"},
        t=T[:6] * 2880,
        v=V[:6],
        i=I[:6] / 1000,
    ),
    "summer_time_ends": Quirk(
        table(
            ("date", "voltage [V]", "current [A]"),
            stamps(T - 3600 * (T >= 720), "%Y-%m-%d %H:%M:%S", "2025-10-26 02:48"),
            v,
            i,
        ),
        says="back an hour",
    ),
    "am_pm": Quirk(
        table(("date", "voltage [V]", "current [A]"), stamps(T, "%m/%d/%Y %I:%M:%S %p", "2025-03-24 11:50"), v, i)
    ),
    "epoch": Quirk(table(("time", "voltage [V]", "current [A]"), f(T + 1.75e9, "{:.0f}"), v, i), says="1970"),
    "epoch_ms": Quirk(
        table(("unix", "voltage [V]", "current [A]"), f(T * 1000 + 1.75e12, "{:.0f}"), v, i), says="1970"
    ),
    "no_time": Quirk(table(("voltage [V]", "current [A]"), v, i), {"every": "1 min"}),
    "discharge_negative": Quirk(table(H, t, v, f(-I)), says="turned round"),
    "charge_and_discharge": Quirk(table(H, f(T2), f(V2), f(I2)), t=T2, v=V2, i=I2),
    "charge_and_discharge_negative": Quirk(table(H, f(T2), f(V2), f(-I2)), t=T2, v=V2, i=I2, says="turned round"),
    "discharge_and_charge_columns": Quirk(
        table(
            ("time [s]", "voltage [V]", "discharge current [A]", "charge current [A]"),
            f(T2),
            f(V2),
            f(np.maximum(I2, 0)),
            f(np.maximum(-I2, 0)),
        ),
        t=T2,
        v=V2,
        i=I2,
        says="name",
    ),
    "size_and_state": Quirk(
        table(("time [s]", "state", "voltage [V]", "current [A]"), f(T2), WORDS, f(V2), f(np.abs(I2))),
        t=T2,
        v=V2,
        i=I2,
        says="no sign",
    ),
    "size_alone": Quirk(table(H, f(T2), f(V2), f(np.abs(I2))), t=T2, v=V2, i=I2, says="no sign"),
    "resistor": Quirk(
        table(H[:2], t[2:21], v[2:21]), {"resistor": "1.5 ohm"}, t=T[2:21] - 120, v=V[2:21], i=V[2:21] / 1.5, says="1.5"
    ),
    "constant_current": Quirk(table(H[:2], t, v), {"current": "2.5 A"}, says="no current is taken from there"),
    "constant_power": Quirk(
        table(H[:2], t[2:21], v[2:21]), {"power": "5 W"}, t=T[2:21] - 120, v=V[2:21], i=5.0 / V[2:21], says="5 W"
    ),
    "power_column": Quirk(table(("time [s]", "voltage [V]", "power [W]"), t, v, f(V * I, "{:.7g}")), says="power"),
    "thinned": Quirk(
        table(H, *([x[k] for k in (0, 1, 2, 4, 8, 14, 19, 20, 21, 23)] for x in (t, v, i))),
        t=T[[0, 1, 2, 4, 8, 14, 19, 20, 21, 23]],
        v=V[[0, 1, 2, 4, 8, 14, 19, 20, 21, 23]],
        i=I[[0, 1, 2, 4, 8, 14, 19, 20, 21, 23]],
    ),
    "coarse_stamps": Quirk(table(H, f(COARSE), v, i), t=SPREAD, says="spread"),
    "repeated_rows": Quirk(
        PLAIN.replace("\n240,", "\n180,3.9175,2.5\n240,", 1)
        if "\n180,3.9175,2.5\n" in PLAIN
        else PLAIN.replace("\n240,", f"\n180,{V[3]:g},2.5\n240,", 1),
        says="the last was kept",
    ),
    "newest_first": Quirk(table(H, t[::-1], v[::-1], i[::-1]), says="turned round"),
    "restart": Quirk(
        table(
            ("time [s]", "voltage [V]", "current [A]", "discharged [mAh]"),
            f(RESTART),
            v,
            i,
            f(np.concatenate([Q[:HALF], Q[HALF:] - Q[HALF]]) / 3.6),
        ),
        breaks=1,
        says="joined",
        counted=True,
    ),
    "hole": Quirk(table(H, f(T + 36000 * (T >= 1260)), v, i), t=T + 36000 * (T >= 1260), breaks=1, says="missing"),
    "blank_fields": Quirk(
        PLAIN.replace(f"\n300,{V[5]:g},2.5", "\n300,,2.5")
        .replace(f"\n360,{V[6]:g},2.5", "\n360,NaN,2.5")
        .replace(f"\n420,{V[7]:g},2.5", "\n420,OL,---"),
        t=np.delete(T, [5, 6, 7]),
        v=np.delete(V, [5, 6, 7]),
        i=np.delete(I, [5, 6, 7]),
        says="3 rows lack",
    ),
    "cut_off": Quirk(PLAIN[: PLAIN.rindex(",")], t=T[:-1], v=V[:-1], i=I[:-1], says="cut off"),
    "header_again": Quirk(PLAIN.replace("\n600,", "\n" + ",".join(H) + "\n600,"), says="again"),
    "summary_below": Quirk(PLAIN + "\nTotal;1000 mAh\nEnd of record\n", says="closing"),
    "one_bad_row": Quirk(
        PLAIN.replace(f"\n300,{V[5]:g},", "\n300,3.x9,"),
        t=np.delete(T, 5),
        v=np.delete(V, 5),
        i=np.delete(I, 5),
        says="Line 7 was left out",
    ),
    "count_falls": Quirk(
        table((*H, "remaining capacity [mAh]"), t, v, i, f(1000 - Q / 3.6)), counted=True, says="falls on discharge"
    ),
    "count_both_ways": Quirk(
        table((*H, "capacity [Ah]"), f(T2), f(V2), f(I2), f(Q2 / 3600, "{:.6f}")),
        t=T2,
        v=V2,
        i=I2,
        counted=True,
        says="counts up on charge",
    ),
    "count_astray": Quirk(table((*H, "capacity [Ah]"), t, v, i, f(Q / 1800)), says="does not agree"),
    "trailing_delimiter": Quirk(table(H, t, v, [f"{x}," for x in i])),
}

REFUSED: dict[str, tuple[str, str]] = {
    "decimal_comma_between_commas": (
        "time,voltage,current\n" + "".join(f"{k},0,3,{90 - k},2,5\n" for k in range(9)),
        "semicolons",
    ),
    "no_header_unstated": (table((), t, v, i), "--columns"),
    "thousands_or_decimals": (
        table(
            H,
            f(1000 + T, "{:,.0f}"),
            [f"3,{900 - 7 * k}" for k in range(24)],
            [f"2,{500 + k}" for k in range(24)],
            delimiter=";",
        ),
        "--decimal",
    ),
    "two_voltages": (table(("time [s]", "U1 [V]", "U2 [V]", "I [A]"), t, v, v, i), "voltage=U1"),
    "time_without_unit": (table(("time", "voltage [V]", "current [A]"), t, v, i), "time=s"),
    "current_without_unit": (table(("time [s]", "voltage [V]", "current"), t, v, f(I * 40)), "current=A"),
    "clock_of_two_fields": (table(("time", "voltage [V]", "current [A]"), [w[3:] for w in clock(T)], v, i), "mm:ss"),
    "dates_either_way": (
        table(
            ("date", "voltage [V]", "current [A]"),
            stamps(T[:4] * 43200, "%d/%m/%Y %H:%M", "2025-01-02 00:00"),
            v[:4],
            i[:4],
        ),
        "day-first",
    ),
    "sign_unproved": (table(H, t, f(3.7 + 0 * V), i), "--discharge"),
    "no_current": (table(H[:2], t, v), "--resistor"),
    "no_time_column": (table(H[1:], v, i), "--every"),
    "voltage_in_amperes": (table(("time [s]", "voltage [A]", "current [A]"), t, v, i), "says voltage"),
    "not_a_table": ("Dear harbour master,\nthe gauge stood still again.\nYours\n", "no table"),
    "picture": ("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "no text"),
    "empty": ("", "no table"),
    "many_bad_rows": (PLAIN.replace("\n1", "\nx1"), "cannot be read"),
    "zigzag": (table(H, f(np.tile([0.0, 60.0], 12)), v, i), "falls"),
}


def write() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name, quirk in QUIRKS.items():
        (FOLDER / f"{name}.csv").write_bytes(quirk.text if isinstance(quirk.text, bytes) else quirk.text.encode())
    for name, (text, _) in REFUSED.items():
        raw = text.encode("latin-1" if name == "picture" else "utf-8")
        (FOLDER / f"refused_{name}.csv").write_bytes(raw)


if __name__ == "__main__":
    write()
