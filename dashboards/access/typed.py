"""Forms of sign-in and accounts: their fields, what was typed, and what is wrong with it. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from daemon.access.values import Refused


@dataclass(frozen=True, slots=True)
class Field:
    """One field. `kind` is text, password, code or select; `autocomplete` is a word of HTML's list of them."""

    name: str
    label: str
    kind: str = "text"
    autocomplete: str = "off"
    hint: str = ""
    value: str = ""
    error: str = ""
    required: bool = True
    options: tuple[tuple[str, str], ...] = ()
    missing: str = "This is empty; fill it in."


@dataclass(frozen=True, slots=True)
class FormView:
    """One form. `key` begins the ids of its fields; `error` is what is wrong with the whole of it."""

    key: str
    action: str
    fields: tuple[Field, ...]
    button: str
    hidden: tuple[tuple[str, str], ...] = ()
    error: str = ""


def answered(form: FormView, typed: Mapping[str, str], refused: Refused | None) -> FormView:
    """Give a form as it was sent, with the refusal beside its field; what is secret has to be typed again."""
    fields = tuple(
        replace(
            each,
            value=typed.get(each.name, each.value) if each.kind != "password" else "",
            error="" if refused is None else _wrong_with(each, typed, refused),
        )
        for each in form.fields
    )
    whole = "" if refused is None or any(each.error for each in fields) else refused.reason
    return replace(form, fields=fields, error=whole)


def _wrong_with(field: Field, typed: Mapping[str, str], refused: Refused) -> str:
    """What is left empty is said of every field at once: a refusal tells of the first thing alone."""
    if field.required and field.name in typed and not typed[field.name].strip():
        return field.missing
    return refused.reason if refused.field == field.name else ""


def said_twice(typed: Mapping[str, str], first: str, second: str) -> Refused | None:
    """Say that a new password was not repeated as it was typed; None where it was."""
    if typed.get(first, "") == typed.get(second, ""):
        return None
    return Refused("This is not what you typed above. Type both again.", field=second)
