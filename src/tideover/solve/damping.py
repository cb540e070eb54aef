"""How Newton's method is held in check, case by case: the rules that the array code and the compiled code share."""

from __future__ import annotations

CAP = 3.0
"""Largest change of a node's voltage in one Newton iteration. [V]"""
AIR_SHARE = 1e-2
"""Weight of the air's temperature against voltages. [V/K]"""
SHRINKS = 0.8
"""A change gains on the solution where it is below this share of the one before it."""
SLOWER, QUICKER, SLOWEST = 0.5, 1.4, 0.03
"""Where the changes do not shrink, Newton jumps to and fro across a bend: shorter steps land on it. Factor of the step
where it does not gain and where it does, and the least share of a full step."""
PROMISE = 0.005
"""Share of the tolerance below which a change that is promised need not be made."""
DOUBT = 1.2
"""How much more the equations are thought to bend with every iteration saved on a promise. Without it, a promise made
where they are straight is believed where they are not: no second iteration is ever made that would show it."""

IN_C = f"""
            double size = 0.0, a;
            for (long r = 0; r < electrical; r++) {{ a = fabs(dV[r * BLOCK + k]); if (a > size || a != a) size = a; }}
            double change = size, before = last[k];
            for (long r = 0; r < states; r++) {{
                a = fabs(dX[r * BLOCK + k] * per_scale[r]);
                if (a > change || a != a) change = a;
            }}
            a = {AIR_SHARE!r} * fabs(dV[(unknowns - 1) * BLOCK + k]);
            if (a > change || a != a) change = a;
            int finite = isfinite(change);
            int gaining = change < {SHRINKS!r} * before || before > {CAP!r};
            pace[k] = gaining ? smaller({QUICKER!r} * pace[k], 1.0) : larger({SLOWER!r} * pace[k], {SLOWEST!r});
            used[b]++;
            if (finite) {{
                double step = pace[k] * smaller(1.0, {CAP!r} / larger(size, 1e-30));
                for (long r = 0; r < unknowns; r++) V[r * B + b] += dV[r * BLOCK + k] * step;
                for (long r = 0; r < states; r++) X[r * B + b] += dX[r * BLOCK + k] * step;
            }}
            int promised = bend[b] * change * change < {PROMISE!r} * close[b] && pace[k] == 1.0;
            int done = finite && (change < close[b] || promised);
            if (finite && before < 1.0 && change > 0.0) bend[b] = change / (before * before);
            if (done && change >= close[b]) bend[b] *= {DOUBT!r};
            last[k] = change;
            ok[b] = done;
            going[k] = finite && !done && used[b] < most[b];
            left -= !going[k];
"""
"""One iteration's rules for case `b`, the `k`-th of its block: the same as in `tideover.solve.newton.solve`."""
