"""What the answers share: standing points with a retrying adapter's limit lifted, computed once."""

from __future__ import annotations

import numpy as np
import pytest

from answers.builds import charged, context, plain
from tideover.answers.context import Setting
from tideover.cases import nominal as as_drawn
from tideover.cases import one_at_a_time, override
from tideover.solve import OUTCOMES, Condition, build, rest


def condition(found, setting):
    standing = setting.standing
    return Condition(setting.signals(found.network), standing.states, standing.machines, 298.15)


def test_a_lifted_limit_does_not_move_a_point_below_it():
    found = context(charged("12 V 3 A adapter", "1 A"))
    for setting in found.settings:
        true = rest(build(found.network), condition(found, setting))
        assert OUTCOMES[true.outcome[0]] == "found"
        k = found.row(setting)
        for node in range(1, len(found.network.nodes)):
            assert found.nominal.v(node)[k, 0] == pytest.approx(true.v[0, node], abs=2e-4), setting.label


def test_where_the_true_adapter_retries_no_point_is_reported():
    found = context(charged("12 V 1 A adapter", "2 A"))
    setting = Setting(found.states[0])
    true = rest(build(found.network), condition(found, setting))
    assert OUTCOMES[true.outcome[0]] != "found"
    k = found.row(setting)
    assert found.nominal.solved[k, 0] and not found.nominal.found[k, 0]
    assert found.nominal.burden[k, 0] > 1.0
    assert np.isnan(found.nominal.v(found.network.at)[k, 0])
    assert setting not in found.settings


def test_a_case_alone_equals_itself_in_a_batch():
    found = context(charged("12 V 3 A adapter", "1 A ±10 %"))
    batch = one_at_a_time(found.network, found.spreads, both=True)
    together = found.points(batch, found.settings)
    for b in (0, 3, batch.count - 1):
        alone = found.points(batch.take([b]), found.settings)
        assert alone.v(found.network.at)[:, 0] == pytest.approx(together.v(found.network.at)[:, b], abs=1e-7)


def test_settings_come_back_in_the_order_asked():
    found = context(charged("12 V 3 A adapter", "1 A"))
    backwards = tuple(reversed(found.settings))
    points = found.points(as_drawn(found.network), backwards)
    expected = [float(found.nominal.v(found.network.at)[found.row(s), 0]) for s in backwards]
    assert points.v(found.network.at)[:, 0] == pytest.approx(expected, abs=1e-6)


def test_a_batch_is_solved_once_for_each_setting(monkeypatch):
    found = context(charged("12 V 3 A adapter", "1 A"))
    batch = one_at_a_time(found.network, found.spreads)
    first = found.corners(batch, found.settings[:1])
    monkeypatch.setattr(type(found), "points", lambda *_: pytest.fail("solved again"))
    again = found.corners(batch, found.settings[:1])
    assert again[found.settings[0].label] is first[found.settings[0].label]


def test_the_load_can_be_multiplied_case_by_case():
    found = context(plain("10 W"))
    setting = found.settings[0]
    points = found.points(
        override(one_at_a_time(found.network, ()), {}), [setting, setting], True, np.array([[1.0], [2.0]])
    )
    drawn = points.q("lamp", "drawn [A]")[:, 0] * points.readings.state["lamp", "input"]
    assert drawn == pytest.approx([10.0, 20.0], rel=1e-6)
