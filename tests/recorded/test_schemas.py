"""Every recorded document holds the JSON Schema of its question, by an independent reader of JSON Schema.

JSON Schema, draft 2020-12: https://json-schema.org/draft/2020-12/json-schema-core.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from optiform.cli import main
from optiform.views.data.json_document import QUESTIONS, schema
from tests.recorded.record import DOCUMENTS, kept

NAMES = sorted(path.name.removesuffix(".json.gz") for path in DOCUMENTS.glob("*.json.gz"))


@cache
def reader(question: str) -> Any:
    found = json.loads(schema(question))
    Draft202012Validator.check_schema(found)
    return Draft202012Validator(found)


@pytest.mark.parametrize("name", NAMES)
def test_a_recorded_document_holds_the_schema_of_its_question(name):
    document = kept(name)
    reader(document["question"]).validate(document)


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_question_has_a_schema_that_asks_for_something(question):
    with pytest.raises(ValidationError):
        reader(question).validate({"question": question})


def test_a_key_that_no_schema_has_is_seen():
    document = kept("design-nettle-gel-oily-skin")
    document["formulas"][0]["lines"][0]["weight"] = 1.0
    with pytest.raises(ValidationError, match="weight"):
        reader("design").validate(document)


def test_the_command_prints_the_schema(capsys):
    assert main(["schema", "library", "check"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(schema("library check"))
    assert main(["schema", "desing"]) == 2
    assert "design" in capsys.readouterr().err


def test_without_a_question_the_command_lists_those_that_have_a_document(capsys):
    assert main(["schema"]) == 0
    assert tuple(capsys.readouterr().out.split("\n")) == (*QUESTIONS, "")
