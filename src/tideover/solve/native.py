"""The same equations as machine code, where the machine has a C compiler.

The tracer's operations are written out once more, as C, compiled into the user's cache folder and called through
ctypes: one call evaluates all parts of a network, or iterates one stage by Newton's method, for all cases. It computes
what the array code computes, to rounding, and is several times faster. Without a compiler, or with
TIDEOVER_NATIVE=0 in the environment, the array code runs instead and nothing else changes.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import platform
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve import damping
from tideover.solve.trace import Symbol, Written

Array = NDArray[np.float64]
FLAGS = ("-O1", "-march=native", "-ffp-contract=off", "-fno-math-errno", "-fPIC", "-shared", "-w")
"""More optimisation takes longer to compile than it saves; no contraction, so that a case alone equals itself in
company to the last digit."""
KEPT = 200
"""Compiled files kept; the oldest go first."""
BLOCK = 64
"""Cases worked on together, so that what parts hand to the elimination stays close at hand."""

HEAD = r"""
#include <math.h>
#define BLOCK %d
typedef const double *restrict In;
typedef const long *restrict Codes;
static inline double larger(double a, double b) { return a > b ? a : b; }
static inline double smaller(double a, double b) { return a < b ? a : b; }
static inline double sign(double a) { return (a > 0.0) - (a < 0.0); }
/* Wright omega for a real argument: w + log w = z, by two steps of fourth order from a rough start. */
static double omega(double z) {
    double w;
    if (z < -40.0) return exp(z);
    if (z < -2.0) w = exp(z) * (1.0 - exp(z));
    else if (z < 4.0) w = 1.0 + 0.5 * (z - 1.0) + (z - 1.0) * (z - 1.0) / 16.0;
    else w = z - log(z);
    if (w < 1e-3 && z > -7.0) w = 1e-3;
    for (int k = 0; k < 3; k++) {
        double r = z - w - log(w), p = w + 1.0, q = 2.0 * p * (p + 2.0 / 3.0 * r);
        w *= 1.0 + r / p * (q - r) / (q - 2.0 * r);
    }
    return w;
}
/* Piece of a curve at s: cv = pieces, inner knots, then five numbers a piece: integral before it, c0 to c3;
   at last the slopes below 0 and above 1. */
static inline void piece(In cv, double s, double *x, double *beyond, const double **c) {
    int n = (int)cv[0], k = 0;
    double in = smaller(larger(s, 0.0), 1.0);
    const double *knots = cv + 1;
    while (k < n - 1 && in >= knots[k + 1]) k++;
    *x = in - knots[k];
    *beyond = s - in;
    *c = cv + 1 + n + 5 * k;
}
static inline double sloping(In cv, double x, double beyond, const double *c) {
    const double *outside = cv + 1 + 6 * (int)cv[0];
    if (beyond < 0.0) return outside[0];
    if (beyond > 0.0) return outside[1];
    return c[2] + x * (2.0 * c[3] + x * 3.0 * c[4]);
}
/* The tables of a part lie one behind the other: open circuit, then how its resistances follow charge. */
static inline In behind(In cv, int k) {
    while (k-- > 0) cv += 3 + 6 * (int)cv[0];
    return cv;
}
static double curve_value(In cv, double s) {
    double x, d; const double *c;
    piece(cv, s, &x, &d, &c);
    return c[1] + x * (c[2] + x * (c[3] + x * c[4])) + sloping(cv, x, d, c) * d;
}
static double curve_slope(In cv, double s) {
    double x, d; const double *c;
    piece(cv, s, &x, &d, &c);
    return sloping(cv, x, d, c);
}
static double curve_energy(In cv, double s) {
    double x, d; const double *c;
    piece(cv, s, &x, &d, &c);
    double end = c[1] + x * (c[2] + x * (c[3] + x * c[4])), slope = sloping(cv, x, d, c);
    return c[0] + x * (c[1] + x * (c[2] / 2.0 + x * (c[3] / 3.0 + x * c[4] / 4.0))) + d * (end + 0.5 * slope * d);
}
"""

FORMS = {
    "add": "{0} + {1}",
    "subtract": "{0} - {1}",
    "multiply": "{0} * {1}",
    "divide": "{0} / {1}",
    "negative": "-{0}",
    "maximum": "larger({0}, {1})",
    "minimum": "smaller({0}, {1})",
    "exp": "exp({0})",
    "log": "log({0})",
    "sqrt": "sqrt({0})",
    "absolute": "fabs({0})",
    "sign": "sign({0})",
    "greater": "({0} > {1} ? 1.0 : 0.0)",
    "equal": "({0} == {1} ? 1.0 : 0.0)",
    "wrightomega": "omega({0})",
    "link": "{0}",
    "curve": "curve_value(cv, {0})",
    "curve_slope": "curve_slope(cv, {0})",
    "curve_energy": "curve_energy(cv, {0})",
    "ohmic": "curve_value(behind(cv, 1), {0})",
    "ohmic_slope": "curve_slope(behind(cv, 1), {0})",
    "lag": "curve_value(behind(cv, 2), {0})",
    "lag_slope": "curve_slope(behind(cv, 2), {0})",
}
"""The tracer's operations in C."""


def statements(written: Written, inputs: Mapping[str, str], fixed: Sequence[str]) -> tuple[list[str], list[str]]:
    """Straight C for the outputs of a written function, and the expression of each output."""
    names = {y.key: f for y, f in zip(written.fixed, fixed)}
    lines = []
    for y in written.body:
        if y.op == "input":
            names[y.key] = inputs[y.args[0]]
            continue
        if y.op == "among":
            code = names[y.args[0].key]
            text = "(" + " || ".join(f"{code} == {m}" for m in y.args[1]) + " ? 1.0 : 0.0)"
        else:
            text = FORMS[y.op].format(*(names[a.key] if isinstance(a, Symbol) else _number(a) for a in y.args))
        names[y.key] = f"t{y.key}"
        lines.append(f"const double t{y.key} = {text};")
    return lines, [names[y.key] if isinstance(y, Symbol) else _number(y) for y in written.outputs]


def _number(value: float) -> str:
    text = repr(float(value))
    return f"({text})" if text.startswith("-") else text


def part_function(name: str, g: Any, piece: str, rows: Sequence[int], block: bool) -> str:
    """C function that evaluates one piece of all parts of a group and stores output o of part k at row rows[o] + k."""
    written: Written = getattr(g.program, piece)
    inputs: dict[str, str] = {}
    lines, tables = [], []
    for place, (source, cast) in _places(g).items():
        if place in written.inputs and any(y.op == "input" and y.args[0] == place for y in written.body):
            if isinstance(source, list):
                tables.append(f"static const long {name}_{place}[] = {{{', '.join(map(str, source))}}};")
                source = f"{name}_{place}[k]"
            inputs[place] = place
            lines.append(f"const {'long' if cast == 'M' else 'double'} {place} = {cast}[({source}) * B + b];")
    for scalar, text in (("h", "h[b]"), ("moves", "moves")):
        if scalar in written.inputs:
            inputs[scalar] = scalar + "_"
            lines.append(f"const double {scalar}_ = {text};")
    fixed = [f"C[{j}][k * K[{2 * j}] + column[b] * K[{2 * j + 1}]]" for j in range(len(written.fixed))]
    body, outputs = statements(written, inputs, fixed)
    width, column = ("BLOCK", "b - b0") if block else ("B", "b")
    asked = ", const char *restrict going" if block else ""
    skip = ["if (!going[b - b0]) continue;"] if block else []
    stores = [
        f"out[({r} + k) * {width} + {column}] = {y};" for r, y in zip(rows, outputs, strict=True) if r >= 0
    ]
    inner = "\n            ".join([*skip, *lines, *body, *stores])
    return "\n".join(
        [
            *tables,
            f"static void {name}(long b0, long b1, long B, In V, In X, In base, Codes M, In S, In h, Codes column,",
            "        double moves, const In *restrict C, Codes K, In curve, long curve_size, double *restrict out"
            f"{asked}) {{",
            f"    for (long k = 0; k < {g.n}; k++) {{",
            "        In cv = curve + k * curve_size;",
            "        for (long b = b0; b < b1; b++) {",
            f"            {inner}",
            "        }",
            "    }",
            "}",
        ]
    )


def _places(g: Any) -> dict[str, tuple[Any, str]]:
    """For each input of a group's functions: row (text in k, or one for each part) and array."""
    n = g.n
    out: dict[str, tuple[Any, str]] = {"v_air": ("unknowns - 1", "V")}
    for t, nodes in zip(g.program.terminals, g.nodes):
        if t != "air":
            out[f"v_{g.kind.terminals.index(t)}"] = ([int(x) for x in nodes], "V")
    for r, s in enumerate(g.program.states):
        out[f"x_{s}"], out[f"b_{s}"] = (f"{g.x0 + r * n} + k", "X"), (f"{g.x0 + r * n} + k", "base")
    for r, m in enumerate(g.kind.machines):
        out[f"m_{m.name}"] = (f"{g.m0 + r * n} + k", "M")
    for r, s in enumerate(g.kind.signals):
        out[f"s_{s}"] = (f"{g.s0 + r * n} + k", "S")
    return out


SIGNATURE = (
    "long B, In V, In X, In base, Codes M, In S, In h, Codes column, double moves, "
    "const In *const *restrict CC, const Codes *restrict KK, const In *restrict curves, Codes sizes"
)

STAGE = (
    SIGNATURE.replace("In V, In X", "double *V, double *X")
    + ", long electrical, In per_scale, In close, Codes most, double *restrict bend, char *restrict ok,"
    + " long *restrict used"
)


def source_of(groups: Sequence[Any], solver: Written, unknowns: int) -> tuple[str, dict[str, int]]:
    """The whole C text for a network's structure, and the rows that each piece gives out."""
    parts = [HEAD % BLOCK, f"enum {{ unknowns = {unknowns} }};"]
    rows_of: dict[str, int] = {}
    for piece in ("rates", "ends", "ledger", "store"):
        rows, total = _layout(groups, piece)
        rows_of[piece] = total
        calls = []
        for gi, g in enumerate(groups):
            name = f"{piece}_{gi}"
            parts.append(part_function(name, g, piece, rows[gi], block=False))
            calls.append(_call(name, gi, "0", "B", "out"))
        parts.append("\n".join([f"void {piece}({SIGNATURE}, double *restrict out) {{", *calls, "}"]))
    parts.append(_iteration(groups, solver, unknowns))
    return "\n".join(parts), rows_of


def _call(name: str, gi: int, first: str, last: str, out: str) -> str:
    tables = f"CC[{gi}], KK[{gi}], curves[{gi}], sizes[{gi}]"
    return f"    {name}({first}, {last}, B, V, X, base, M, S, h, column, moves, {tables}, {out});"


def _layout(groups: Sequence[Any], piece: str) -> tuple[list[list[int]], int]:
    """Row of each output of each group: states in their order; guards, collapse, then powers one after the other."""
    rows: list[list[int]] = [[0] * len(getattr(g.program, piece).outputs) for g in groups]
    at = 0
    if piece == "rates":
        for rg, g in zip(rows, groups):
            for o in range(len(rg)):
                rg[o] = g.x0 + o * g.n
        return rows, sum(len(r) * g.n for r, g in zip(rows, groups))
    guards = [len(g.program.guards) if piece == "ends" else 0 for g in groups]
    for rg, g, ng in zip(rows, groups, guards):
        for o in range(ng):
            rg[o] = at
            at += g.n
    for o in range(max(len(r) - ng for r, ng in zip(rows, guards))):
        for rg, g, ng in zip(rows, groups, guards):
            rg[ng + o] = at
            at += g.n
    return rows, at


def _iteration(groups: Sequence[Any], solver: Written, unknowns: int) -> str:
    """Newton's method for a stage, block by block of cases, each until its last case is done: parts, elimination of the
    nodes, changes of the states, and how much of them is taken. A case that is done costs nothing any more."""
    functions, calls, rows = [], [], []
    at = 0
    for gi, g in enumerate(groups):
        count = len(g.program.stage.outputs)
        rows.append([at + o * g.n for o in range(count)])
        at += count * g.n
        functions.append(part_function(f"stage_{gi}", g, "stage", rows[gi], block=True))
        calls.append("        " + _call(f"stage_{gi}", gi, "b0", "b1", "w, going"))
    inputs = {}
    for place in solver.inputs:
        group, *rest = (int(p) for p in place[len("given[") : -1].split("]["))
        if group == 0:
            inputs[place] = f"V[{rest[0]} * B + b]"
        else:
            inputs[place] = f"w[{rows[group - 1][rest[0]] + rest[1]} * BLOCK + k]"
    body, outputs = statements(solver, inputs, [])
    stores = [f"dV[{k} * BLOCK + k] = {outputs[k]};" for k in range(unknowns)]
    changes = []
    for gi, g in enumerate(groups):
        p = g.program
        own = len(p.terminals) + len(p.entries)
        for r in range(len(p.states)):
            for k in range(g.n):
                terms = [f"w[{rows[gi][own + r] + k} * BLOCK + k]"]
                terms += [
                    f"w[{rows[gi][own + len(p.states) + e] + k} * BLOCK + k] * dV[{int(g.nodes[t][k])} * BLOCK + k]"
                    for e, (s, t) in enumerate(p.follows)
                    if s == r
                ]
                changes.append(f"dX[{g.x0 + r * g.n + k} * BLOCK + k] = {' + '.join(terms)};")
    states = sum(len(g.program.states) * g.n for g in groups)
    return "\n".join(
        [
            *functions,
            f"enum {{ states = {states} }};",
            f"void newton({STAGE}) {{",
            f"    double w[{max(at, 1)} * BLOCK], dV[unknowns * BLOCK], dX[{max(states, 1)} * BLOCK];",
            "    double last[BLOCK], pace[BLOCK];",
            "    char going[BLOCK];",
            "    for (long b0 = 0; b0 < B; b0 += BLOCK) {",
            "        long b1 = b0 + BLOCK < B ? b0 + BLOCK : B, left = 0;",
            "        for (long b = b0; b < b1; b++) {",
            "            last[b - b0] = INFINITY, pace[b - b0] = 1.0, ok[b] = 0, used[b] = 0;",
            "            left += going[b - b0] = most[b] > 0;",
            "        }",
            "        while (left) {",
            *calls,
            "        for (long b = b0, k = 0; b < b1; b++, k++) {",
            "            if (!going[k]) continue;",
            "            " + "\n            ".join([*body, *stores, *changes]),
            damping.IN_C.strip("\n"),
            "        }",
            "        }",
            "    }",
            "}",
        ]
    )


class Native:
    """Compiled functions of one network structure."""

    def __init__(self, library: ctypes.CDLL, rows: dict[str, int]) -> None:
        self.rows = rows
        self.functions = {name: getattr(library, name) for name in (*rows, "newton")}
        for name, f in self.functions.items():
            f.restype = None
            f.argtypes = [ctypes.c_long, *[ctypes.c_void_p] * 7, ctypes.c_double, *[ctypes.c_void_p] * 4]
            f.argtypes += [ctypes.c_long, *[ctypes.c_void_p] * 6] if name == "newton" else [ctypes.c_void_p]

    def newton(
        self,
        tables: Tables,
        column: Any,
        at: Any,
        V: Array,
        X: Array,
        base: Array,
        electrical: int,
        per_scale: Array,
        close: Array,
        most: NDArray[np.int64],
        bend: Array,
    ) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
        """Iterate a stage until every case is done or gives up, `V`, `X` and `bend` in place; as `newton.solve`, with
        the electrical unknowns counted, the scales inverted and limits given for each case."""
        count = V.shape[1]
        ok, used = np.empty(count, dtype=bool), np.empty(count, dtype=np.int64)
        v, x, bends = (np.ascontiguousarray(a) for a in (V, X, bend))
        given = [np.ascontiguousarray(a) for a in (base, at.M, at.S, at.h, column)]
        limits = [np.ascontiguousarray(a) for a in (per_scale, close, most)]
        self.functions["newton"](
            count,
            *(a.ctypes.data for a in (v, x, *given)),
            at.moves,
            *tables.of("stage"),
            electrical,
            *(a.ctypes.data for a in (*limits, bends, ok, used)),
        )
        for out, made in ((V, v), (X, x), (bend, bends)):
            if made is not out:
                out[...] = made
        return ok, used

    def piece(self, name: str, tables: Tables, column: Any, V: Array, X: Array, M: Any, S: Array) -> Array:
        """All outputs of one piece of all groups, shape (rows, cases)."""
        out = np.empty((self.rows[name], V.shape[1]))
        given = [np.ascontiguousarray(a) for a in (V, X, M, S, column)]
        v, x, m, s, c = (a.ctypes.data for a in given)
        self.functions[name](V.shape[1], v, x, x, m, s, x, c, 1.0, *tables.of(name), out.ctypes.data)
        return out


class Tables:
    """Where the compiled functions find each group's constants and curves, for all cases of a system."""

    def __init__(self, groups: Sequence[Any]) -> None:
        self.groups = groups
        curves = [np.ascontiguousarray(g.curve.table()) if g.curve is not None else np.zeros((1, 1)) for g in groups]
        addresses = np.array([c.ctypes.data for c in curves], dtype=np.uintp)
        sizes = np.array([c.shape[1] for c in curves], dtype=np.int64)
        self.kept: list[Any] = [curves, addresses, sizes]
        self.curves = (addresses.ctypes.data, sizes.ctypes.data)
        self.made: dict[str, tuple[int, int, int, int]] = {}

    def of(self, piece: str) -> tuple[int, int, int, int]:
        """Addresses of the tables of constants and strides, one entry a group, and of the curves and their sizes."""
        if piece not in self.made:
            both = [pointers(g.constants[piece]) for g in self.groups]
            tables = [np.array([t[k].ctypes.data for t in both], dtype=np.uintp) for k in (0, 1)]
            self.kept.append((both, tables))
            self.made[piece] = (tables[0].ctypes.data, tables[1].ctypes.data, *self.curves)
        return self.made[piece]


def pointers(constants: Sequence[Any]) -> tuple[Any, Any, Any]:
    """Addresses of a group's constants; for each, its strides over parts and over cases; what must be kept alive."""
    arrays = [np.ascontiguousarray(np.atleast_2d(a), dtype=float) for a in constants]
    address = np.array([a.ctypes.data for a in arrays] or [0], dtype=np.uintp)
    strides = [(a.shape[1] if a.shape[0] > 1 else 0, 1 if a.shape[1] > 1 else 0) for a in arrays]
    return address, np.array(strides or [(0, 0)], dtype=np.int64), arrays


@cache
def compiler() -> str | None:
    """A C compiler's path, or None."""
    if os.environ.get("TIDEOVER_NATIVE", "1") == "0" or platform.system() == "Windows":
        return None
    return shutil.which(os.environ.get("CC", "cc")) or shutil.which("gcc") or shutil.which("clang")


def _folder() -> Path:
    root = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(root) / "tideover"


@cache
def _machine() -> str:
    """What a compiled file depends on besides its text: processor and compiler."""
    try:
        flags = next(line for line in Path("/proc/cpuinfo").read_text().splitlines() if line.startswith("flags"))
    except (OSError, StopIteration):
        flags = platform.processor()
    return f"{platform.machine()} {flags} {compiler()}"


def build(groups: Sequence[Any], solver: Written, unknowns: int) -> Native | None:
    """Compile a network's equations, or find them compiled; None where that cannot be done."""
    command = compiler()
    if command is None:
        return None
    structure = (
        unknowns,
        command,
        tuple((id(g.program), g.x0, g.m0, g.s0, tuple(n.tobytes() for n in g.nodes)) for g in groups),
    )
    if structure not in _BUILT:
        _BUILT[structure] = (_compile(command, groups, solver, unknowns), [g.program for g in groups])
    return _BUILT[structure][0]


_BUILT: dict[Any, tuple[Native | None, list[Any]]] = {}
"""Compiled networks by structure, with the programs whose identity stands in the key; it changes no result."""


def _compile(command: str, groups: Sequence[Any], solver: Written, unknowns: int) -> Native | None:
    text, rows = source_of(groups, solver, unknowns)
    name = hashlib.sha256((text + " ".join(FLAGS) + _machine()).encode()).hexdigest()[:24]
    try:
        folder = _folder()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        target = folder / f"{name}.so"
        if not target.exists():
            with _one_at_a_time(folder / f"{name}.lock"):
                if not target.exists():
                    _made(command, text, target)
            for old in sorted(folder.glob("*.so"), key=lambda f: f.stat().st_mtime)[:-KEPT]:
                old.unlink(missing_ok=True)
        return Native(ctypes.CDLL(str(target)), rows)
    except (OSError, RuntimeError, subprocess.SubprocessError):  # no home, no room, no luck with the compiler
        return None  # the array code does the same


def _made(command: str, text: str, target: Path) -> None:
    """Compile a text into a file, which stands there whole or not at all."""
    with tempfile.TemporaryDirectory(dir=target.parent) as room:
        code, made = Path(room) / "network.c", Path(room) / "network.so"
        code.write_text(text)
        subprocess.run(
            [command, *FLAGS, "-o", str(made), str(code), "-lm"],
            check=True,
            capture_output=True,
            timeout=120,
            env=os.environ | {"TMPDIR": room},  # what a compiler that is stopped leaves behind goes with the room
        )
        os.replace(made, target)


@contextmanager
def _one_at_a_time(lock: Path) -> Iterator[None]:
    """Hold others up who want to compile the same: the second one then finds it done."""
    try:
        import fcntl
    except ImportError:  # no such locks here: both compile, the later one replaces the same by the same
        yield
        return
    with lock.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


__all__ = ["Native", "Tables", "build", "compiler", "pointers"]
