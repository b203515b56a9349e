"""People and rota as JSON: who is called, by which kinds of contact, and what is planned. Never an address."""

from collections.abc import Iterable
from typing import TypeVar

from pydantic import BaseModel, ConfigDict

from daemon.people_values import PeopleNow

_Model = TypeVar("_Model", bound=BaseModel)


class _Json(BaseModel):
    model_config = ConfigDict(frozen=True, from_attributes=True)


class ContactJson(_Json):
    """One way to a person. `tested_ms`: the newest weekly test; `confirmed_ms`: when a test last arrived for sure."""

    number: int
    kind: str
    signed: bool
    tested_ms: int | None
    confirmed_ms: int | None
    failing_since_ms: int | None
    gone: bool
    error: str


class PersonJson(_Json):
    """One person. `place`: where in the order they are called now, from 0."""

    person: str
    name: str
    emergency: bool
    place: int | None
    away_until_ms: int | None
    contacts: list[ContactJson]


class PlannedJson(_Json):
    """A duty, or an absence, that is not over. `end_ms` is null where nobody follows."""

    number: int
    is_absence: bool
    person: str
    second: str
    start_ms: int
    end_ms: int | None
    state: str
    why: str


class ThinJson(_Json):
    """A stretch ahead in which one person can be reached, or nobody."""

    start_ms: int
    end_ms: int
    reachable: int
    reason: str


class PeopleJson(_Json):
    """Everything at one moment. Moments are UTC milliseconds since the epoch."""

    now_ms: int
    called_now: list[str]
    reason: str
    quiet_until_ms: int | None
    people: list[PersonJson]
    planned: list[PlannedJson]
    thin: list[ThinJson]


def people_json(found: PeopleNow) -> PeopleJson:
    """Give what is known its JSON form."""
    return PeopleJson(
        now_ms=found.now_ms,
        called_now=list(found.order),
        reason=found.reason,
        quiet_until_ms=found.quiet_until_ms,
        people=_all(PersonJson, found.people),
        planned=_all(PlannedJson, found.entries),
        thin=_all(ThinJson, found.thin),
    )


def _all(model: type[_Model], values: Iterable[object]) -> list[_Model]:
    return [model.model_validate(each) for each in values]
