"""Pack files for drawings, read as the command reads them."""

from __future__ import annotations

from tideover.cli.cells.draw import read_pack

NICKEL = "nickel strip 8 × 0.15 mm"


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def text(series: int, parallel: int, strip: str = NICKEL, ids: list[str] | None = None, title: str = "Loft") -> str:
    ids = ids or [f"A{k:02d}" for k in range(1, series * parallel + 1)]
    rows = [ids[g * parallel : (g + 1) * parallel] for g in range(series)]
    lines = ["tideover pack: 1", f"title: {quoted(title)}", "cell: NMC 18650 2.6 Ah", "groups:"]
    lines += [f"  - [{', '.join(map(quoted, row))}]" for row in rows]
    lines += ["cells:", *(f"  {quoted(i)}: {{capacity: 2.2 Ah}}" for i in ids)]
    return "\n".join([*lines, f"strip: {strip}" if strip else ""]) + "\n"


def pack(tmp_path, *args, **named):
    file = tmp_path / "loft.yaml"
    file.write_text(text(*args, **named), encoding="utf-8")
    return read_pack(str(file))
