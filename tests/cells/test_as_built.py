"""What the strips of a pack do: heat, leads, weakest spot."""

from __future__ import annotations

import numpy as np
import pytest

from tideover.cells.as_built import RULE, assess
from tideover.laws.ampacity import span_rise, strip_rise

from .built import PACK, pack

THIN = "{along: nickel strip 5 × 0.1 mm, pitch: 20 mm}"


def alike(folder, series, parallel, strip):
    return pack(folder, [[2.5] * parallel] * series, [[60.0] * parallel] * series, strip)


def test_cells_alike_share_best_with_leads_at_opposite_ends_or_everywhere(tmp_path):
    found = assess(alike(tmp_path, 1, 6, THIN), PACK, current=6.0)
    assert found.as_it_is.largest > 1.2 and found.thumb > RULE
    best = found.ways[0]
    assert (best.plus, best.minus) == ("every", "every")
    assert best.largest == pytest.approx(1.0, abs=1e-6)
    by_lead = {(w.plus, w.minus): w for w in found.ways}
    assert by_lead["1", "6"].largest < 1.1 < by_lead["1", "1"].largest
    assert by_lead["1", "1"].largest == pytest.approx(found.as_it_is.largest)
    assert all(w.largest < found.as_it_is.largest and w.loss < found.as_it_is.loss for w in found.changes)


def test_the_cell_beside_the_leads_carries_most_at_first_and_least_at_the_end(tmp_path):
    case = assess(alike(tmp_path, 1, 6, THIN), PACK, current=6.0).cases[0]
    assert np.argmax([c.start for c in case.cells]) == 0
    assert case.cells[0].end < 1.0 < case.cells[5].end
    assert case.cells[0].left < case.cells[5].left
    assert 0.0 < case.trading < 6.0 and case.settled > 60.0
    assert case.charge < case.ideal


def test_the_one_joint_between_groups_is_the_hottest_and_named(tmp_path):
    strip = "{along: nickel strip 8 × 0.15 mm, pitch: 20 mm, joined: last, plus: last, minus: last}"
    found = assess(alike(tmp_path, 2, 3, strip), PACK, current=12.0)
    hot = found.strips[0]
    assert hot.segment.name == "A03 to A06, group 1 to group 2"
    assert hot.current == pytest.approx(12.0)
    # The hottest case is that of the thinnest strip of the most resistive nickel, in a room as warm as in that case.
    assert hot.case == "poor welds"
    assert hot.rise == pytest.approx(strip_rise(12.0, 8e-3, 0.135e-3, 298.15, 8.0385e-8))
    assert hot.over_cells == pytest.approx(span_rise(12.0, 8e-3, 0.135e-3, 0.020, 298.15, 8.0385e-8))
    assert found.fails and "A03 to A06" in found.weakest.text
    assert found.weakest.mend == "Join the groups at every column: joined: every."


def test_without_strips_there_is_nothing_to_heat(tmp_path):
    found = assess(alike(tmp_path, 2, 3, ""), PACK, power=10.0)
    assert (found.strips, found.ways, found.changes) == ((), (), ())
    assert not found.fails
    assert found.cases[0].largest == pytest.approx(1.0)


def test_short_circuit_current_is_voltage_over_all_resistance(tmp_path):
    found = assess(alike(tmp_path, 3, 2, ""), PACK, current=1.0)
    own = found.short
    # Measured 60 mΩ after a second is a little more than the ohmic part alone, so the current is a little higher.
    assert own == pytest.approx(4.185 * 2 / 0.060, rel=0.03)
