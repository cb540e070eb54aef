"""The time method: a four-stage, third-order, L-stable, singly diagonally implicit Runge-Kutta pair.

Coefficients: A. Kvaerno, "Singly diagonally implicit Runge-Kutta methods with an explicit first stage", BIT 44 (2004)
489-502, the pair of orders 3 and 2. The first stage is explicit, the third is the embedded second-order result and
already stands at the end of the step, the fourth is the result. Both results are stiffly accurate: the
network's equations hold at the end of every step, not only in the mean.
"""

GAMMA = 0.43586652150845899942
"""Root of x^3 - 3 x^2 + 3/2 x - 1/6 that makes the method L-stable."""

_G = GAMMA
A2 = (_G,)
"""Explicit part of the second stage, at 2 gamma of the step."""
A3 = ((-4 * _G * _G + 6 * _G - 1) / (4 * _G), (-2 * _G + 1) / (4 * _G))
A4 = (
    (6 * _G - 1) / (12 * _G),
    -1 / ((24 * _G - 12) * _G),
    (-6 * _G * _G + 6 * _G - 1) / (6 * _G - 3),
)
C2 = 2 * _G
ORDER = 3
