"""What a round found in each box that was not just as it should be, with its photos. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.rounds.values import BoxState, Lid, Medium
from daemon.rounds.walk import BoxView
from daemon.rounds.words import state_lines
from dashboards.rounds_box import PhotoView, photo_view


@dataclass(frozen=True, slots=True)
class FoundView:
    """One box."""

    heading: str
    lines: tuple[str, ...]
    photos: tuple[PhotoView, ...]


def found_lines(views: Mapping[str, BoxView], zone: ZoneInfo) -> tuple[FoundView, ...]:
    """Put it into words; a box of which nobody said anything but that all is well is left out."""
    return tuple(_found(views, zone))


def _found(views: Mapping[str, BoxView], zone: ZoneInfo) -> Iterator[FoundView]:
    for each in views.values():
        said = each.state is not None and _is_worth_saying(each.state)
        if said or each.photos:
            stop, photos = each.stop, tuple(photo_view(one, zone) for one in each.photos)
            heading = f"{stop.label} ({stop.name})" if stop.label else stop.name
            yield FoundView(
                heading, () if each.state is None else tuple(map(_sentence, state_lines(each.state))), photos
            )


def _is_worth_saying(state: BoxState) -> bool:
    as_it_should_be = state.medium in (None, Medium.CLUMPS) and state.lid in (None, Lid.DRY) and not state.wiped
    said = (state.water, state.treated, state.eggs, state.remarks, state.disagreements, state.skipped)
    return not as_it_should_be or any(said)


def _sentence(line: str) -> str:
    return f"{line[:1].upper()}{line[1:]}"
