"""Templates and the addresses of static files."""

import hashlib
from functools import cache
from pathlib import Path

import jinja2
from markupsafe import Markup
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from dashboards import visiting
from dashboards.nav_here import has_here, links_here
from dashboards.said import awaits_new_start, made_here, said_here

_HERE = Path(__file__).parent
STATIC = _HERE / "static"

_environment = jinja2.Environment(
    loader=jinja2.FileSystemLoader(_HERE / "templates"),
    autoescape=True,
    undefined=jinja2.StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


HELPS = "ends-after.js"
"""What scripts of any name load."""


@cache
def asset(name: str) -> str:
    """Give the address of a static file, with a mark of its content so that a browser may keep it for ever.

    Scripts load others of their name, and what helps all, by plain addresses: its mark is that of all these.
    """
    file = STATIC / name
    together = [file]
    if file.suffix == ".js":
        together = [*sorted(STATIC.glob(f"{file.stem.partition('-')[0]}*.js")), STATIC / HELPS]
    content = b"".join(each.read_bytes() for each in together)
    return f"/static/{name}?v={hashlib.blake2b(content, digest_size=6).hexdigest()}"


def guard() -> Markup:
    """Give the hidden field that every form carries which changes something; nothing where nobody has signed in."""
    here = visiting.visitor()
    token = "" if here is None else here.guard
    return Markup('<input type="hidden" name="guard" value="{}">').format(token) if token else Markup("")


_environment.globals["asset"] = asset
_environment.globals["nav_links"] = links_here
_environment.globals["has_here"] = has_here
_environment.globals["said_here"] = said_here
_environment.globals["awaits_new_start"] = awaits_new_start
_environment.globals["made_here"] = made_here
_environment.globals["guard"] = guard
_environment.globals["visitor"] = visiting.visitor
_environment.globals["may"] = visiting.may
_environment.globals["is_confirmed"] = visiting.is_confirmed


def render(template: str, **values: object) -> str:
    """Fill a template; every value is text unless a template says otherwise, and none does."""
    return _environment.get_template(template).render(**values)


class KeptStatic(StaticFiles):
    """Static files that a browser keeps where the address has the mark of the content, and asks about otherwise."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with a cache header."""
        response = await super().get_response(path, scope)
        marked = scope["query_string"].startswith(b"v=")
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable" if marked else "no-cache"
        return response
