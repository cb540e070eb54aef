"""``tideover parts``: whole outputs, for people and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import golden

from cli.test_sheet import told
from tideover.cli.program import run
from tideover.parts import KINDS
from tideover.shelf import items

GOLDEN = Path(__file__).with_name("parts.txt")


def test_whole_outputs(capsys):
    golden.check(
        GOLDEN,
        {
            "a search": told(capsys, "parts", "relay"),
            "one part": told(capsys, "parts", "19v", "3.4a", "Adapter"),
            "a cell": told(capsys, "parts", "NMC 18650 2.6 Ah"),
            "a box": told(capsys, "parts", "printed box"),
            "a part for reference": told(capsys, "parts", "TVS diode 5 V"),
            "nothing near": told(capsys, "parts", "sundial"),
            "something near": told(capsys, "parts", "barrel", "jak"),
            "kinds": told(capsys, "parts", "--keys"),
            "keys of a kind": told(capsys, "parts", "--keys", "Protection_Board"),
            "a misspelt kind": told(capsys, "parts", "--keys", "relai"),
        },
    )


def test_the_list_has_every_part_on_one_line_of_80_columns(capsys):
    assert run(["parts"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert len([line for line in lines if line[:2] in ("~ ", "  ")]) == len(items())
    for item in items():
        assert any(line[2:].startswith(item.name) for line in lines), item.name


def test_every_part_and_kind_can_be_shown(capsys):
    for item in items():
        assert run(["parts", item.name]) == 0
        out = capsys.readouterr().out
        assert max(map(len, out.splitlines())) <= 80, item.name
        assert item.verified or "typical, unverified" in out, item.name
    for kind in KINDS.values():
        assert run(["parts", "--keys", kind.name]) == 0
        out = capsys.readouterr().out
        assert max(map(len, out.splitlines())) <= 80
        assert all(p.key in out for p in kind.parameters if p.key != "ambient"), kind.name


def test_json_tells_all(capsys):
    run(["parts", "--json"])
    said = json.loads(capsys.readouterr().out)
    assert len(said) == len(items())
    assert said[0]["values"]["voltage"] == "5 V ±5 %" and said[0]["verified"] is False
    run(["parts", "--keys", "relay", "--json"])
    said = json.loads(capsys.readouterr().out)
    assert [row["key"] for row in said["keys"]] == [p.key for p in KINDS["relay"].parameters]
