"""Set-up, the API described: a plain page made from the same description that programs read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.web.api_answers import ENTERING
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.web.setup_places import SETUP_PAGES
from lodestarch.words.catalogues import terms

__all__ = ["ReferencePages", "operations"]

_REF: Final = "#/components/schemas/"


@dataclass(frozen=True, slots=True)
class Part:
    """A parameter, or a key of a body."""

    name: str
    kind: str
    required: bool
    default: str


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing that can be asked for."""

    method: str
    path: str
    what: str
    more: str
    scope: str
    parameters: tuple[Part, ...]
    body: tuple[Part, ...]
    answers: tuple[tuple[str, str], ...]


def _kind(schema: Mapping[str, Any], models: Mapping[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"]).removeprefix(_REF)
    if "anyOf" in schema:
        return " or ".join(_kind(one, models) for one in schema["anyOf"])
    if schema.get("type") == "array":
        return f"list of {_kind(schema.get('items', {}), models)}"
    if schema.get("type") == "object":
        return f"object of {_kind(schema.get('additionalProperties') or {}, models)}"
    longest = schema.get("maxLength")
    told = str(schema.get("format") or schema.get("type", "anything"))
    return f"{told}, at most {longest} characters" if longest else told


def _body(operation: Mapping[str, Any], models: Mapping[str, Any]) -> tuple[Part, ...]:
    content: Mapping[str, Mapping[str, Any]] = operation.get("requestBody", {}).get("content", {})
    schema: Mapping[str, Any] = next((one.get("schema", {}) for one in content.values()), {})
    model = models.get(str(schema.get("$ref", "")).removeprefix(_REF), schema)
    required = set(model.get("required", ()))
    return tuple(
        Part(name, _kind(one, models), name in required, str(one.get("default", "") or ""))
        for name, one in model.get("properties", {}).items()
    )


def _operation(method: str, path: str, said: Mapping[str, Any], models: Mapping[str, Any]) -> Operation:
    what, _, more = str(said.get("description", "")).partition("\n\n")
    scopes = [scope for one in said.get("security", ()) for scope in next(iter(one.values()), ())]
    return Operation(
        method=method.upper(),
        path=path,
        what=" ".join(what.split()),
        more=more,
        scope=", ".join(scopes),
        parameters=tuple(
            Part(one["name"], _kind(one.get("schema", {}), models), bool(one.get("required")), "")
            for one in said.get("parameters", ())
        ),
        body=_body(said, models),
        answers=tuple((status, str(one["description"])) for status, one in said["responses"].items()),
    )


def operations(description: Mapping[str, Any]) -> dict[str, list[Operation]]:
    """Everything that can be asked for, by its first tag, from an OpenAPI description."""
    models = description.get("components", {}).get("schemas", {})
    grouped: dict[str, list[Operation]] = {}
    for path, methods in description["paths"].items():
        for method, said in methods.items():
            tag = next(iter(said.get("tags", ())), "")
            grouped.setdefault(tag, []).append(_operation(method, path, said, models))
    return grouped


class ReferencePages:
    """The description as a page."""

    def __init__(self, people: People) -> None:
        self._people = people

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [Route("/setup/api", self.reference, name="reference")]

    def reference(self, request: Request) -> Response:
        """Everything that can be asked for."""
        who, words = self._people.who(request), terms()
        return page(
            request,
            "setup_api.html.j2",
            nav=Nav("setup", person=who.name if who else ""),
            setup_pages=SETUP_PAGES,
            here="/setup/api",
            answers=sorted((str(status), said["description"]) for status, said in ENTERING.items()),
            grouped={
                words.get(f"reference.tag-{tag}", tag): asked
                for tag, asked in operations(request.app.openapi()).items()
            },
        )
