"""Whatever a file holds it is read or refused: never a traceback, never the wrong sign of the current unsaid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from cells.make_logs import QUIRKS, REFUSED
from tideover.cells.log_parts import parts_of
from tideover.cells.log_read import read_log
from tideover.cells.log_sidecar import ReadAs, statement
from tideover.design.messages import BuildError

FILES = [q.text if isinstance(q.text, bytes) else q.text.encode() for q in QUIRKS.values()]
FILES += [text.encode("utf-8") for text, _ in REFUSED.values()]
CHARGE, DISCHARGE, REST = -1.0, 1.0, 0.0


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "log.csv"


def fine(log):
    """What every log must be, however odd its file was."""
    assert len(log.t) >= 3 and len(log.t) == len(log.v) == len(log.i)
    assert log.t[0] == 0.0 and (np.diff(log.t) > 0).all()
    assert np.isfinite(log.v).all() and np.isfinite(log.i).all() and np.isfinite(log.charge).all()
    assert all(0 < k < len(log.t) for k in log.breaks) and list(log.breaks) == sorted(set(log.breaks))
    parts = parts_of(log)
    assert [p.first for p in parts[1:]] == [p.last + 1 for p in parts[:-1]]
    assert parts[0].first == 0 and parts[-1].last == len(log.t) - 1


def read(file, raw, stated=None):
    file.write_bytes(raw)
    try:
        log = read_log(file, stated)
    except BuildError as error:
        assert error.faults and all(fault.problem for fault in error.faults)
        return None
    assert file.read_bytes() == raw
    fine(log)
    return log


@given(st.binary(max_size=300))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_random_bytes(file, raw):
    read(file, raw)


@given(st.text(alphabet="0123456789.,;:-+ \t\n\"'eE#VAmsh/[]TZé°|", max_size=300))
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_random_text_that_looks_like_a_log(file, text):
    read(file, text.encode())
    read(file, text.encode(), ReadAs(columns="time [s], voltage [V], current [A]"))


@given(st.data())
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_good_files_with_pieces_changed(file, data):
    raw = bytearray(data.draw(st.sampled_from(FILES)))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, max(len(raw) - 1, 0)))
        kind = data.draw(st.sampled_from(("set", "cut", "copy", "put")))
        if kind == "set" and raw:
            raw[at] = data.draw(st.integers(0, 255))
        elif kind == "cut":
            del raw[at : at + data.draw(st.integers(1, 40))]
        elif kind == "copy":
            raw[at:at] = raw[at : at + data.draw(st.integers(1, 60))]
        else:
            raw[at:at] = data.draw(
                st.sampled_from((b"\n", b",", b";", b"-", b"1e999", b"NaN", b'"', b"\xff", b"\0", b"9" * 400))
            )
    read(file, bytes(raw))


@given(st.lists(st.text(alphabet="abcdegilmnoprstuvVAIU =,;-[]0123456789/", max_size=12), max_size=5))
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_statement_is_taken_or_refused(file, words):
    text = ", ".join(words)
    keys = ("columns", "discharge", "current", "resistor", "power", "every", "dates", "decimal", "units")
    for key in keys:
        try:
            stated = statement("options", **{key: text})
        except BuildError:
            continue
        read(file, FILES[0], stated)


def cell(seed, programme, step, sigma, soc):
    """A cell with curve, series resistance, slow branch and noisy logger, through stages of direction, C-rate and s."""
    rng = np.random.default_rng(seed)
    capacity = rng.uniform(0.5, 5.0) * 3600.0
    r = rng.uniform(0.01, 0.15) * 9000.0 / capacity
    r_slow, tau = r * rng.uniform(0.3, 2.5), rng.uniform(20.0, 2000.0)
    plateau = rng.uniform(0.0, 1.0)
    i = np.concatenate(
        [np.full(max(int(lasts / step), 2), way * rate * capacity / 3600.0) for way, rate, lasts in programme]
    )
    t = np.arange(len(i)) * step
    z, slow, v = soc, rng.uniform(-1.0, 1.0) * r_slow * capacity / 3600.0, np.zeros(len(i))
    for k in range(len(i)):
        z = z - (i[k] * step / capacity if k else 0.0)
        slow += (i[k] * r_slow - slow) * (1 - np.exp(-step / tau)) if k else 0.0
        inside = min(max(z, 1e-4), 0.9999)
        curve = 3.3 + (1 - 0.9 * plateau) * 0.8 * inside + 0.04 * np.log(inside / (1 - inside))
        v[k] = curve - r * i[k] - slow
        if not 2.0 < v[k] < 4.6:
            i, t, v = i[: k + 1], t[: k + 1], v[: k + 1]
            break
    v = np.round(v + rng.normal(0.0, sigma, len(v)), 4)
    i = np.round(i + rng.normal(0.0, sigma * np.abs(i).max() / 3.0, len(i)), 4)
    return t, v, i


STAGES = st.lists(
    st.tuples(
        st.sampled_from((CHARGE, DISCHARGE, REST)), st.sampled_from((0.05, 0.2, 0.5, 1.0, 2.0)), st.integers(30, 6000)
    ),
    min_size=1,
    max_size=6,
)


def written(t, v, i, names=("time [s]", "voltage [V]", "current [A]")):
    return (",".join(names) + "\n" + "".join(f"{a:g},{b:.4f},{c:.4f}\n" for a, b, c in zip(t, v, i))).encode()


@given(
    STAGES,
    st.integers(0, 2**20),
    st.sampled_from((1.0, 10.0, 60.0)),
    st.sampled_from((0.0, 0.001, 0.005)),
    st.floats(0.05, 0.95),
)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_sign_is_right_or_asked_whichever_way_it_is_written(file, programme, seed, step, sigma, soc):
    t, v, i = cell(seed, programme, step, sigma, soc)
    if len(t) < 5 or not np.abs(i).max() > 1e-3:
        return
    for sign in (1.0, -1.0):
        log = read(file, written(t, v, sign * i))
        if log is not None and len(log.t) == len(t):
            top = np.abs(i).max()
            assert (log.i * i >= -((0.1 * top) ** 2)).all(), (sign, log.assumed)
    log = read(file, written(t, v, np.abs(i)))
    if log is not None and len(log.t) == len(t):
        wrong = float(np.abs(i[log.i * i < 0]).sum()) / float(np.abs(i).sum())
        assert wrong <= 0.025, log.assumed  # so much may stay unproved, and is told
        assert wrong < 0.005 or "nothing proves" in " ".join(log.assumed) or "no sign" in " ".join(log.assumed)


@given(st.permutations(range(5)), st.sampled_from((1.0, -1.0)), st.integers(0, 1000))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_columns_in_any_order(file, order, sign, seed):
    t, v, i = cell(seed, [(REST, 1.0, 300), (DISCHARGE, 0.5, 3000), (REST, 1.0, 600)], 30.0, 0.0005, 0.9)
    assume(len(t) > 50)  # some cells are beyond every voltage at once
    columns = [
        ("Time (min)", t / 60),
        ("U [mV]", v * 1000),
        ("I/A", sign * i),
        ("Temp °C", 0 * t + 25.5),
        ("No", np.arange(len(t))),
    ]
    names = [columns[k][0] for k in order]
    rows = zip(*(columns[k][1] for k in order))
    text = ";".join(names) + "\n" + "".join(";".join(f"{x:.6f}".replace(".", ",") for x in row) + "\n" for row in rows)
    log = read(file, text.encode())
    assert log is not None
    np.testing.assert_allclose(log.i, i, atol=1e-3)
    np.testing.assert_allclose(log.v, v, atol=1e-3)
    np.testing.assert_allclose(log.t, t, atol=1e-2)
    np.testing.assert_allclose(log.temp, 298.65)
