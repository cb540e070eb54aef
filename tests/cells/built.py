"""Packs of known cells for the tests, written as files and read back."""

from __future__ import annotations

from tideover.design import cell_files
from tideover.design.model import Place
from tideover.design.source import Scalar
from tideover.parts import KINDS
from tideover.shelf import find

PACK = KINDS["pack"]


def text(capacities, resistances, strip="", cell="NMC 18650 2.6 Ah"):
    """A pack file: one row of capacities [Ah] and resistances [mΩ] a group; ids A01, A02 and so on."""
    lines = ["tideover pack: 1", f"cell: {cell}", "groups:"]
    ids = iter(f"A{k:02}" for k in range(1, 1000))
    named = [[(next(ids), c, r) for c, r in zip(*row)] for row in zip(capacities, resistances)]
    lines += [f"  - [{', '.join(id for id, _, _ in group)}]" for group in named]
    lines.append("cells:")
    for group in named:
        lines += [f"  {id}: {{capacity: {c} Ah, resistance: {r} mΩ, method: DC 1 s}}" for id, c, r in group]
    return "\n".join(lines) + "\n" + (f"strip: {strip}\n" if strip else "")


def read(folder, content):
    """The pack of a file, and the faults of reading it."""
    (folder / "pack.yaml").write_text(content, encoding="utf-8")
    faults = []
    here = Place(str(folder / "build.yaml"), 1, 1)
    return cell_files.read(Scalar("pack.yaml", here, 0, 0), PACK, find, faults.append), faults


def pack(folder, capacities, resistances, strip="", cell="NMC 18650 2.6 Ah"):
    found, faults = read(folder, text(capacities, resistances, strip, cell))
    assert not faults, [str(f) for f in faults]
    return found
