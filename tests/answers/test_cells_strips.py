"""Strips of a pack of known cells in the sheet: the same figures as the pack's own command gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from tideover.answers import cells_strips as strips
from tideover.answers.base import FAILS, HOLDS, TIGHT
from tideover.answers.cells import answer, look
from tideover.answers.context import Context
from tideover.cells.as_built import REFUSED, WATCHED, assess
from tideover.network import load

FERRY = Path(__file__).parents[2] / "examples" / "ferry-landing"


def found(answer_, name):
    return next(f for f in answer_.findings if f.name == name)


@pytest.fixture(scope="module")
def context():
    return Context(load(FERRY / "build.yaml"), ())


def test_the_sheet_says_what_the_pack_alone_says(context):
    (seen,) = look(context)
    cold, warm = context.network.need.ambient
    power = strips._power(context, seen.pack.name)
    alone = assess(seen.pack.built, seen.pack.kind, power=power, air=(cold, 298.15, warm))
    told = answer(context)
    hot, hard = found(told, "strip runs hot"), found(told, "one cell gives more than its rating over a run")
    assert hot.status == HOLDS and hot.limit == WATCHED
    assert hot.value == pytest.approx(alone.strips[0].rise, rel=1e-9)
    assert hard.value == pytest.approx(max(c.peak for r in alone.cases for c in r.cells), rel=1e-9)
    (table,) = [t for t in told.tables if t.title.startswith("Sharing over a whole run")]
    assert [row[0] for row in table.rows] == [r.name for r in alone.cases]
    assert [row[3] for row in table.rows] == pytest.approx([r.largest for r in alone.cases], rel=1e-9)


def test_the_power_is_that_of_the_standing_points(context):
    """The load's own power and what is lost on its way, of which there is some."""
    (seen,) = look(context)
    power = strips._power(context, seen.pack.name)
    loads = sum(p.values["power"].nominal for p in context.network.parts if p.kind.name == "load")
    assert loads < power < 2.0 * loads


@pytest.mark.parametrize(("power", "status"), [(60.0, TIGHT), (100.0, FAILS)])
def test_a_strip_that_rises_too_far_says_what_would_do(context, power, status):
    (seen,) = look(context)
    far = assess(seen.pack.built, seen.pack.kind, power=power)
    hot = strips.findings(context, seen, far)[0]
    assert hot.status == status == (FAILS if far.strips[0].rise > REFUSED else TIGHT)
    assert hot.mend == far.weakest.mend and hot.margin < 0.0
