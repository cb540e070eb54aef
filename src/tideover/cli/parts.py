"""``tideover parts``: the shelf, and what can be written about each kind of part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.common import HOLDS, Refusal, page, write, write_json
from tideover.quantity import show
from tideover.render.page import Page
from tideover.shelf import FAMILIES, Item, find, items, nearest, search

if TYPE_CHECKING:
    from tideover.parts import Parameter

UNVERIFIED = (
    "Not every value was checked: put the data sheet's or your own reading in place of what is typical, unverified."
)


@click.command()
@click.argument("words", metavar="[WORD]...", nargs=-1)
@click.option("--keys", is_flag=True, help="Show what can be written about a kind; WORD is the kind.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def parts(words: tuple[str, ...], keys: bool, json_: bool) -> int:
    """List the shelf of generic parts, or search it.

    Without a WORD everything is listed. With WORDs, the parts of which all of them are said; a name in full, or a
    search that leaves one part, shows all its values with tolerance and source. Case, order and spelling of units
    do not matter: 19v 3.4a adapter.
    """
    text = " ".join(words)
    if keys:
        return _keys(text, json_)
    exact = find(text) if text else None
    found = [exact] if exact else search(text)
    if not found:
        near = nearest(text)
        raise Refusal(
            f'Nothing on the shelf answers to "{text}".',
            f"Near it are: {'; '.join(near)}." if near else "List everything with: tideover parts",
        )
    if json_:
        write_json([_data(item) for item in found])
    elif len(found) == 1:
        write("\n".join(_whole(page(), found[0])) + "\n")
    else:
        write("\n".join(_list(page(), found, len(items()))) + "\n")
    return HOLDS


def _list(out: Page, found: list[Item], total: int) -> list[str]:
    """One line each, by family."""
    lines = [f"{len(found)} of {total} parts; typical, unverified where marked ~"]
    for family, said in FAMILIES.items():
        these = [item for item in found if item.family == family]
        if these:
            lines += ["", out.strong(said.capitalize() if said[0].islower() else said)]
        for item in these:
            name = f"{' ' if item.verified else '~'} {item.name}"
            lines.append(_short(out.plain(f"{name:<36}  {item.about}"), out.width))
    return lines


def _short(line: str, width: int) -> str:
    return line if len(line) <= width else f"{line[: width - 3].rstrip()}..."


def _whole(out: Page, item: Item) -> list[str]:
    """Everything known of one part."""
    kind = "a cell, for a pack" if item.kind == "cell" else f"kind: {item.kind}"
    lines = [*map(out.strong, out.wrap(item.name)), *out.wrap(f"{item.about} ({kind})", "  ")]
    values = {key.replace("_", " "): value for key, value in item.values.items()}
    width = max(map(len, (*values, *item.also)), default=0)
    for title, pairs in (("Values", values), ("Also known", item.also)):
        if pairs:
            lines += ["", title]
        for key, value in pairs.items():
            lines += out.wrap(value, f"  {key:<{width}}  ", " " * (width + 4))
    if item.aliases:
        lines += ["", *out.wrap(f"Also called: {'; '.join(item.aliases)}", "", "  ")]
    lines += ["", *out.wrap(f"Source: {item.source}", "", "  ")]
    if not item.verified:
        lines += out.wrap(UNVERIFIED)
    use = (
        f"pack: {{cells: {item.name}, series: {1 if item.values.get('chemistry') == 'PbA' else 3}, parallel: 2}}"
        if item.kind == "cell"
        else f"box: {item.name}"
        if item.kind == "box"
        else f"my part: {item.name}"
    )
    return [*lines, "", *out.wrap(use, "In build.yaml:  ", " " * 18)] if item.family != "reference" else lines


def _data(item: Item) -> dict[str, object]:
    return {
        "name": item.name,
        "kind": item.kind,
        "family": item.family,
        "about": item.about,
        "aliases": list(item.aliases),
        "values": {key.replace("_", " "): value for key, value in item.values.items()},
        "also": dict(item.also),
        "source": item.source,
        "verified": item.verified,
    }


def _keys(text: str, json_: bool) -> int:
    """Parameters of a kind, or the kinds there are."""
    from tideover.design.messages import folded, meant
    from tideover.design.values import example
    from tideover.parts import KINDS, TYPICAL

    if not text:
        width = max(map(len, KINDS))
        out = page()
        if json_:
            write_json({kind.name: kind.about for kind in KINDS.values()})
        else:
            lines = ["Kinds of parts; their keys: tideover parts --keys KIND", ""]
            for kind in KINDS.values():
                lines += out.wrap(kind.about, f"  {kind.name:<{width}}  ", " " * (width + 4))
            write("\n".join(lines) + "\n")
        return HOLDS
    named = [k for k in KINDS.values() if folded(k.name) == folded(text)]
    if not named:
        near = meant(text, KINDS)
        raise Refusal(
            f'"{text}" is no kind of part.',
            f"There are: {', '.join(KINDS)}.",
            f"Write: tideover parts --keys {near}" if near else "",
        )
    kind = named[0]
    rows: list[dict[str, Any]] = [
        {
            "key": p.key,
            "value": _usual(p) if p.default is not None else example(p),
            "choices": list(p.choices),
            "must be given": p.default is None,
            "about": p.about,
            "source": p.source,
        }
        for p in kind.parameters
        if not (kind.name == "box" and p.key == "ambient")
    ]
    if json_:
        write_json({"kind": kind.name, "about": kind.about, "terminals": list(kind.terminals), "keys": rows})
        return HOLDS
    out = page()
    lines = [*map(out.strong, out.wrap(kind.name)), *out.wrap(kind.about, "  ")]
    lines += out.wrap(", ".join(t for t in kind.terminals if t != "air") or "none", "  terminals: ", "    ")
    width = max(len(row["key"]) for row in rows)
    for title, given in (
        ("Must be given, for example", True),
        ("May be left out; then this counts (~ typical, unverified)", False),
    ):
        these = [row for row in rows if row["must be given"] == given]
        if these:
            lines += ["", title]
        for row in these:
            choice = f" (of {', '.join(row['choices'])})" if row["choices"] else ""
            sign = "~" if row["source"] == TYPICAL and not given else " "
            indent = f"{sign} {row['key']:<{width}}  "
            lines += out.wrap(f"{row['value']}{choice}; {row['about']}", indent, " " * (width + 4))
    write("\n".join(lines) + "\n")
    return HOLDS


def _usual(p: Parameter) -> str:
    """What a parameter is when nobody states it, as people write it."""
    if isinstance(p.default, str):
        return p.default
    return show(float(p.default or 0.0), p.unit, 4)
