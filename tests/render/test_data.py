"""Answers as plain data."""

from __future__ import annotations

import json

import jsonschema
import numpy as np

from render.samples import ANSWERS, CAUTIONS, STANDING, TITLE
from tideover.answers.base import QUESTIONS, STATUSES
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


def test_numbers_are_kept_whole_and_missing_ones_are_null():
    said = data.answer(STANDING)
    assert said["findings"][0]["value"] == 11.981
    assert said["tables"][0]["rows"][0] == ["inlet", 18.71, 0.0021, None, None]


def test_numbers_of_arrays_become_plain_ones():
    given = {"a": np.float64(2.5), "b": np.array([1.0, np.inf]), "c": (np.int64(3), np.bool_(True)), "d": "x"}
    said = data.plain(given)
    assert said == {"a": 2.5, "b": [1.0, None], "c": [3, True], "d": "x"}
    json.dumps(said, allow_nan=False)
