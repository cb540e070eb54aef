"""What the commands about cells are given: values of options, logs, the file of a pack."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from tideover.cli.common import Refusal
from tideover.quantity import Quantity, QuantityError, parse

if TYPE_CHECKING:
    from tideover.cells.condition import Condition
    from tideover.cells.log import Log
    from tideover.design.cell_model import BuiltPack, CellModel

CONDITION = "0.5 A to 2.8 V at 25 °C"
"""What a condition looks like."""


def quantity(option: str, text: str, unit: str, example: str) -> Quantity:
    """An option's value with its limits, or a refusal that says how to write it."""
    try:
        return parse(text, unit, example)
    except QuantityError as error:
        mend = f'Write: {option} "{error.mend}"'
        raise Refusal(f'{option} is "{error.text}", {error.problem}.', error.expected, mend) from None


def value(option: str, text: str, unit: str, example: str) -> float | None:
    """An option's value in SI, or None where it was not given."""
    return quantity(option, text, unit, example).nominal if text else None


def condition(option: str, text: str) -> Condition:
    """A current, a cut-off and a temperature, as ``0.5 A to 2.8 V at 25 °C``; without the last it is 25 °C."""
    from tideover.cells import columns as col
    from tideover.cells.condition import Condition

    said = re.fullmatch(r"\s*(.+?)\s+to\s+(.+?)(?:\s+at\s+(.+?))?\s*", text)
    if not said:
        problem = f'{option} is "{text}", which is no current, cut-off and temperature.'
        raise Refusal(problem, f'Write, for example: {option} "{CONDITION}"')
    found = []
    for field, word in zip(("discharge_current", "cutoff", "ambient"), said.groups("25 °C")):
        try:
            found.append(cast(float, col.read(col.BY_FIELD[field], word)))
        except col.WrongValueError as error:
            mend = f'Write, for example: {option} "{CONDITION}"'
            raise Refusal(f"{option}: {error.problem}.", error.expected, mend) from None
    return Condition(*found)


def cell_model(text: str) -> CellModel:
    """A cell as it is named: the file of a fitted one, or one of the shelf."""
    from tideover.cells.model import of_item
    from tideover.design import cell_files
    from tideover.design.cell_model import CellModel
    from tideover.design.messages import BuildError, Fault
    from tideover.design.model import Place
    from tideover.design.source import Scalar
    from tideover.parts.pack import PACK
    from tideover.shelf import find, nearest

    if not cell_files.is_file(text):
        item = find(text)
        if item is None or item.kind != "cell":
            near = [name for name in nearest(text) if (other := find(name)) and other.kind == "cell"]
            raise Refusal(
                f'"{text}" is neither a file of a fitted cell nor a cell on the shelf.',
                f"Near it are: {'; '.join(near)}." if near else "See: tideover parts cell",
            )
        return of_item(item)
    path = Path(text)
    if not path.is_file():
        raise Refusal(f"{text}: there is no such file.", f"Write one with: tideover cells fit FILE... --out {text}")
    faults: list[Fault] = []
    found = cell_files.read(Scalar(path.name, Place(str(path)), 0, 0), PACK, cast(Any, find), faults.append)
    if faults or found is None:
        raise BuildError(faults)
    return found if isinstance(found, CellModel) else found.cell


def logs_of(files: tuple[str, ...]) -> list[Log]:
    """Every log, as `tideover cells read` reads it; BuildError with the faults of all."""
    from tideover.cells.log_read import read_log
    from tideover.design.messages import BuildError, Fault

    faults: list[Fault] = []
    out = []
    for name in files:
        try:
            out.append(read_log(name))
        except BuildError as error:
            faults += error.faults
    if faults:
        raise BuildError(faults)
    return out


def read_pack(file: str) -> BuiltPack:
    """The pack that a file describes.

    Raises
    ------
    Refusal
        There is no such file, or it describes a cell.
    BuildError
        All that is wrong in it.
    """
    from tideover.design import cell_files
    from tideover.design.cell_model import BuiltPack
    from tideover.design.messages import BuildError, Fault
    from tideover.design.model import Place
    from tideover.design.source import Scalar
    from tideover.parts.pack import PACK
    from tideover.shelf import find

    path = Path(file)
    try:
        there, folder = path.is_file(), path.is_dir()
    except ValueError:  # a name that no file can have
        there = folder = False
    if not there:
        problem = "this is a folder" if folder else "there is no such file"
        raise Refusal(f"{file}: {problem}.", "Name the file of a pack; its first line is: tideover pack: 1")
    faults: list[Fault] = []
    name = Scalar(str(path), Place("", 1, 1), 0, 0)
    found = cell_files.read(name, PACK, find, faults.append)  # type: ignore[arg-type]  # an item is read-only
    if faults:
        raise BuildError(faults)
    if not isinstance(found, BuiltPack):
        raise Refusal(f"{file}: this is one kind of cell, not a pack.", f"A pack begins with: {cell_files.PACK}: 1")
    return found


THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""A run solves thousands of systems of a hundred unknowns or fewer: on a busy machine, waiting for other threads takes
far longer than the work. Who sets them otherwise is obeyed."""


def single_thread() -> None:
    """Keep numpy to one thread; before it is first imported, which no command does before it must."""
    for threads in THREADS:
        os.environ.setdefault(threads, "1")


def usual_load(pack: BuiltPack) -> float:
    """Half the capacity of a group in an hour. [A]"""
    return sum(c.capacity.nominal for group in pack.groups for c in group) / pack.series / 7200.0


def stated_load(current: str | None, power: str | None) -> tuple[float | None, float | None]:
    """Options --current and --power: one of them in SI, or neither. [A, W]"""
    if current is not None and power is not None:
        raise Refusal("A load has a current or a power, not both.", "Leave one of them out.")
    for option, text, unit, example in (("--current", current, "A", "5 A"), ("--power", power, "W", "12 W")):
        if text is None:
            continue
        value = quantity(option, text, unit, example).nominal
        if not value > 0.0:
            raise Refusal(
                f'{option} is "{text}", which is no load.', "It is above zero.", f'Write: {option} "{example}"'
            )
        return (value, None) if unit == "A" else (None, value)
    return None, None
