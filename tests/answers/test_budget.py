"""What the adapter can feed, against charge balance; and every finding tripped and mended."""

from __future__ import annotations

import pytest

from answers.builds import charged, context, plain, two_diodes
from tideover.answers import budget


def named(answer, name):
    return [f for f in answer.findings if f.name == name]


def test_a_small_adapter_fails_and_the_smallest_that_fits_is_named():
    answer = budget.answer(context(charged("12 V 1 A adapter", "2 A")))
    assert answer.status == "fails"
    finding = named(answer, "adapter is overloaded")[0]
    assert "The smallest on the shelf that fits is: 12 V 3 A adapter." in finding.mend
    shelf = next(t for t in answer.tables if t.title.startswith("Adapters of this voltage"))
    assert [r[0] for r in shelf.rows if r[-1] == "yes"] == ["12 V 3 A adapter", "12 V 5 A adapter"]


def test_the_adapter_named_holds_when_it_is_taken():
    answer = budget.answer(context(charged("12 V 3 A adapter", "2 A")))
    assert answer.status == "holds", [(f.name, f.why) for f in answer.findings if f.status != "holds"]


def test_the_largest_load_while_charging_is_what_the_rating_leaves():
    """The charger takes v_pack * 1 A / 0.9 / 11.9 V; the rest of 2 A feeds the load through a diode."""
    found = context(charged("{kind: adapter, voltage: 12 V, rated current: 2 A, current limit: 3 A}", "1 A"))
    answer = budget.answer(found)
    (finding,) = named(answer, "adapter cannot feed the load while it charges")
    points = found.nominal
    k = next(k for k, s in enumerate(points.settings) if s.label == "mains, charging")
    into_charger = float(points.q("charger", "input current [A]")[k, 0])
    left = 2.0 - into_charger
    v_load = float(points.v(found.network.at)[k, 0]) - 0.1
    assert finding.value == pytest.approx(left * v_load, rel=0.05)
    assert finding.status == "holds"


def test_a_load_beyond_what_is_left_fails():
    text = charged("{kind: adapter, voltage: 12 V, rated current: 1 A, current limit: 2.5 A}", "1 A")
    (finding,) = named(budget.answer(context(text)), "adapter cannot feed the load while it charges")
    assert finding.status == "fails" and 0.0 < finding.value < 6.0


def test_the_largest_charge_current_is_what_the_load_leaves():
    text = charged("{kind: adapter, voltage: 12 V, rated current: 1 A, current limit: 2.5 A}", "1 A")
    found = context(text)
    (finding,) = named(budget.answer(found), "charge current is more than the adapter leaves")
    assert finding.status == "tight" and 0.0 < finding.value < 1.0
    assert finding.mend.startswith("Set charger to")
    amps = finding.value * 0.95
    mended = budget.answer(context(text.replace("charge current: 1 A", f"charge current: {amps:.3f} A")))
    (finding,) = named(mended, "charge current is more than the adapter leaves")
    assert finding.status == "holds"


def test_an_adapter_past_its_label_is_told():
    text = plain("20 W").replace("rated current: 8 A", "rated current: 1.5 A")
    (finding,) = named(budget.answer(context(text)), "adapter runs past its rating")
    assert finding.status == "fails" and finding.value == pytest.approx(2.02, abs=0.02)
    (finding,) = named(budget.answer(context(plain("20 W"))), "adapter runs past its rating")
    assert finding.status == "holds"


def test_nine_tenths_of_the_label_is_tight():
    text = plain("20 W").replace("rated current: 8 A", "rated current: 2.1 A")
    (finding,) = named(budget.answer(context(text)), "adapter runs past its rating")
    assert finding.status == "tight"


def test_the_limit_counts_at_the_worst_corner():
    text = plain("20 W").replace("current limit: 9 A", "current limit: 2.6 A ±30 %")
    (finding,) = named(budget.answer(context(text)), "adapter goes into overload")
    assert finding.status == "fails" and finding.case == "brick current limit -30 %"
    assert finding.value == pytest.approx(2.0 / (0.7 * 2.6), rel=0.03)


def test_a_load_on_the_pack_that_outruns_the_charger_drains_it():
    """The load hangs on the pack alone; it takes more than the charger gives."""
    text = charged("12 V 5 A adapter", "0.5 A").replace("  - (inlet) > first > (load)\n", "")
    text = text.replace(
        "  first: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}\n",
        "",
    )
    (finding,) = named(budget.answer(context(text)), "pack gives current while it should charge")
    assert finding.status == "fails" and finding.value < 0.0
    (finding,) = named(
        budget.answer(context(text.replace("charge current: 0.5 A", "charge current: 1.5 A"))),
        "pack gives current while it should charge",
    )
    assert finding.status == "holds" and finding.value > 0.0


@pytest.mark.parametrize(
    ("figure", "words"),
    [
        ("input voltage limit: 11.85 V", "sags"),
        ("input current limit: 0.3 A", "input current limit"),
        ("dropout: 4.4 V", "dropout"),
    ],
)
def test_a_charger_that_is_held_back_says_by_what(figure, words):
    text = charged("{kind: adapter, voltage: 12 V, rated current: 3 A, current limit: 4 A}", f"1 A, {figure}")
    (finding,) = named(budget.answer(context(text)), "charger never reaches its set current")
    assert finding.status == "tight" and words in finding.why
    plain_text = charged("{kind: adapter, voltage: 12 V, rated current: 3 A, current limit: 4 A}", "1 A")
    assert named(budget.answer(context(plain_text)), "charger never reaches its set current") == []


def test_a_build_without_an_adapter_has_no_budget_to_keep():
    text = two_diodes().replace("  - brick > lead > (inlet) > first > (load)\n", "")
    for part in ("brick", "lead", "first"):
        text = "\n".join(line for line in text.split("\n") if not line.startswith(f"  {part}:"))
    answer = budget.answer(context(text))
    assert answer.status == "holds" and "No adapter" in answer.headline
