"""Rounds as JSON: the values of their list and of the summary of one, with every entry. Pure."""

from collections.abc import Mapping, Sequence

from daemon.rounds.summary import BoxOfRound, Sooner, Summary
from daemon.rounds.values import BoxState, Finding, Photo
from daemon.storage.rounds import RoundOnRecord
from dashboards.api_values import Json
from dashboards.paging import PageJson
from dashboards.rounds_paths import photo_path


class RoundRowJson(Json):
    """A round. `stated_ms` is how long it was to take; `ended_ms` is null while it goes on."""

    number: int
    incubator: str
    incubator_name: str
    who: str
    started_ms: int
    stated_ms: int
    ended_ms: int | None
    ended_by: str
    note: str


class RoundListJson(PageJson):
    """A page of rounds, the newest first."""

    rounds: list[RoundRowJson]


class PhotoJson(Json):
    """A photo: `path` gives the picture, with `?small=1` a small one. `made_ms` is by the clock of the phone."""

    photo_id: str
    path: str
    round: int
    box: str
    clutch_id: int | None
    who: str
    made_ms: int | None
    received_ms: int
    width: int
    height: int


class EggsSeenJson(Json):
    """What was said of eggs: of `which` (marks or numbers, or how many). `names`: of which the register took it.

    `refused` says why it took nothing; it is empty where it did.
    """

    state: str
    reason: str | None
    note: str
    which: list[str] | int
    names: list[str]
    refused: str


class RoundEntryJson(Json):
    """One entry. `at_ms` is when it counts, `made_ms` by the clock of the phone; null where nothing was said.

    `late`: it came after the round had ended. `corrected`: another one has taken its place, `corrects` names which one
    it takes the place of itself. `clock` says what was wrong with the clock of the phone: ahead, before-the-round.
    """

    entry_id: str
    who: str
    at_ms: int
    made_ms: int | None
    received_ms: int
    late: bool
    clock: str
    medium: str | None
    lid: str | None
    wiped: bool
    water_ml: float | None
    water_where: str | None
    looked_at_eggs: bool
    eggs: list[EggsSeenJson]
    treated: str
    remark: str
    skipped: str
    all_well: bool
    through_lid: bool
    trained_handler: bool
    corrects: str
    corrected: bool


class RoundBoxJson(Json):
    """A box of a round, or a clutch that lies in none. `clutch_id` is null for an empty box.

    `medium`, `lid`, `wiped`, `water_ml`: what all entries come to. `see_by_ms`: by when to look again, sooner than the
    next round, and `see_why`; null and empty where the next round will do.
    """

    box: str
    place: str
    name: str
    clutch_id: int | None
    label: str
    species_name: str
    venomous: bool
    seen: bool
    skipped: str
    medium: str | None
    lid: str | None
    wiped: bool
    water_ml: float
    looked_at_eggs: bool
    treated: list[str]
    remarks: list[str]
    see_by_ms: int | None
    see_why: list[str]
    entries: list[RoundEntryJson]
    photos: list[PhotoJson]


class OneRoundJson(Json):
    """A round with its boxes in the order in which they stand. `boxes_with_clutch`, of which `boxes_seen` were seen.

    `next_due_ms`: when the next round there is due, null where no eggs are left.
    """

    round: RoundRowJson
    boxes_with_clutch: int
    boxes_seen: int
    eggs_removed: int
    eggs_on_watch: int
    water_ml: float
    entries_after_the_end: int
    next_due_ms: int | None
    boxes: list[RoundBoxJson]


def round_list_json(shown: Sequence[RoundOnRecord], names: Mapping[str, str], next_page: str | None) -> RoundListJson:
    """Give a page of rounds its JSON form."""
    return RoundListJson(rounds=[_row(each, names) for each in shown], next=next_page)


def one_round_json(summary: Summary, boxes: Sequence[BoxOfRound], names: Mapping[str, str]) -> OneRoundJson:
    """Give one round its JSON form."""
    sooner = {each.stop.key: each for each in summary.sooner}
    return OneRoundJson(
        round=_row(summary.round, names),
        boxes_with_clutch=summary.boxes,
        boxes_seen=summary.seen,
        eggs_removed=sum(len(each.names) for each in summary.removed),
        eggs_on_watch=sum(len(each.names) for each in summary.on_watch),
        water_ml=summary.water_ml,
        entries_after_the_end=summary.late,
        next_due_ms=summary.next_due_ms,
        boxes=[_box(each, sooner.get(each.stop.key)) for each in boxes],
    )


def photo_json(photo: Photo) -> PhotoJson:
    """Give a photo its JSON form."""
    return PhotoJson(
        photo_id=photo.photo_id,
        path=photo_path(photo.photo_id),
        round=photo.round_number,
        box=photo.box,
        clutch_id=photo.clutch_id,
        who=photo.who,
        made_ms=photo.made_ms,
        received_ms=photo.received_ms,
        width=photo.width,
        height=photo.height,
    )


def _row(found: RoundOnRecord, names: Mapping[str, str]) -> RoundRowJson:
    one = found.round
    return RoundRowJson(
        number=found.number,
        incubator=one.incubator,
        incubator_name=names.get(one.incubator, one.incubator),
        who=one.who,
        started_ms=one.started_ms,
        stated_ms=one.stated_ms,
        ended_ms=one.ended_ms,
        ended_by=found.ended_by,
        note=found.note,
    )


def _box(each: BoxOfRound, sooner: Sooner | None) -> RoundBoxJson:
    stop, state = each.stop, each.state or BoxState(each.stop.key, ())
    return RoundBoxJson(
        box=stop.key,
        place=stop.place,
        name=stop.whole_name,
        clutch_id=stop.clutch_id,
        label=stop.label,
        species_name=stop.species_name,
        venomous=stop.venomous,
        seen=state.is_seen,
        skipped=state.skipped,
        medium=state.medium,
        lid=state.lid,
        wiped=state.wiped,
        water_ml=state.water_ml,
        looked_at_eggs=state.looked_at_eggs,
        treated=list(state.treated),
        remarks=[one.text for one in state.remarks],
        see_by_ms=None if sooner is None else sooner.at_ms,
        see_why=[] if sooner is None else list(sooner.why),
        entries=[_entry(one, corrected=one.entry.entry_id in state.corrected) for one in state.findings],
        photos=[photo_json(one) for one in each.shown],
    )


def _entry(found: Finding, *, corrected: bool) -> RoundEntryJson:
    said = {name: getattr(found.entry, name) for name in RoundEntryJson.model_fields if hasattr(found.entry, name)}
    eggs = [
        EggsSeenJson(
            state=each.seen.stated.state,
            reason=each.seen.stated.reason,
            note=each.seen.stated.note,
            which=each.seen.which if isinstance(each.seen.which, int) else list(each.seen.which),
            names=list(each.names),
            refused=each.refused,
        )
        for each in found.eggs
    ]
    own = {"at_ms": found.at_ms, "received_ms": found.received_ms, "late": found.late, "clock": found.clock}
    return RoundEntryJson.model_validate({**said, **own, "eggs": eggs, "corrected": corrected})
