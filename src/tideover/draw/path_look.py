"""How the power path looks on screen: classes whose colours are the page's own, with fallbacks; widths in px."""

from __future__ import annotations

from tideover.draw.svg import FONT

PATH_LOOK = (
    f".fig-path{{display:block;max-width:100%;height:auto;font-family:{FONT}}}"
    """
.fig-path text{fill:var(--ink,#16262e);font-variant-numeric:tabular-nums}
.fig-path .fig-name{font-weight:600}
.fig-path .fig-figure,.fig-path .fig-side{fill:var(--soft,#5c6b73)}
.fig-path .fig-volts{font-weight:600;paint-order:stroke;stroke:var(--paper,#fbfaf6);stroke-width:3}
.fig-path .fig-box{fill:var(--paper,#fbfaf6);stroke:var(--ink,#16262e);stroke-width:1.2}
.fig-path .fig-holds .fig-box{stroke:var(--sea,#0b6e75)}
.fig-path .fig-tight .fig-box{stroke:var(--amber,#8a5a00);stroke-width:2}
.fig-path .fig-fails .fig-box{stroke:var(--brick,#a3261c);stroke-width:2.4}
.fig-path .fig-open .fig-box{stroke:var(--slate,#66727a);stroke-width:1.2}
.fig-path .fig-level{fill:var(--sea,#0b6e75);stroke:none}
.fig-path .fig-brim{fill:none;stroke:var(--sea,#0b6e75);stroke-width:1}
.fig-path .fig-fold{fill:none;stroke:var(--soft,#5c6b73);stroke-width:1}
.fig-path .fig-live{fill:none;stroke:var(--sea,#0b6e75);stroke-linejoin:round;stroke-linecap:round}
.fig-path .fig-idle{fill:none;stroke:var(--slate,#66727a);stroke-width:1.3;stroke-dasharray:3 3}
.fig-path .fig-blank{fill:none;stroke:var(--slate,#66727a);stroke-width:1.3}
.fig-path .fig-return{fill:none;stroke:var(--soft,#5c6b73);stroke-width:1.6;stroke-linecap:round}
.fig-path .fig-back{stroke:var(--soft,#5c6b73);stroke-linecap:butt}
.fig-path .fig-arrow{fill:var(--sea,#0b6e75);stroke:var(--paper,#fbfaf6);stroke-width:.8}
.fig-path .fig-arrow.fig-back{fill:var(--soft,#5c6b73);stroke:var(--paper,#fbfaf6)}
.fig-path .fig-dot{fill:var(--ink,#16262e);stroke:var(--paper,#fbfaf6);stroke-width:1}
.fig-path .fig-mark-holds{fill:var(--sea,#0b6e75)}
.fig-path .fig-mark-tight{fill:var(--amber,#8a5a00)}
.fig-path .fig-mark-fails{fill:var(--brick,#a3261c)}
.fig-path .fig-mark-open{fill:var(--slate,#66727a)}
.fig-path .fig-ring{fill:none;stroke:var(--slate,#66727a);stroke-width:1.6}
.fig-path a{cursor:pointer}
.fig-path a:hover .fig-box,.fig-path a:focus-visible .fig-box{stroke-width:3}
.fig-path a:focus-visible{outline:2px solid var(--sea,#0b6e75);outline-offset:2px}
@media print{.fig-path a{cursor:auto}}
"""
)
