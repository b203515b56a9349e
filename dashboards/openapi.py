"""What programs may ask of these pages, as an OpenAPI document: one place for what holds for every address."""

from collections.abc import Iterator, Mapping
from importlib.metadata import version
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from dashboards.access.policy import needed_role
from dashboards.series_json import ErrorJson

_ABOUT = (
    "What the pages show, as JSON. Nothing here changes anything but what says so.\n\n"
    "Moments are UTC milliseconds since the epoch (names end in `_ms`). Every value has its unit in its name or beside "
    "it: temperatures are always °C (`_c`), differences K (`_k`), humidity percent (`_pct`), heat degree hours "
    "(`_ch`). What is not known is null, never 0."
)
_TAGS = (
    ("Now", "Readings, clutches and alarms at this moment."),
    ("Clutches", "All clutches, and the whole record of one."),
    ("Rounds", "All rounds through the boxes, and one with every entry."),
    ("Readings", "Any channel over any period."),
    ("Alarms", "Alarms by state, their journal, their measures."),
    ("Incidents", "What happened, and the account of an incident or of any period."),
    ("Accounts", "Who may sign in, and who changed what: for keepers."),
    ("Service", "Whether the watch works, in words and in figures."),
    ("Demo", "The inbox that stands in for a phone in the demo."),
)
SECURITY_SCHEMES: Mapping[str, Mapping[str, str]] = {
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": "__Host-clutchwarden",
        "description": (
            "The cookie of somebody who has signed in at /sign-in. Over plain http on the machine itself its name is "
            "clutchwarden-session."
        ),
    },
    "key": {
        "type": "http",
        "scheme": "bearer",
        "description": "The key of a program, made by a keeper. It may do what its role may do, and is sent each time.",
    },
}
NOT_FOUND: dict[int | str, dict[str, Any]] = {
    404: {"model": ErrorJson, "description": "There is nothing of this name, and where to find what there is."}
}
_METHODS = frozenset({"get", "head", "post", "put", "patch", "delete"})
_ERROR = {"application/json": {"schema": {"$ref": "#/components/schemas/ErrorJson"}}}
_SIGN_IN = {"description": "Sign in first, or send the key of a program.", "content": _ERROR}
_ROLE = {"description": "Whoever asks may not do this; the text says who may.", "content": _ERROR}
_NOTHING = {
    "description": "Nothing can be shown just now. The log of clutchwarden says why; ask again in a minute.",
    "content": {"text/plain": {"schema": {"type": "string"}}},
}


def describe(app: FastAPI) -> None:
    """Let an app describe itself in full; made once, when it is first asked for."""

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = _document(app)
        return app.openapi_schema

    app.openapi = described  # type: ignore[method-assign]


def _document(app: FastAPI) -> dict[str, Any]:
    document = get_openapi(
        title="clutchwarden",
        version=version("clutchwarden"),
        summary="Watches shared incubators of reptile eggs.",
        description=_ABOUT,
        routes=app.routes,
        tags=[{"name": name, "description": about} for name, about in _TAGS],
    )
    components = document.setdefault("components", {})
    components["securitySchemes"] = {name: dict(scheme) for name, scheme in SECURITY_SCHEMES.items()}
    components.setdefault("schemas", {})["ErrorJson"] = ErrorJson.model_json_schema()
    document["security"] = [{name: []} for name in SECURITY_SCHEMES]
    for method, path, operation in _operations(document):
        responses = operation["responses"]
        responses.setdefault("503", _NOTHING)
        if needed_role(method.upper(), path) is None:
            operation["security"] = []
        else:
            responses.setdefault("401", _SIGN_IN)
            responses.setdefault("403", _ROLE)
    return document


def _operations(document: Mapping[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in document["paths"].items():
        for method, operation in item.items():
            if method in _METHODS:
                yield method, path, operation
