"""Warm standing points: against closed forms, and against themselves."""

from __future__ import annotations

import numpy as np
import pytest

from answers.builds import charged, context, plain
from tideover.answers.soaks import soak
from tideover.answers.states import MAINS_FULL, Setting
from tideover.cases import nominal, override, repeat


def test_a_resistor_in_a_box_stands_as_far_above_the_air_as_its_loss_says():
    """T - air = P R_th, with the air itself where the box gives off what the parts put in."""
    c = context(plain())
    (full,) = [s for s in c.states if s.name == MAINS_FULL]
    warm = soak(c.network, nominal(c.network), [Setting(full)])
    assert warm.found.all()
    wire = c.network.part("wire")
    air = float(warm.inside.V[-1, 0])
    ohm = wire.values["thermal_resistance"]
    rise = float(warm.heat("wire")[0, 0]) * float(getattr(ohm, "nominal", ohm))
    assert float(warm.q("wire", "temperature [K]")[0, 0]) - air == pytest.approx(rise, rel=1e-3)
    assert air > 293.15 + 1.0


def test_an_adapter_outside_warms_the_room_and_not_the_box():
    """In its socket it stands above the room by its own loss alone; inside, its loss is the box's to carry too."""
    c = context(plain())
    (full,) = [s for s in c.states if s.name == MAINS_FULL]
    rooms = np.array([278.15, 308.15, 278.15, 308.15])
    batch = override(
        repeat(nominal(c.network), 4), {("box", "ambient"): rooms, ("brick", "stands"): np.array([0.0, 0.0, 1.0, 1.0])}
    )
    warm = soak(c.network, batch, [Setting(full)])
    brick, air = warm.q("brick", "temperature [K]")[0], warm.inside.V[-1]
    theta = 8.0
    assert brick[:2] - rooms[:2] == pytest.approx(theta * warm.heat("brick")[0, :2], rel=1e-3)
    assert brick[2:] - air[2:] == pytest.approx(theta * warm.heat("brick")[0, 2:], rel=1e-3)
    assert (air[2:] > air[:2] + 3.0).all()
    alone = soak(c.network, batch.take([1]), [Setting(full)])
    assert alone.q("brick", "temperature [K]")[0, 0] == pytest.approx(brick[1], abs=1e-3)


def test_a_state_is_as_warm_alone_as_in_company():
    c = context(charged())
    few = override(repeat(nominal(c.network), 3), {("box", "ambient"): np.array([273.15, 293.15, 313.15])})
    settings = [Setting(s) for s in c.states]
    together = soak(c.network, few, settings)
    alone = soak(c.network, few.take([1]), settings)
    for part in ("charger", "cells", "first"):
        a, b = together.q(part, "temperature [K]")[:, 1], alone.q(part, "temperature [K]")[:, 0]
        assert np.allclose(a, b, rtol=0, atol=1e-3, equal_nan=True)
