"""Every complaint about a log, in one catalogue: what, where, as written, what is expected, which option states it."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.design.messages import Fault, listed, quoted
from tideover.design.model import Place


def no_file(name: str) -> Fault:
    return Fault(Place(name), "", "there is no such file", "", "Check the spelling and the folder.")


def a_folder(name: str) -> Fault:
    return Fault(Place(name), "", "this is a folder", "A log is a text file.", f"Name its files: {name}/*.csv")


def unreadable(name: str, why: str) -> Fault:
    return Fault(Place(name), "", f"the file cannot be read: {why}", "", "Look at its rights, or copy it.")


def too_big(name: str, size: int, most: int) -> Fault:
    problem = f"the file has {size / 1e6:.0f} MB; up to {most / 1e6:.0f} MB are read"
    return Fault(Place(name), "", problem, "", "Split it, or keep every tenth row of the rests.")


def not_text(name: str) -> Fault:
    expected = "A text file with one row a sample is expected: UTF-8, UTF-16 with its mark, or Latin-1."
    return Fault(Place(name), "", "this is no text", expected, "Export the record as CSV.")


def no_rows(name: str) -> Fault:
    expected = "At least three rows of numbers are expected, with commas, semicolons, tabs or blanks between."
    return Fault(Place(name), "", "there is no table of numbers in it", expected, "Export the record as CSV.")


def too_few(name: str, n: int) -> Fault:
    problem = f"only {n} {'row' if n == 1 else 'rows'} can be used"
    return Fault(Place(name), "", problem, "At least three are expected.", "Record longer, or more often.")


def comma_twice(name: str, line: int, text: str, header: int, cells: int) -> Fault:
    problem = f"{quoted(text)} has {cells} fields where the header has {header}"
    expected = "A comma seems to part the columns and to mark the decimals as well; nobody can tell them apart."
    return Fault(Place(name, line, 1), "", problem, expected, "Export it with semicolons or with decimal points.")


def header_unlike(name: str, line: int, header: int, cells: int) -> Fault:
    problem = f"the header has {header} columns and the rows have {cells}"
    mend = 'State what stands where: --columns "time, voltage, current", with a - for what is not needed'
    return Fault(Place(name, line, 1), "", problem, "One name a column is expected.", mend)


def decimal_open(name: str, line: int, text: str) -> Fault:
    expected = "Its comma may mark decimals or thousands; no value in the file proves which."
    return Fault(
        Place(name, line, 1), "", f"{quoted(text)} can be read in two ways", expected, "State it: --decimal comma"
    )


def decimal_both(name: str, point: str, comma: str) -> Fault:
    problem = f"{quoted(point)} has a decimal point and {quoted(comma)} a decimal comma"
    return Fault(Place(name), "", problem, "One of the two is expected.", "State it: --decimal point, or comma")


def no_header(name: str, line: int, row: Sequence[str]) -> Fault:
    problem = f"no header says what the {len(row)} columns are; the first row is {quoted(', '.join(row))}"
    mend = 'State them in order, with units: --columns "time [s], voltage [V], current [A]"; a - skips one'
    return Fault(Place(name, line, 1), "", problem, "", mend)


def missing_column(name: str, line: int, role: str, header: Sequence[str], mend: str) -> Fault:
    said = listed([quoted(h) for h in header], 12) if header else "none have a name"
    return Fault(Place(name, line, 1), "", f"no column is known to be the {role}", f"The columns: {said}.", mend)


def two_columns(name: str, line: int, role: str, found: Sequence[str]) -> Fault:
    problem = f"{listed([quoted(h) for h in found])} could each be the {role}"
    mend = f'State which: --columns "{role}={found[0]}"'
    return Fault(Place(name, line, 1), "", problem, "", mend)


def odd_column(name: str, line: int, header: str, says: str, unit: str) -> Fault:
    problem = f"{quoted(header)} says {says}, but its unit is {quoted(unit)}"
    mend = f'State what it is: --columns "{says}={header}" --units "{says}=..."'
    return Fault(Place(name, line, 1), "", problem, "", mend)


def bad_option(name: str, option: str, text: str, expected: str, mend: str) -> Fault:
    return Fault(Place(name), option, f"is {quoted(text)}", expected, f"Write: {option} {mend}")


def unit_open(name: str, line: int, role: str, header: str, choices: Sequence[str], seen: str) -> Fault:
    problem = f"no unit is told of {quoted(header or role)}, and {seen}"
    mend = f'State it: --units "{role}={choices[0]}"' + (f", or {listed(choices[1:])}" if len(choices) > 1 else "")
    return Fault(Place(name, line, 1), "", problem, "", mend)


def clock_open(name: str, line: int, text: str) -> Fault:
    expected = "It may be hours and minutes or minutes and seconds."
    mend = 'State it: --units "time=hh:mm", or mm:ss'
    return Fault(Place(name, line, 1), "", f"{quoted(text)} can be read in two ways", expected, mend)


def dates_open(name: str, line: int, text: str) -> Fault:
    expected = "Day or month may come first; no value in the file proves which."
    mend = "State it: --dates day-first, or month-first"
    return Fault(Place(name, line, 1), "", f"{quoted(text)} can be read in two ways", expected, mend)


def odd_row(name: str, line: int, column: int, text: str, why: str) -> Fault:
    mend = "Correct it in a copy of the file, or delete the row there."
    return Fault(Place(name, line, column), "", f"{quoted(text)} {why}", "", mend)


def more_odd_rows(name: str, n: int, total: int) -> Fault:
    problem = f"{n} of {total} rows cannot be read"
    expected = "A few are left out and told; so many point to a wrong reading of the whole."
    mend = "Look at the first of them; state --decimal or --columns if they were misread."
    return Fault(Place(name), "", problem, expected, mend)


def zigzag(name: str, n: int) -> Fault:
    expected = "Time goes up; a few restarts are joined."
    mend = 'State another column: --columns "time=..."'
    return Fault(Place(name), "time", f"falls {n} times", expected, mend)


def zones_mixed(name: str) -> Fault:
    return Fault(Place(name), "", "some times have a zone and some have none", "", "Write all of them alike in a copy.")


def sign_open(name: str, why: str) -> Fault:
    mend = "State it: --discharge positive, or --discharge negative"
    return Fault(Place(name), "", f"nothing proves which sign of the current is discharge: {why}", "", mend)


def sign_against(name: str, why: str, said: str) -> Fault:
    expected = "Discharge lowers the voltage; a charge has a negative current here."
    return Fault(Place(name), "", why, expected, said)


def unsigned_open(name: str, begin: float, end: float, why: str) -> Fault:
    problem = f"the current has no sign, the file holds charge parts, and from {begin:.6g} s to {end:.6g} s {why}"
    expected = "A column that says charge and discharge would tell."
    mend = "Cut the file there in a copy and read the pieces apart, with --discharge positive or negative each."
    return Fault(Place(name), "", problem, expected, mend)


def out_of_reach(name: str, what: str, value: str, expected: str, mend: str) -> Fault:
    return Fault(Place(name), what, f"reaches {value}", expected, mend)
