"""Measured efficiencies set a converter's loss."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tideover.design import BuildError
from tideover.network import Network, load
from tideover.solve import Condition, build, readings, rest

BUILD = """\
tideover: 1
title: Bench
need: {{at: load, window: 11.4 V to 12.6 V}}
parts:
  brick: {{from: 9 V 1 A adapter, rated current: 5 A, current limit: 6 A, output resistance: 1 mΩ}}
  converter: {{from: {item}, efficiency: {points}}}
  lamp: {{kind: load, law: current, power: 12 W, nominal voltage: 12 V}}
joins:
  - brick > (in)
  - (in) > converter > (load) > lamp
box: plastic box 150 × 100 × 50 mm, sealed
"""
BOOST = "boost module 2 cells to 12 V"


def read(folder: Path, points: str, item: str = BOOST) -> Network:
    file = folder / "build.yaml"
    file.write_text(BUILD.format(points=points, item=item), encoding="utf-8")
    return load(file)


def test_one_point_is_met_by_the_network(tmp_path: Path) -> None:
    network = read(tmp_path, "[86 % from 9 V to 12 V at 1 A]")
    system = build(network)
    seen = readings(system, rest(system, Condition(ambient=298.15)).state)
    i_in, i_out = seen.quantity["converter", "input [A]"][0], -seen.quantity["converter", "output [A]"][0]
    inside = seen.state["converter", "input"][0], seen.state["converter", "output"][0]
    assert inside[1] * i_out / (inside[0] * i_in) == pytest.approx(0.86, abs=2e-3)


def test_spread_of_the_factor_covers_every_point(tmp_path: Path) -> None:
    points = ("88 % from 9 V to 12 V at 1 A", "84 % from 6 V to 12 V at 0.8 A")
    network = read(tmp_path, f"[{', '.join(points)}]")
    factor = network.part("converter").values["loss_factor"]
    assert factor.low < factor.nominal < factor.high
    alone = [read(tmp_path, f"[{p}]").part("converter").values["loss_factor"].nominal for p in points]
    np.testing.assert_allclose(sorted(alone), [factor.low, factor.high])


@pytest.mark.parametrize(
    "points", ["[good]", "[110 % from 9 V to 12 V at 1 A]", "[90 % from 9 V to 12 V at 1 V]", "{at: 9 V}"]
)
def test_a_point_that_is_none_is_told_with_its_form(tmp_path: Path, points: str) -> None:
    with pytest.raises(BuildError) as caught:
        read(tmp_path, points)
    text = str(caught.value)
    assert "build.yaml, line 6, column" in text
    assert '"92 % from 7.4 V to 12 V at 1 A"' in text


def test_points_far_from_the_model_are_told(tmp_path: Path) -> None:
    with pytest.raises(BuildError, match=r"converter\.efficiency asks for .* times the loss"):
        read(tmp_path, "[20 % from 9 V to 12 V at 1 A]")


def test_a_linear_regulator_has_no_efficiency_points(tmp_path: Path) -> None:
    with pytest.raises(BuildError, match=r"converter\.efficiency is no key here"):
        read(tmp_path, "[80 % from 9 V to 5 V at 0.2 A]", "low-dropout regulator 5 V 0.5 A")
