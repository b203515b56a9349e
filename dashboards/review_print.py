"""An account as one file: a page of its own with its style inside, to be kept, sent on and printed."""

from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import NamedTuple

from markupsafe import Markup

from daemon.chart_reader import ChartReader
from daemon.review.account import Review
from daemon.series import Bucket
from dashboards.rendering import STATIC, render
from dashboards.review_form import note_fields
from dashboards.review_view import account_view

DRAWN_BUCKETS = 240
"""So many stretches a drawing has: each is as wide as its line."""
_STYLES = ("page.css", "review.css")


class Made(NamedTuple):
    """Who made it when, out of what: said at the end of the sheet."""

    version: str
    when: str
    who: str
    chain: str


def measured_of(reader: ChartReader, review: Review) -> dict[str, tuple[Bucket, ...]]:
    """Read what was measured in a period, by channel: for the drawings. Raises JournalError."""
    there = {each.channel for each in reader.site.channels}
    channels = sorted({each.review.channel for each in review.places} & there)
    from_ms, until_ms = review.period.from_ms, review.period.until(review.now_ms)
    return {each.channel: each.buckets for each in reader.read(channels, from_ms, until_ms, DRAWN_BUCKETS)}


def made_of(review: Review, who: str) -> Made:
    """Say who made a sheet of it when, out of what."""
    return Made(version("clutchwarden"), review.made_text, who, review.chain_code)


def html_of(review: Review, measured: Mapping[str, Sequence[Bucket]] | None = None, who: str = "") -> str:
    """Write the sheet: one file without scripts, nothing in it folded. `measured` as `measured_of` gives it."""
    # Our own files, in which nothing of a site stands; what comes from a site is text.
    styles = Markup("\n").join(Markup((STATIC / name).read_text(encoding="utf-8")) for name in _STYLES)  # noqa: S704
    return render(
        "review_sheet.html",
        view=account_view(review, measured or {}),
        fields=note_fields(review.notes) if review.incident is not None else (),
        made=made_of(review, who),
        styles=styles,
    )
