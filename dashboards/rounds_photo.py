"""The page of one photo: which box, when and by whom, and the ways back. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.answer_values import AT_THE_PAGE
from daemon.rounds.stops import place_of
from daemon.rounds.values import Photo
from dashboards import figures
from dashboards.register_paths import box_path as register_box_path
from dashboards.register_paths import clutch_path
from dashboards.rounds_paths import box_path, photo_path, summary_path


@dataclass(frozen=True, slots=True)
class PhotoPageView:
    """The whole page. `path` is the picture's own address; `box_path` and `clutch_path` may be empty."""

    site_name: str
    clock: str
    zone: str
    heading: str
    told: str
    words: str
    path: str
    width: int
    height: int
    number: int
    round_box_path: str
    summary_path: str
    box_path: str
    clutch_path: str
    label: str


def photo_page_view(
    photo: Photo, site_name: str, box_name: str, label: str, now_ms: int, zone: ZoneInfo
) -> PhotoPageView:
    """Put a photo into words. `label` is that of the clutch that lay in the box then, empty where none did."""
    moment = figures.moment_text(figures.local(photo.received_ms, zone))
    who = "somebody at the page" if photo.who == AT_THE_PAGE else photo.who
    place, _ = place_of(photo.box)
    return PhotoPageView(
        site_name=site_name,
        clock=figures.moment_text(figures.local(now_ms, zone)),
        zone=zone.key,
        heading=f"{box_name}, {label}" if label else box_name,
        told=f"Photo by {who}, {moment}, in round no. {photo.round_number}.",
        words=f"Photo of {box_name} by {who}, {moment}",
        path=photo_path(photo.photo_id),
        width=photo.width,
        height=photo.height,
        number=photo.round_number,
        round_box_path=box_path([photo.round_number], photo.box),
        summary_path=summary_path([photo.round_number]),
        box_path=register_box_path(place),
        clutch_path="" if photo.clutch_id is None else clutch_path(photo.clutch_id),
        label=label,
    )
