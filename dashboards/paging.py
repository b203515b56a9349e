"""How every list that grows with the years is given to programs: by pages, all in the same way.

`limit` says how many rows at the most, `after` where the list goes on. The answer carries `next`, the address of the
page that follows, null at the end, and the same as a `Link` header with rel="next" (RFC 8288). An `ETag` lets a program
ask again with `If-None-Match` and be told by 304 that nothing has changed.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, TypeVar
from urllib.parse import urlencode

from fastapi import Query, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import Field

from dashboards import cursor
from dashboards.api_values import Json

_Row = TypeVar("_Row")
_LIMIT, _AFTER = "limit", "after"
_UNLIKE = {"now_ms", "from_ms", "until_ms"}
"""What differs with each answer and says nothing of whether the rows do."""


class PageJson(Json):
    """A page of a list."""

    next: str | None = Field(description="Address of the page that follows, below that of the site; null at the end.")


@dataclass(frozen=True, slots=True)
class PageWish:
    """One page that somebody wants: so many rows after the one with this key, from the beginning where it is empty.

    `wishes` are the others of this list, by their names, as they were sent.
    """

    limit: int
    key: tuple[int, ...]
    path: str
    wishes: Mapping[str, str]
    unless: str

    @property
    def number(self) -> int | None:
        """The key of a list that goes by one number; None from the beginning."""
        return self.key[0] if self.key else None

    def of(self, **wishes: object) -> "PageWish":
        """The same with its wishes worked out, such as `until` for what was now when the first page was asked for."""
        return replace(self, wishes={name: str(value) for name, value in wishes.items()})

    def cut(
        self, found: Sequence[_Row], key: Callable[[_Row], int | tuple[int, ...]]
    ) -> tuple[Sequence[_Row], str | None]:
        """Give the rows of the page, and the address of the next one. `found` has one more where there are more."""
        shown = found[: self.limit]
        return shown, self.address_after(key(shown[-1])) if len(found) > self.limit else None

    def address_after(self, key: int | tuple[int, ...]) -> str:
        """Give the address of the page after the row with this key."""
        parts = (key,) if isinstance(key, int) else key
        after = cursor.written(_named(self.path, self.wishes), parts)
        sent = {name: value for name, value in self.wishes.items() if value}
        return f"{self.path}?{urlencode({**sent, _LIMIT: self.limit, _AFTER: after})}"

    def answer(self, page: PageJson) -> Response:
        """Give a page as an answer, or say that it is as it was."""
        mark = hashlib.blake2b(page.model_dump_json(exclude=_UNLIKE).encode(), digest_size=12).hexdigest()
        headers = {"ETag": f'W/"{mark}"'}
        if page.next is not None:
            headers["Link"] = f'<{page.next}>; rel="next"'
        if mark in self.unless:
            return Response(status_code=304, headers=headers)
        return Response(page.model_dump_json(), media_type="application/json", headers=headers)


def page_wish(shown: int, most: int, wishes: Sequence[str] = (), parts: int = 1) -> Callable[..., PageWish]:
    """Make what reads the wish for a page of one list: `shown` rows unless asked otherwise, `most` at the most.

    `wishes`: names of the other parameters by which rows are chosen. `parts`: of so many numbers is a key.
    """
    limit_field = Annotated[int, Query(ge=1, le=most, description="So many rows at the most.")]
    about = "Where the list goes on: part of `next`, sent back as it was given; else from the beginning."
    after_field = Annotated[str, Query(max_length=cursor.LONGEST, description=about)]

    def wish(request: Request, limit: limit_field = shown, after: after_field = "") -> PageWish:
        sent = {name: request.query_params.get(name, "") for name in wishes}
        path = request.url.path
        try:
            key = cursor.read(_named(path, sent), after, parts) if after else ()
        except cursor.CursorError as error:
            raise wrong(_AFTER, str(error)) from None
        return PageWish(limit, key, path, sent, request.headers.get("if-none-match", ""))

    return wish


def wrong(field: str, sentence: str) -> RequestValidationError:
    """Give the error for a wish that cannot be met, in the form that every other one has."""
    return RequestValidationError([{"loc": ("query", field), "msg": sentence, "type": "value_error"}])


def paged(model: type[PageJson]) -> dict[str, Any]:
    """Give what describes the answers of a list, for the decorator of its route."""
    headers = {
        "Link": {"description": 'The page that follows, as rel="next" (RFC 8288).', "schema": {"type": "string"}},
        "ETag": {"description": "Differs where a row of the page does.", "schema": {"type": "string"}},
    }
    unchanged = {"description": "The page is as it was when the `If-None-Match` that was sent was its ETag."}
    return {"response_model": model, "responses": {200: {"headers": headers}, 304: unchanged}}


def _named(path: str, wishes: Mapping[str, str]) -> list[str]:
    return [path, *(part for name in sorted(wishes) for part in (name, wishes[name]))]
