"""The answer to a change of the site file: on to the page, or first to what the change brings with it."""

from urllib.parse import urlsplit

from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.site_desk import Changed
from dashboards.rendering import render
from dashboards.said import say

_SAVED = "Saved: {what}. Clutchwarden takes it up now, and this page shows it in a few seconds."
_COUNTS = "Saved: {what}. It counts now."
_SAME = "Nothing was changed: it stands there as you sent it."


def saved_page(done: Changed | None, to: str, what: str, seen_mark: str = "") -> Response:
    """Lead on to a path of ours; where something deserves a warning that did not before, tell it first.

    `what` was changed, in a few words: said on the page that follows, which mostly still is as it was before, and
    loads itself again once the change counts. `seen_mark`: that of the file before; the same one says that nothing was.
    """
    if done is not None and done.mark == seen_mark:
        say(_SAME, urlsplit(to).path)
    else:
        say(_SAVED.format(what=what), urlsplit(to).path, then=_COUNTS.format(what=what))
    if done is None or not done.warnings:
        return RedirectResponse(to, 303)
    return HTMLResponse(render("setup_saved.html", warnings=done.warnings, to=to))
