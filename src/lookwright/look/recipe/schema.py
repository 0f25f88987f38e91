"""The JSON schema of a look, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from lookwright.look.steps import registry

from .formats import FORMAT
from .model import Look


def look_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of a look file of the present format: every step, its parameters, bounds and help."""
    schema = Look.model_json_schema(by_alias=True)
    definitions = schema.setdefault("$defs", {})
    definitions.pop("Step", None)
    choices = []
    for kind, step in registry().items():
        own = step.model_json_schema(by_alias=True, ref_template="#/$defs/{model}")
        definitions.update(own.pop("$defs", {}))
        own["required"] = ["kind"]
        name = f"step-{kind}"
        definitions[name] = own
        choices.append({"$ref": f"#/$defs/{name}"})
    schema["properties"]["step"]["items"] = {"oneOf": choices}
    # A file without a number is of format 1, whose keys this is not the schema of.
    schema["properties"]["format"] = {
        "const": FORMAT,
        "title": "Format",
        "description": Look.model_fields["format"].description,
    }
    schema["required"] = ["format", *schema["required"]]
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "look"
    return schema
