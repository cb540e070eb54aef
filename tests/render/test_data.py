"""Answers as plain data."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import numpy as np

from render.samples import ANSWERS, CAUTIONS, STANDING, TITLE
from tideover.answers.base import QUESTIONS, STATUSES, Spread
from tideover.render import data

TEXT, NUMBER = {"type": "string"}, {"type": ["number", "null"]}
CELL = {"type": ["string", "number", "boolean", "null"]}
STATUS = {"enum": list(STATUSES)}
TEXTS = {"type": "array", "items": TEXT}


def record(**fields):
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


ANSWER = record(
    question=TEXT,
    status=STATUS,
    headline=TEXT,
    findings={
        "type": "array",
        "items": record(
            **dict.fromkeys(
                ["name", "subject", "state", "quantity", "unit", "case", "why", "mend", "source", "place"], TEXT
            ),
            **dict.fromkeys(("value", "limit", "margin"), NUMBER),
            status=STATUS,
        ),
    },
    tables={
        "type": "array",
        "items": record(
            title=TEXT,
            columns={"type": "array", "items": record(name=TEXT, unit=TEXT)},
            rows={"type": "array", "items": {"type": "array", "items": CELL}},
        ),
    },
    series={
        "type": "array",
        "items": record(
            name=TEXT,
            x_name=TEXT,
            x_unit=TEXT,
            y_unit=TEXT,
            x={"type": "array", "items": NUMBER},
            y={"type": "array", "items": NUMBER},
            log={"type": "boolean"},
        ),
    },
    spreads={
        "type": "array",
        "items": record(
            **dict.fromkeys(("name", "quantity", "unit"), TEXT),
            **{key: {"type": "array", "items": NUMBER} for key in ("edges", "shares")},
            **dict.fromkeys(("limit", "held", "held_low", "held_high"), NUMBER),
            worse={"enum": ["low", "high"]},
            count={"type": "integer"},
        ),
    },
    cautions=TEXTS,
)
SHEET = record(
    form={"const": 1},
    title=TEXT,
    build=TEXT,
    seed={"type": "integer"},
    status=STATUS,
    answers={"type": "object", "propertyNames": {"enum": list(QUESTIONS)}, "additionalProperties": ANSWER},
    cautions=TEXTS,
)


def test_the_shape_is_the_documented_one():
    said = data.sheet(TITLE, "build.yaml", 1, ANSWERS, CAUTIONS)
    jsonschema.validate(json.loads(json.dumps(said, allow_nan=False)), SHEET)
    assert list(said["answers"]) == [a.key for a in ANSWERS]
    assert said["status"] == "fails"


def test_distributions_keep_the_documented_shape():
    lie = Spread("runtime", "runtime at mean load", "s", (1.0, 2.0, 3.0), (0.25, 0.75), None, "low", 1.0, 0.9, 1.0, 40)
    said = data.answer(replace(STANDING, spreads=(lie,)))
    jsonschema.validate(json.loads(json.dumps(said, allow_nan=False)), ANSWER)
    assert said["spreads"][0]["edges"] == [1.0, 2.0, 3.0] and said["spreads"][0]["limit"] is None


def test_numbers_are_kept_whole_and_missing_ones_are_null():
    said = data.answer(STANDING)
    assert said["findings"][0]["value"] == 11.981
    assert said["tables"][0]["rows"][0] == ["inlet", 18.71, 0.0021, None, None]


def test_numbers_of_arrays_become_plain_ones():
    given = {"a": np.float64(2.5), "b": np.array([1.0, np.inf]), "c": (np.int64(3), np.bool_(True)), "d": "x"}
    said = data.plain(given)
    assert said == {"a": 2.5, "b": [1.0, None], "c": [3, True], "d": "x"}
    json.dumps(said, allow_nan=False)
