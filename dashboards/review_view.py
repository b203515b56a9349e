"""The account of an incident or a period as people read it, on a screen and on paper. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from zoneinfo import ZoneInfo

from daemon.alarms.figures import duration_text
from daemon.review.account import Blind, BlindKind, ClutchAccount, Fate, Line, LineKind, PlaceAccount, Review, ToldLine
from daemon.review.clutch import ClutchReview
from daemon.review.clutch_words import heat_sentences, shift_sentence
from daemon.review.place import LimitReview, PlaceReview
from daemon.review.place_words import LIMIT_WORDS, NO_HUMIDITY, VERDICT_WORDS, limit_sentence
from daemon.review.telling import Telling, degree_hours_of, listed, time_of
from daemon.review.values import Verdict
from daemon.series import Bucket
from dashboards.register_paths import clutch_path
from dashboards.review_chart import causes_of, course_drawing
from dashboards.review_list_view import standing_of
from dashboards.review_view_values import AccountView, ClutchView, LimitRow, LineView, PlaceView, ToDoView, ToldView
from dashboards.standing import Mark, Shape, Tone

VERDICT_MARKS = {
    Verdict.OUT: Mark(Shape.CAUTION, VERDICT_WORDS[Verdict.OUT], Tone.HIGH),
    Verdict.UNKNOWN: Mark(Shape.GAP, VERDICT_WORDS[Verdict.UNKNOWN], Tone.UNKNOWN),
    Verdict.IN: Mark(Shape.EGG, VERDICT_WORDS[Verdict.IN], Tone.WELL),
}
_NO_LIMITS = Mark(Shape.RING, "no limits here", Tone.PLAIN)
_RANK = {Verdict.OUT: 0, Verdict.UNKNOWN: 1, Verdict.IN: 2}
_EGGS = {
    Verdict.OUT: Mark(Shape.CAUTION, "beyond what its species stands", Tone.HIGH),
    Verdict.UNKNOWN: Mark(Shape.GAP, "whether it was too much cannot be told", Tone.UNKNOWN),
    Verdict.IN: Mark(Shape.EGG, "within what its species stands", Tone.WELL),
}
_FATES = {
    Fate.ACCEPTED: Mark(Shape.EGG, "accepted", Tone.WELL),
    Fate.WAITING: Mark(Shape.UNTOLD, "waiting", Tone.HIGH),
    Fate.GIVEN_UP: Mark(Shape.FAULT, "reached nobody", Tone.HIGH),
    Fate.POINTLESS: Mark(Shape.RING, "not needed any more", Tone.PLAIN),
}
_SEEN = Mark(Shape.EGG, "seen", Tone.WELL)
_KINDS = {
    LineKind.SAMPLE: "reading",
    LineKind.GAP: "silence",
    LineKind.POWER: "power",
    LineKind.LINK: "connection",
    LineKind.SERVICE: "this program",
    LineKind.CLOCK: "clock",
    LineKind.ALARM: "alarm",
    LineKind.PERSON: "people",
    LineKind.MESSAGE: "message",
    LineKind.DOOR: "door",
    LineKind.ROUND: "round",
    LineKind.CHANGE: "change",
}
_BLIND = {
    BlindKind.SERVICE: "This program did not run",
    BlindKind.BROKER: "No connection to the broker",
    BlindKind.SITE: "No probe was heard",
}
_SAME_MS = 10 * 60_000
_NO_HUMIDITY = "No probe measures the humidity here, so whether it was kept cannot be told."


def account_view(review: Review, measured: Mapping[str, Sequence[Bucket]]) -> AccountView:
    """Put a review on a page. `measured`: the readings of each channel that speaks for a place, in stretches."""
    zone = ZoneInfo(review.time_zone)
    telling, incident = Telling(zone, review.fahrenheit), review.incident
    return AccountView(
        number=0 if incident is None else incident.incident_id,
        asked_number=review.asked_number,
        heading=review.heading,
        site_name=review.site_name,
        clock=telling.dated(review.now_ms),
        zone=review.time_zone,
        period=review.period_text,
        mark=None if incident is None else standing_of(incident, waits=review.waits_for_review),
        summary=review.summary,
        cause=_cause(review),
        evidence=() if incident is None else incident.evidence,
        places=tuple(_places(review, measured, telling, zone)),
        clutches=tuple(_clutch(each, review, zone) for each in review.clutches),
        told=tuple(_told(each) for each in review.told),
        blind=review.blind.words,
        blind_parts=tuple(_blind(review.blind)),
        todo=tuple(ToDoView(each.text, each.about, each.source, each.first) for each in review.todo),
        timeline=tuple(_lines(review.timeline)),
        not_known=review.not_known,
        others=tuple((each.incident_id, telling.span(each.span)) for each in review.others),
        chain=review.chain_code,
    )


def _cause(review: Review) -> str:
    return review.heading.partition(": ")[2] if review.incident is not None else ""


def _places(
    review: Review, measured: Mapping[str, Sequence[Bucket]], telling: Telling, zone: ZoneInfo
) -> Iterator[PlaceView]:
    """The worst first; what a probe measured is drawn and told once, at the place that it is in."""
    facts = [fact for each in (review.incident, *review.others) if each is not None for fact in each.facts]
    for each in sorted(review.places, key=_rank):
        place = each.review
        known = [one for one in place.limits if not one.kind.is_humidity or place.humidity_channel]
        causes = causes_of(facts, place.place)
        drawing = course_drawing(place, measured.get(place.channel, ()), causes, telling, zone)
        told = {limit_sentence(one, telling) for one in place.limits} | {NO_HUMIDITY}
        yield PlaceView(
            key=f"place-{place.place.replace('/', '-')}",
            name=place.name,
            mark=VERDICT_MARKS[_of_temperature(place)] if known else _NO_LIMITS,
            drawing=drawing if place.own_probe else None,
            limits=tuple(_limit(one, telling) for one in known),
            unread="" if len(known) == len(place.limits) else _NO_HUMIDITY,
            words=tuple(line for line in each.words if line not in told)[: None if place.own_probe else 1],
            is_open=place.own_probe and _of_temperature(place) is Verdict.OUT,
        )


def _of_temperature(place: PlaceReview) -> Verdict:
    """Whether the limits of temperature were kept, the worst of them."""
    verdicts = [each.verdict for each in place.limits if not each.kind.is_humidity]
    return min(verdicts, key=lambda each: _RANK[each], default=Verdict.UNKNOWN)


def _rank(each: PlaceAccount) -> tuple[bool, int, bool]:
    return not each.review.limits, _RANK[_of_temperature(each.review)], not each.review.own_probe


def _limit(one: LimitReview, telling: Telling) -> LimitRow:
    figures = list(dict.fromkeys(telling.value(each.value, humidity=one.kind.is_humidity) for each in one.in_force))
    is_kept = one.verdict is Verdict.IN
    return LimitRow(
        name=LIMIT_WORDS[one.kind],
        figure=listed(figures, most=3),
        mark=VERDICT_MARKS[one.verdict],
        hours="never" if is_kept else time_of(one.outside_ms),
        degree_hours="" if one.degree_hours is None or is_kept else degree_hours_of(one.degree_hours),
        is_out=not is_kept,
    )


def _clutch(each: ClutchAccount, review: Review, zone: ZoneInfo) -> ClutchView:
    clutch = each.review
    heat = list(heat_sentences(clutch, fahrenheit=review.fahrenheit))
    verdicts = [clutch.verdict(above=above) for above in (True, False)]
    worst = min((each for each in verdicts if each is not None), key=lambda each: _RANK[each], default=None)
    return ClutchView(
        key=f"clutch-{clutch.clutch_id}",
        path=clutch_path(clutch.clutch_id),
        label=clutch.label,
        species=clutch.species_name,
        where=clutch.lain[-1].name,
        venomous=clutch.venomous,
        caution=clutch.caution,
        mark=_stands(clutch, worst),
        gist=(heat[1] if len(heat) > 1 else heat[0], shift_sentence(clutch.shift, zone)),
        words=each.words,
        is_open=worst is Verdict.OUT,
    )


def _stands(clutch: ClutchReview, worst: Verdict | None) -> Mark:
    """What is known of its exposure; well is only what somebody has published for heat and for cold."""
    if worst in (Verdict.OUT, Verdict.UNKNOWN):
        return _EGGS[worst]
    sides = [word for word, above in (("heat", True), ("cold", False)) if not clutch.has_published(above=above)]
    if not sides:
        return _EGGS[Verdict.IN]
    return Mark(Shape.RING, f"no published figure for {' or '.join(sides)}", Tone.PLAIN)


def _blind(blind: Blind) -> Iterator[str]:
    """Each stretch over which all was silent, and in one line the channels that were silent for longer than that."""
    for stretch in blind.stretches:
        if stretch.kind is not BlindKind.PROBE:
            yield f"{_BLIND[stretch.kind]}: {stretch.words}"
    longer = [(channel, silent_ms) for channel, silent_ms in blind.probe_ms if silent_ms > blind.total_ms + _SAME_MS]
    if longer:
        told = [f"{channel} {duration_text(silent_ms)}" for channel, silent_ms in longer]
        yield f"In all without a reading: {listed(told, most=12)}."


def _told(line: ToldLine) -> ToldView:
    mark = _SEEN if line.seen_ms is not None else _FATES[line.fate]
    return ToldView(mark, line.words)


def _lines(timeline: Sequence[Line]) -> Iterator[LineView]:
    day = ""
    for line in timeline:
        # `Thu 14 May 02:11`, with the name of the zone behind it in the hour that comes twice.
        *date, time = line.at_text.split(" ", 3)
        here = " ".join(date)
        yield LineView("" if here == day else here, time, _KINDS[line.kind], line.place_name, line.words)
        day = here
