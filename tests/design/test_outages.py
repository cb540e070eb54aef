"""How often mains fails, read from one line, keys or a log; every complaint word for word in outage_faults.txt."""

from __future__ import annotations

import math
from pathlib import Path

import golden
import pytest

from design.fakes import GOOD, KINDS, SHELF
from tideover.design import BuildError, examine, examine_text
from tideover.design.outages import typical
from tideover.laws import outages as law

GOLDEN = Path(__file__).with_name("outage_faults.txt")
LINE = "  outages: 6 per year, lognormal median 52 min spread 1.3\n"
YEAR = 365.25 * 86400.0

BAD = {
    "no rate": "mean 2 h",
    "no words that are known": "often",
    "nothing": "",
    "a list": "[12 a year]",
    "a mean without a unit": "12 a year, mean 2",
    "a rate that is a number": "{rate: 12, mean: 2 h}",
    "too many": "90 a day",
    "an unknown key": "{rate: 12 a year, durration: 2 h}",
    "mean and median": "{rate: 12 a year, mean: 2 h, median: 1 h}",
    "each and a spread": "{rate: 12 a year, each: 2 h, spread: 1}",
    "an unknown law": "{rate: 12 a year, law: weibull}",
    "an exponential with a spread": "12 a year, exponential mean 2 h, spread 1.3",
    "a follow-on above one": "12 a year, follow-on 120 % within 24 h",
    "a list for a value": "{rate: [12 a year]}",
    "days without slots": "{rate: 12 a year, days: mon}",
    "from without a log": "{rate: 12 a year, from: 2025-01-01}",
    "no slot, no day, no chance": "{slots: [8 to 9], days: funday, chance: 200 %}",
    "no such log": "outages.csv",
    "a log and a rate": "{log: log.csv, rate: 12 a year}",
    "a log with bad dates around it": "{log: log.csv, from: 2026-01-01, to: soon}",
    "a log that is longer than it says": "{log: log.csv, from: 2025-02-01}",
}
LOGS = {
    "an empty log": "# none yet\n",
    "columns that say nothing": "a;b\n2025-01-01;2025-01-02\n",
    "day-first dates": "start,end\n01.02.2025 10:00,01.02.2025 11:00\n2025-03-01 10:00,\n2025-04-01 10:00,2025-04-02\n",
    "an end before its start": "2025-01-01 10:00,2025-01-01 09:00\n",
    "two that overlap": "2025-01-01 10:00,2025-01-01 12:00\n2025-01-01 11:00,2025-01-01 13:00\n",
    "some with a zone": "2025-01-01T10:00Z,2025-01-01T12:00Z\n2025-01-02 11:00,2025-01-02 13:00\n",
    "seven bad rows": "x,y\n" + "1,2\n" * 7,
    "seven bad rows below a header": "start,end\n" + "1,2\n" * 7,
}


def with_outages(said: str) -> str:
    assert LINE in GOOD
    return GOOD.replace(LINE, f"  outages: {said}\n")


def read(said: str, folder: Path | None = None):  # type: ignore[no-untyped-def]
    path = str(folder / "build.yaml") if folder else "build.yaml"
    draft = examine_text(with_outages(said), path, kinds=KINDS, shelf=SHELF)
    assert not draft.faults, str(BuildError(draft.faults))
    assert draft.need is not None
    return draft.need.outages


def test_every_fault_word_for_word(tmp_path):
    texts = {}
    (tmp_path / "log.csv").write_text("2025-01-01 10:00,2025-01-01 12:00\n")
    for name, said in BAD.items():
        draft = examine_text(with_outages(said), str(tmp_path / "build.yaml"), kinds=KINDS, shelf=SHELF)
        texts[name] = str(BuildError(draft.faults)).replace(f"{tmp_path}/", "")
        assert draft.faults, name
    (tmp_path / "build.yaml").write_text(with_outages("log.csv"))
    for name, log in LOGS.items():
        (tmp_path / "log.csv").write_text(log)
        faults = examine(tmp_path / "build.yaml", kinds=KINDS, shelf=SHELF).faults
        assert faults, name
        texts[name] = str(BuildError(faults)).replace(f"{tmp_path}/", "")
    (tmp_path / "log.csv").write_bytes("start,end\n# Stromausfälle\n".encode("latin-1"))
    texts["a log that is no UTF-8"] = str(
        BuildError(examine(tmp_path / "build.yaml", kinds=KINDS, shelf=SHELF).faults)
    ).replace(f"{tmp_path}/", "")
    golden.check(GOLDEN, texts)


def test_a_line_and_its_keys_say_the_same():
    line = read("6 a year, lognormal median 52 min spread 1.3, follow-on 10 % within 12 h, short ones twice a month")
    keys = read(
        "{rate: 6 per year, law: log-normal, median: 52 min, spread: 1.3, follow-on: 10 % within 12 h, "
        "short ones: 24 a year}"
    )
    for o in (line, keys):
        assert o.rate * YEAR == pytest.approx(6.0) and o.short_ones * YEAR == pytest.approx(24.0)
        assert o.mean == pytest.approx(52 * 60.0 * math.exp(0.5 * 1.3**2)) and o.law == "lognormal"
        assert (o.follow_on, o.within, o.assumed) == (0.1, 12 * 3600.0, ())


def test_what_is_not_written_is_typical_and_told():
    o = read("12 a year, exponential mean 90 min")
    assert (o.law, o.mean) == ("exponential", 5400.0)
    assert o.assumed == ("follow-on", "short ones") and o.short_ones == law.SHORT_RATE
    assert read("typical").rate == typical(o.place).rate == law.RATE


def test_none_is_none():
    o = read("none")
    assert (o.rate, o.short_ones, o.assumed) == (0.0, 0.0, ())


def test_slots_stand_alone_unless_a_rate_is_written():
    o = read("{slots: [06:00 to 08:00, 22:30 to 01:00], days: fri-mon, chance: 80 %}")
    assert o.slots.spans == ((6 * 3600.0, 8 * 3600.0), (22.5 * 3600.0, 25 * 3600.0))
    assert o.slots.days == (0, 4, 5, 6) and o.slots.chance == 0.8
    assert (o.rate, o.short_ones, o.assumed) == (0.0, 0.0, ())
    assert read("{slots: 18:00 to 20:00, days: [mon, wed], rate: 3 a year}").rate * YEAR == pytest.approx(3.0)


def test_a_log_is_read_whatever_its_delimiter_header_and_order(tmp_path):
    rows = [("2025-01-03T10:00", "2025-01-03T12:30"), ("2025-01-01 10:00:00", "2025-01-01 12:00:00")]
    for delimiter in ",;\t":
        for header in (("no", "mains lost", "back at"), None):
            number = ("1",) if header else ()
            lines = [header] if header else []
            lines += [number + r for r in rows] + [(*number, "2025-01-09 08:00", "")]
            (tmp_path / "log.csv").write_text("\n".join(delimiter.join(line) for line in lines), encoding="utf-8-sig")
            o = read("{log: log.csv, from: 2025-01-01, to: 2025-01-31}", tmp_path)
            assert o.log.spans == ((36000.0, 43200.0), (208800.0, 217800.0))
            assert o.log.lasts == 31 * 86400.0
            assert len(o.log.notes) == 2 and "no end" in o.log.notes[0] and "order" in o.log.notes[1]


def test_rows_that_touch_are_one_outage_and_an_untold_end_is_a_usual_gap_later(tmp_path):
    (tmp_path / "log.csv").write_text(
        "2025-01-01T00:00Z,2025-01-01T01:00Z\n2025-01-01T02:00+01:00,2025-01-01T02:00Z\n2025-01-11T00:00Z,2025-01-11T01:00Z"
    )
    o = read("log.csv", tmp_path)
    assert o.log.spans == ((0.0, 7200.0), (864000.0, 867600.0))
    assert o.log.lasts == 2 * 864000.0 and o.rate * o.log.lasts == pytest.approx(2.0)


def test_losses_allowed_are_a_rate():
    text = GOOD.replace("  policy: usual\n", "  policy: usual\n  losses: twice a year\n")
    draft = examine_text(text, kinds=KINDS, shelf=SHELF)
    assert not draft.faults and draft.need.losses * YEAR == pytest.approx(2.0)
    bad = examine_text(text.replace("twice a year", "few"), kinds=KINDS, shelf=SHELF)
    assert "need.losses" in str(BuildError(bad.faults))
