"""The look of every figure on screen and on published pages: one style sheet, one set of type sizes.

Colours are the custom properties of the page they stand on (``--ink``, ``--sea`` …), with the light palette where a
page sets none, so that a page that turns dark turns its figures too. In print everything is black on white. Nothing is
told by colour alone: lines differ in dash, statuses in shape and word.
"""

from __future__ import annotations

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT
from tideover.draw.svg import FONT

WIDE, PHONE = 720.0, 358.0
"""Widths that figures are drawn for. [px]"""
SIZE, SMALL = 13.0, 12.0
"""Type on a wide figure and on one for a phone. [px]"""
HANDY = 560.0
"""Below this width a figure is one for a phone. [px]"""
MARKS = {HOLDS: "●", TIGHT: "◆", FAILS: "▼", OPEN: "○"}
"""Shape of each status in running text."""
LINES = 8
"""Classes ``fig-l0`` … of curves in one chart: colour and dash."""

LOOK = f"""\
.fig{{display:block;max-width:100%;height:auto;--fig-ink:var(--ink,#16262e);--fig-soft:var(--soft,#5c6b73);\
--fig-grid:var(--line,#d9d6cc);--fig-paper:var(--paper,#fbfaf6);--fig-sea:var(--sea,#0b6e75);\
--fig-sea2:var(--sea2,#cfe6e4);--fig-amber:var(--amber,#8a5a00);--fig-amber2:var(--amber2,#f6e3bd);\
--fig-brick:var(--brick,#a3261c);--fig-brick2:var(--brick2,#f6d9d3);--fig-slate:var(--slate,#66727a)}}
.fig text{{font-family:{FONT};fill:var(--fig-ink);font-variant-numeric:tabular-nums}}
.fig .fig-soft{{fill:var(--fig-soft)}}
.fig .fig-strong{{font-weight:600}}
.fig .fig-halo{{paint-order:stroke;stroke:var(--fig-paper);stroke-width:3px;stroke-linejoin:round}}
.fig .fig-grid{{fill:none;stroke:var(--fig-grid);stroke-width:1}}
.fig .fig-axis{{fill:none;stroke:var(--fig-soft);stroke-width:1}}
.fig .fig-event{{fill:none;stroke:var(--fig-ink);stroke-width:1;stroke-dasharray:3 4}}
.fig .fig-limit{{fill:none;stroke:var(--fig-ink);stroke-width:2}}
.fig .fig-lead{{fill:none;stroke:var(--fig-soft);stroke-width:.75}}
.fig .fig-safe{{fill:var(--fig-sea2);stroke:none}}
.fig .fig-warn{{fill:var(--fig-amber2);stroke:none}}
.fig .fig-harm{{fill:var(--fig-brick2);stroke:none}}
.fig .fig-edge{{fill:none;stroke:var(--fig-sea);stroke-width:1}}
.fig .fig-holds{{fill:var(--fig-sea);stroke:var(--fig-sea)}}
.fig .fig-tight{{fill:var(--fig-amber);stroke:var(--fig-amber)}}
.fig .fig-fails{{fill:var(--fig-brick);stroke:var(--fig-brick)}}
.fig .fig-open{{fill:var(--fig-slate);stroke:var(--fig-slate)}}
.fig .fig-hollow{{fill:var(--fig-paper);stroke-width:2}}
.fig .fig-bar{{fill:var(--fig-sea);stroke:none}}
.fig .fig-loss{{fill:var(--fig-amber);stroke:none}}
.fig .fig-gain{{fill:var(--fig-sea2);stroke:var(--fig-sea);stroke-width:1}}
.fig .fig-plain{{fill:var(--fig-slate);stroke:none}}
.fig .fig-spread{{fill:none;stroke-width:6}}
.fig .fig-line{{fill:none;stroke-width:2;stroke-linejoin:round}}
.fig .fig-dot{{stroke:none}}
.fig .fig-l0{{stroke:var(--fig-sea)}}
.fig .fig-l1{{stroke:var(--fig-amber);stroke-dasharray:8 3}}
.fig .fig-l2{{stroke:var(--fig-ink);stroke-dasharray:2 3}}
.fig .fig-l3{{stroke:var(--fig-slate);stroke-dasharray:9 3 2 3}}
.fig .fig-l4{{stroke:var(--fig-sea);stroke-dasharray:3 2}}
.fig .fig-l5{{stroke:var(--fig-amber);stroke-dasharray:2 2 6 2}}
.fig .fig-l6{{stroke:var(--fig-ink);stroke-dasharray:12 3}}
.fig .fig-l7{{stroke:var(--fig-slate);stroke-dasharray:1 4;stroke-linecap:round}}
.fig circle.fig-line{{fill:var(--fig-paper)}}
@media print{{.fig{{--fig-ink:#000;--fig-soft:#000;--fig-grid:#bbb;--fig-paper:#fff;--fig-sea:#000;--fig-sea2:#e4e4e4;\
--fig-amber:#555;--fig-amber2:#eee;--fig-brick:#000;--fig-brick2:#ccc;--fig-slate:#555;break-inside:avoid}}}}
"""
"""Classes of every figure; lengths in px. A page includes it once."""
