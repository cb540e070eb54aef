"""Pages of the manual that are made from the code: every kind of part, every question, the schema of the build file.

    python docs/generate.py            write them
    python docs/generate.py --check    write nothing; exit 1 and name what is stale

A kind's tables come from its declaration. Its equations are written by hand in ``parts/equations/``, in arithmetic that
a test evaluates and compares with the part model (see ``tests/test_part_pages.py``).
"""

from __future__ import annotations

import ast
import inspect
import json
import re
import sys
from pathlib import Path
from types import ModuleType

from worked import worked_values

from tideover.answers.base import QUESTIONS
from tideover.design import schema
from tideover.laws.cells import KNOTS, OCV, OCV_SOURCE
from tideover.parts import ALL, Kind, Parameter
from tideover.parts.base import Arc, Machine
from tideover.quantity import show

DOCS = Path(__file__).parent
FRAGMENTS = DOCS / "parts" / "equations"
ANSWERS = DOCS.parent / "src" / "tideover" / "answers"
MADE = "<!-- made by docs/generate.py: edit the code or docs/parts/equations, not this page -->\n\n"
ARC = re.compile(r"^([\w ,-]+) > ([\w -]+): (.+)$")
"""``running, ramping > holding: 0.5 - s.mains`` in a fragment: from any of these, to, guard or delay."""


def page_name(kind: str) -> str:
    return kind.replace(" ", "-") + ".md"


# --- fragments ------------------------------------------------------------------------------------


def fragment(kind: str) -> tuple[str, dict[str, str]]:
    """The hand-written mathematics of a kind: its equations, and a section for each of its machines."""
    text = _included((FRAGMENTS / page_name(kind)).read_text(encoding="utf-8"))
    equations, *machines = re.split(r"^## Machine (.+)\n", text, flags=re.M)
    return equations.strip(), dict(zip(machines[::2], (m.strip() for m in machines[1::2])))


def _included(text: str) -> str:
    """With ``{{name}}`` replaced by the fragment of that name, which several kinds share."""

    def found(place: re.Match[str]) -> str:
        if place[1] == "curves":
            return _curves()
        return (FRAGMENTS / page_name(place[1])).read_text(encoding="utf-8").strip()

    return re.sub(r"\{\{(.+?)\}\}", found, text)


def _curves() -> str:
    """Open-circuit voltages of all chemistries, and where they come from."""
    rows = [(f"{s:g}", *(f"{volts[k]:g}" for volts in OCV.values())) for k, s in enumerate(KNOTS)]
    sources = "\n".join(f"- {name}: {source}" for name, source in OCV_SOURCE.items())
    return table(("s", *OCV), rows) + f"\n\n{sources}"


def formulas(text: str) -> list[str]:
    """Lines between fences; a line that begins with a space goes on with the one before; comments left out."""
    lines: list[str] = []
    for block in re.findall(r"^```\n(.*?)^```", text, flags=re.M | re.S):
        for line in block.splitlines():
            line = line.partition("#")[0].rstrip()
            if line.startswith(" ") and lines:
                lines[-1] += " " + line.strip()
            elif line:
                lines.append(line)
    return lines


def conditions(text: str) -> dict[tuple[str, str], list[str]]:
    """Guards and delays of a machine's section, in their order, by (from, to)."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in formulas(text):
        if arc := ARC.match(line):
            for source in arc[1].split(", "):
                found.setdefault((source, arc[2]), []).append(arc[3])
    return found


# --- pages of parts -------------------------------------------------------------------------------


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    cut = [" | ".join(cell.replace("|", "\\|") for cell in row) for row in (head, *rows)]
    return "\n".join([f"| {cut[0]} |", "|" + "---|" * len(head), *(f"| {row} |" for row in cut[1:])])


def _unit(unit: str) -> str:
    return unit.replace("^2", "²").replace("ohm", "Ω").replace(" ", "·") or "–"


def _value(p: Parameter, value: float) -> str:
    """A limit or default as a builder would write it; a resistivity needs more digits than most."""
    if p.unit in ("A", "V") and abs(value) < 1e-11 and value:
        return f"{value:g} {p.unit}"
    return show(value, p.unit, 4)


def _parameter(p: Parameter) -> tuple[str, ...]:
    if p.unit == "word":
        default = f"`{p.default}`" if p.default is not None else "must be given"
        return f"`{p.key}`", default, ", ".join(f"`{c}`" for c in p.choices), "word", p.about, p.source
    default = "must be given" if p.default is None else _value(p, float(p.default))
    limits = f"{_value(p, p.low)} to {_value(p, p.high)}"
    return f"`{p.key}`", default, limits, _unit(p.unit), p.about, p.source


def _chain(kind: Kind) -> str:
    if kind.name == "box":
        return "It stands in no join: the file's `box` describes it. Every warm part inside gives its heat to its air."
    names = ", ".join(f"`{t}`" for t in kind.terminals)
    if kind.through is None:
        said = "It cannot stand in a chain by its name alone: write its terminals, such as " + (
            f"`name.{kind.terminals[2]}`."
        )
    else:
        said = f"In a chain it is entered at `{kind.through[0]}` and left at `{kind.through[1]}`."
    if "minus" in kind.terminals or "coil minus" in kind.terminals:
        said += " Its minus goes to the return unless a join names it."
    if kind.senses:
        said += f" Its sense terminals are joined by themselves to the {kind.senses} that it watches."
    if kind.optional:
        said += f" {' or '.join(f'`{t}`' for t in sorted(kind.optional, reverse=True))} may be left unjoined."
    return f"Terminals: {names}. {said}"


def _states(kind: Kind) -> str:
    rows = []
    for s in kind.states:
        where = "held" if s.slow else "in equilibrium"
        rows.append((f"`{s.name}`", _unit(s.unit), s.about, where, _start(s.guess, s.start, s.unit)))
    if kind.warm:
        rows.append(("`temp`", "K", "of the part", "held", "the ambient"))
    if not rows:
        return ""
    said = "Temperature follows from the heat; see [how to read these pages](README.md#temperature).\n\n" * kind.warm
    return f"## States\n\n{said}" + table(("state", "unit", "what it is", "at a standing point", "begins at"), rows)


def _start(guess: str, start: float, unit: str) -> str:
    if guess == "supply":
        return "the highest voltage of any source"
    return f"`{guess}`" if guess else "the ambient" if unit == "K" else f"{start:g}"


def _signals(kind: Kind) -> str:
    if not kind.signals:
        return ""
    said = ", ".join(f"`{name}` ({value:g} unless told)" for name, value in kind.signals.items())
    return f"## Signals\n\nFrom outside, at known instants: {said}."


def _machine(kind: Kind, machine: Machine, section: str) -> str:
    """A machine's states and arcs, in the order of the code, each with its condition from the fragment."""
    found = conditions(section)
    rows = [(a.source, a.target, *_arc(a, found, f"{kind.name}, {machine.name}")) for a in machine.arcs]
    left = [ends for ends, texts in found.items() if texts]
    if left:
        raise SystemExit(f"{kind.name}, {machine.name}: the fragment has arcs that the part lacks: {left}")
    states = ", ".join(f"`{s}`" for s in machine.states)
    parts = [f"## Machine: {machine.name}", f"States, the first being where it starts: {states}."]
    parts += [f"{machine.about[0].upper()}{machine.about[1:]}."] if machine.about else []
    prose = re.sub(r"^```\n(.*?)^```\n?", "", section, flags=re.M | re.S).strip()
    parts += [prose] if prose else []
    own = [line for line in formulas(section) if not ARC.match(line)]
    parts += ["```\n" + "\n".join(own) + "\n```"] if own else []
    parts.append(table(("from", "to", "it goes", "note"), rows))
    if machine.entry:
        entered = [f"entering `{s}` sets `{x}` to {value:g}" for s, x, value in machine.entry]
        parts.append(f"{'; '.join(entered)}.".capitalize())
    return "\n\n".join(parts)


def _arc(arc: Arc, found: dict[tuple[str, str], list[str]], where: str) -> tuple[str, str]:
    texts = found.get((arc.source, arc.target))
    if not texts:
        raise SystemExit(f"{where}: the fragment does not say when {arc.source} > {arc.target}")
    said = f"when `{texts.pop(0)}` > 0" if arc.when else f"after `{texts.pop(0)}`"
    return said, ", ".join(filter(None, (arc.about, "settles" * arc.settles)))


def part_page(kind: Kind) -> str:
    """The page of one kind."""
    module = inspect.getmodule(_equations(kind))
    equations, sections = fragment(kind.name)
    required = [p for p in kind.parameters if p.default is None]
    parts = [
        f"# {kind.name}",
        f"{kind.about[0].upper()}{kind.about[1:]}.",
        _docstring(module),
        _chain(kind),
        "## Parameters",
        ("Those that must be given: " + ", ".join(f"`{p.key}`" for p in required) + ". " if required else "")
        + "Values outside the range are refused as absurd.",
        table(("key", "default", "range", "unit", "what it is", "source"), [_parameter(p) for p in kind.parameters]),
        _states(kind),
        _signals(kind),
        "## Equations",
        equations,
        *(_machine(kind, m, sections.get(m.name, "")) for m in kind.machines),
        "## Three worked values",
        "To check a rebuild by; computed by the part model itself. SI units; parameters not named have their default.",
        worked_values(kind),
    ]
    return MADE + "\n\n".join(p for p in parts if p) + "\n"


def _equations(kind: Kind) -> object:
    """The function that tells in which file the kind is declared; the conductors' is made there too."""
    return kind.equations


def _docstring(module: ModuleType | None) -> str:
    """A part file's docstring without its title."""
    body = inspect.getdoc(module) or ""
    return re.sub(r"``(.+?)``", r"`\1`", body.partition("\n")[2].strip())


def parts_index() -> str:
    rows = [(f"[{k.name}]({page_name(k.name)})", k.about) for k in ALL]
    common = (FRAGMENTS / "common.md").read_text(encoding="utf-8").strip()
    return (
        MADE
        + "# Parts: every kind, and how to read its page\n\n"
        + "Each page states its kind in full: whoever writes it down anew elsewhere gets the same numbers, and has "
        + "three of them to check by.\n\n"
        + table(("kind", "what it is"), rows)
        + f"\n\n{common}\n"
    )


# --- pages of answers -----------------------------------------------------------------------------


def answer_page(key: str) -> str | None:
    """The page of one question, from its file's docstring; None while the file is not there."""
    file = ANSWERS / f"{key}.py"
    if not file.exists():
        return None
    said = inspect.cleandoc(ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or "")
    title, _, body = said.partition("\n")
    lines: list[str] = []
    for line in body.splitlines():
        if line and not line.startswith(" "):
            lines += [f"## {line}", ""]
        else:
            lines.append(line.strip())
    text = re.sub(r"``(.+?)``", r"`\1`", "\n".join(lines).strip())
    return f"{MADE}# {title}\n\nKey: `{key}`, as in `tideover sheet BUILD {key}`.\n\n{text}\n"


def answers_index(keys: list[str]) -> str:
    rows = [(f"[{key}]({key}.md)", QUESTIONS[key]) for key in keys]
    return MADE + "# The sheet: every question\n\n" + table(("key", "question"), rows) + "\n"


# --- all of them ----------------------------------------------------------------------------------


def pages() -> dict[str, str]:
    """Every made page, by its path below docs."""
    out = {f"parts/{page_name(kind.name)}": part_page(kind) for kind in ALL}
    out["parts/README.md"] = parts_index()
    answers = {key: page for key in QUESTIONS if (page := answer_page(key)) is not None}
    out |= {f"answers/{key}.md": page for key, page in answers.items()}
    out["answers/README.md"] = answers_index(list(answers))
    out["build-file.schema.json"] = json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"
    return out


def stale(made: dict[str, str]) -> list[str]:
    """Pages that differ from what the code says, are missing, or belong to nothing."""
    old = [str(f.relative_to(DOCS)) for d in ("parts", "answers") for f in sorted((DOCS / d).glob("*.md"))]
    return [
        *(p for p, text in made.items() if not (DOCS / p).exists() or (DOCS / p).read_text("utf-8") != text),
        *(f"{p} (belongs to nothing any more)" for p in old if p not in made),
    ]


def main(arguments: list[str]) -> int:
    made = pages()
    behind = stale(made)
    if arguments == ["--check"]:
        for page in behind:
            print(f"stale: docs/{page}", file=sys.stderr)
        if behind:
            print("Write them anew with: make docs", file=sys.stderr)
        return 1 if behind else 0
    for path, text in made.items():
        (DOCS / path).parent.mkdir(parents=True, exist_ok=True)
        (DOCS / path).write_text(text, encoding="utf-8")
    for page in behind:
        print(f"docs/{page}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
