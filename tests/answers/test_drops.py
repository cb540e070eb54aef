"""Where the millivolts go, against Ohm's law; and every finding tripped and mended."""

from __future__ import annotations

import pytest

from answers.builds import context, plain, two_diodes
from tideover.answers import drops

LEAD = """
title: Lead
need: {{at: load, window: 4.75 V to 5.25 V, ambient: 20 °C}}
parts:
  brick: {{kind: adapter, voltage: 5.1 V, rated current: 3 A, current limit: 4 A, output resistance: 0.01 Ω}}
  lead: {{kind: cable, section: 0.2 mm², length: {length}, resistivity: 1.95e-8 Ω·m}}
  lamp: {{kind: load, law: current, power: 10 W, nominal voltage: 5 V}}
joins:
  - brick > lead > (load) > lamp
"""


def share(answer, subject):
    return [f for f in answer.findings if f.subject == subject and f.name.startswith("part takes")]


def test_a_thin_lead_takes_more_than_may_be_lost_and_a_short_one_does_not():
    answer = drops.answer(context(LEAD.format(length="3 m")))
    (finding,) = share(answer, "lead")
    assert finding.value == pytest.approx(2.0 * 2.0 * 3.0 * 1.95e-8 / 0.2e-6, rel=1e-3)
    assert finding.status == "fails" and answer.status == "fails"
    assert "lead takes 1.17 V" in finding.why
    short = drops.answer(context(LEAD.format(length="0.2 m")))
    (finding,) = share(short, "lead")
    assert finding.status == "holds" and short.status == "holds"


def test_more_than_a_share_of_the_budget_is_tight():
    """0.6 m take 0.23 V, past 3 % of 5 V, of the 0.33 V that may be lost."""
    (finding,) = share(drops.answer(context(LEAD.format(length="0.6 m"))), "lead")
    assert finding.status == "tight"
    assert finding.limit == pytest.approx(0.03 * 5.08, rel=1e-3)


def test_the_return_side_is_part_of_the_way():
    with_board = two_diodes(
        more="  board: {kind: protection board, series: 3, on resistance: 40 mΩ, cut-off: 2.5 V, "
        "cut-off release: 3 V, over-charge: 4.28 V, over-charge release: 4.1 V}\n"
    ).replace("  - cells >", "  - cells.minus > board > (return)\n  - cells.plus >")
    answer = drops.answer(context(with_board))
    rows = [r for t in answer.tables if "on pack" in t.title and t.title.startswith("From") for r in t.rows]
    assert [(r[0], r[1]) for r in rows] == [("second", "out"), ("board", "back")]
    assert rows[1][5] == pytest.approx(rows[1][6] * 0.04, rel=0.02)


def test_a_ladder_adds_up_from_source_to_load():
    found = context(plain("20 W"))
    answer = drops.answer(found)
    (series,) = answer.series
    assert series.y[-1] == pytest.approx(float(found.nominal.v(found.network.at)[1, 0]))
    (ladder,) = (t for t in answer.tables if t.title.startswith("From brick to lamp"))
    (rung,) = ladder.rows
    assert rung[5] == pytest.approx(rung[6] * 0.75, rel=1e-5)
    assert rung[7] == pytest.approx(rung[6] ** 2 * 0.75, rel=1e-5)


def test_watts_add_up_to_what_goes_in():
    answer = drops.answer(context(plain("20 W")))
    heat = next(t for t in answer.tables if t.title.startswith("Watts"))
    assert sum(r[2] for r in heat.rows) == pytest.approx(1.0, abs=1e-3)


PLUG = """
title: Plug
need: {{at: load, window: 10 V to 13 V, ambient: 20 °C}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 5 A, current limit: 6 A, output resistance: 0.01 Ω}}
  plug: {{kind: connector, contact resistance: {ohms}, aged resistance: {aged}}}
  lamp: {{kind: load, law: current, power: 24 W, nominal voltage: 12 V}}
joins:
  - brick > plug > (load) > lamp
"""


@pytest.mark.parametrize(
    ("ohms", "aged", "status"),
    [
        ("5 mΩ", "10 mΩ", "holds"),
        ("15 mΩ", "20 mΩ", "tight"),
        ("5 mΩ", "60 mΩ", "tight"),
        ("30 mΩ", "60 mΩ", "fails"),
        ("15 mΩ ±100 %", "20 mΩ", "fails"),
    ],
)
def test_a_contact_is_judged_by_its_own_drop(ohms, aged, status):
    answer = drops.answer(context(PLUG.format(ohms=ohms.replace("±100 %", "-50/+100 %"), aged=aged)))
    (finding,) = [f for f in answer.findings if f.name == "contact drops too much"]
    assert finding.status == status
    if "±" not in ohms:
        assert finding.value == pytest.approx(2.0 * float(ohms.split()[0]) * 1e-3, rel=1e-2)


def test_a_build_without_a_load_current_is_open():
    found = context(plain("0 W"))
    answer = drops.answer(found)
    assert answer.status == "open"
    assert "cannot be followed" in answer.findings[-1].name


def test_with_nothing_on_the_way_nothing_is_lost():
    direct = LEAD.format(length="1 m").replace("brick > lead >", "brick >").replace("  lead:", "  # lead:")
    answer = drops.answer(context(direct))
    assert answer.status == "holds" and answer.headline == "Nothing is lost on the way."
