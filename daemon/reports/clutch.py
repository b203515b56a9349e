"""Pure: the record of a clutch from laying to hatch, as sections of a report."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from config.words import Quantity
from daemon.alarms.figures import duration_text
from daemon.clutch_record_values import ClutchEvent, ClutchRecord
from daemon.clutches.eggs import Egg, EggEvent
from daemon.clutches.file import ClutchFile
from daemon.development.exposure import Verdict
from daemon.development.window import HatchWindow
from daemon.reports.clutch_charts import climate_picture, heat_picture
from daemon.reports.exposure import Worst, told
from daemon.reports.foretold import Foretold, blocks_of, day_text, hatched_of
from daemon.reports.values import Block, Facts, Report, Section, Table, Words
from daemon.review.telling import Telling


@dataclass(frozen=True, slots=True)
class Touched:
    """An incident that touched the clutch: its number, when, what it was, and what it did in sentences."""

    number: int
    when: str
    what: str
    did: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InForce:
    """A calibration of a channel that spoke for the clutch, and from when until when it did."""

    channel: str
    when: str
    told: str


@dataclass(frozen=True, slots=True)
class ClutchFacts:
    """All that the record tells. `scientific_name` and `source` are those of the species' profile."""

    record: ClutchRecord
    file: ClutchFile
    scientific_name: str
    source: str
    sex: str
    exposures: tuple[Worst, ...]
    foretold: tuple[Foretold, ...]
    incidents: tuple[Touched, ...]
    calibrations: tuple[InForce, ...]
    files: tuple[str, ...] = ()


def clutch_report(facts: ClutchFacts, telling: Telling) -> Report:
    """Write the record."""
    record = facts.record
    closed = "" if record.closed_at_ms is None else f", closed {telling.dated(record.closed_at_ms)}"
    return Report(
        title=f"Record of clutch {record.clutch.label}",
        subtitle=f"{_species(facts)}; set up {telling.dated(record.clutch.set_up_ms)}{closed}",
        site_name=record.site_name,
        made=_made(facts, telling),
        sections=(
            Section("The clutch", tuple(_who(facts, telling))),
            Section("Eggs", tuple(_eggs(facts, telling))),
            Section("Where it lay", (_stays(record, telling),)),
            Section("Heat and development", tuple(_heat(facts, telling))),
            Section(
                "The window as foretold, and what happened",
                tuple(blocks_of(facts.foretold, hatched_of(facts.file.events), telling.zone)),
            ),
            Section("Temperature and humidity", tuple(_climate(record, telling))),
            Section("Exposure", tuple(_exposure(facts, telling))),
            Section("Incidents", tuple(_incidents(facts.incidents))),
            Section("Rounds and what was found", (_rounds(record, telling),)),
            Section("Alarms", tuple(_alarms(record, telling))),
            Section("Sizes and notes", tuple(_remarks(facts, telling))),
            Section("Photos", (_photos(record, telling),)),
            Section("Calibrations in force", (_calibrations(facts.calibrations),)),
            Section("Files beside this record", tuple(Words(each) for each in facts.files)),
        ),
    )


def _species(facts: ClutchFacts) -> str:
    name = facts.record.clutch.species_name
    return f"{name} ({facts.scientific_name})" if facts.scientific_name else f"{name}: no profile"


def _made(facts: ClutchFacts, telling: Telling) -> str:
    zone = facts.record.time_zone
    return (
        f"Made by clutchwarden on {telling.dated(facts.record.now_ms)} ({zone}) from the journal of the site. Times "
        "are local; the CSV files have UTC beside them. Readings are corrected by the calibrations of their time."
    )


def _who(facts: ClutchFacts, telling: Telling) -> Iterator[Block]:
    record, also = facts.record, facts.record.also
    if also.venomous:
        yield Words("Venomous: trained handlers only.", warns=True)
    if record.clutch.caution:
        yield Words(f"Caution. {record.clutch.caution}", warns=True)
    laid = [day_text(each, telling.zone) for each in (record.clutch.laid_from_ms, record.clutch.laid_to_ms)]
    rows = [
        ("Species", _species(facts)),
        ("Source of its limits", facts.source),
        ("Population", record.population or ""),
        ("Dam", also.dam or "not stated"),
        ("Sire", also.sire or "not stated"),
        ("Laid", laid[0] if laid[0] == laid[1] else f"between {laid[0]} and {laid[1]}"),
        ("Found", "" if also.found_ms is None else telling.dated(also.found_ms)),
        ("Set up", telling.dated(record.clutch.set_up_ms)),
        ("Closed", "still open" if record.closed_at_ms is None else telling.dated(record.closed_at_ms)),
        ("Number in the register", str(record.clutch.clutch_id)),
        ("Tags", ", ".join(also.tags)),
        ("Protected", also.protected),
        ("Note", record.note),
    ]
    yield Facts(tuple((name, value) for name, value in rows if value))


def _eggs(facts: ClutchFacts, telling: Telling) -> Iterator[Block]:
    counts = facts.file.counts
    said = (
        ("sound", counts.sound), ("on watch", counts.watch), ("pipped", counts.pipped), ("hatched", counts.hatched),
        ("lost", counts.lost), ("given away", counts.given_away),
    )  # fmt: skip
    yield Words(f"{counts.total} eggs: {', '.join(f'{number} {word}' for word, number in said if number)}.")
    rows = tuple(_egg(egg, facts.file.events, telling) for egg in facts.file.eggs)
    yield Table("Each egg", ("Egg", "In the end", "Since", "What was said of it"), rows)


def _egg(egg: Egg, events: Sequence[EggEvent], telling: Telling) -> tuple[str, ...]:
    said = [one for one in events if one.egg == egg.number and not one.withdrawn]
    since = "" if egg.since_ms is None else telling.dated(egg.since_ms)
    course = "; ".join(f"{telling.moment(one.at_ms)} {_said(one)}" for one in said)
    return egg.name, egg.stated.words, since, course or "nothing, so it counts as sound"


def _said(event: EggEvent) -> str:
    note = f" ({event.stated.note})" if event.stated.note else ""
    by_count = ", by count" if event.by_count else ""
    return f"{event.stated.words}{note}, {event.who}{by_count}"


def _stays(record: ClutchRecord, telling: Telling) -> Table:
    rows = tuple(
        (
            stay.name,
            telling.dated(stay.from_ms),
            "still there" if stay.end_ms is None else telling.dated(stay.end_ms),
            duration_text((record.shown_ms if stay.end_ms is None else stay.end_ms) - stay.from_ms),
        )
        for stay in record.stays
    )
    return Table("Places over time", ("Place", "From", "Until", "For"), rows)


def _heat(facts: ClutchFacts, telling: Telling) -> Iterator[Block]:
    clutch = facts.record.clutch
    picture = heat_picture(facts.record, telling.zone)
    if clutch.degree_hours_ch is None or picture is None:
        yield Words(clutch.reason or "No heat is counted.")
        return
    interval = f"{clutch.degree_hours_low_ch:.0f} to {clutch.degree_hours_high_ch:.0f}"
    needs = "" if clutch.thermal_constant_ch is None else f", of {clutch.thermal_constant_ch:.0f} °C·h to hatching"
    yield Words(f"Heat from laying: {clutch.degree_hours_ch:.0f} °C·h, in about 95 of 100 cases {interval}{needs}.")
    yield picture
    if clutch.counted:
        yield Words(clutch.counted)
    if isinstance(clutch.window, HatchWindow):
        days = [telling.dated(each) for each in (clutch.window.earliest_ms, clutch.window.latest_ms)]
        yield Words(f"Window of hatching: {days[0]} to {days[1]}. {clutch.window.reason}")
    if facts.sex:
        yield Words(facts.sex)


def _climate(record: ClutchRecord, telling: Telling) -> Iterator[Block]:
    for climate, words in ((record.temperature, ("too cool", "too warm")), (record.humidity, ("too dry", "too humid"))):
        name = "Air temperature" if climate.quantity is Quantity.AIR_TEMPERATURE else "Humidity"
        picture = climate_picture(climate, record, telling)
        if picture is None:
            yield Words(climate.why_empty)
            continue
        humid = not climate.quantity.is_temperature
        least, most = (
            telling.value(each, humidity=humid)
            for each in (min(cell.least for cell in climate.cells), max(cell.most for cell in climate.cells))
        )
        yield Words(f"{name}: {least} to {most}, by probe {', '.join(climate.probes)}.")
        yield picture
        limited = any(span.low is not None or span.high is not None for span in climate.limits)
        yield Facts(
            (
                ("Hours with readings", f"{climate.hours_read:.1f}"),
                ("Hours without", f"{climate.hours_unread:.1f}, of which nothing is known"),
                (f"Hours {words[0]}", f"{climate.hours_below:.1f}" if limited else "held against no limits"),
                (f"Hours {words[1]}", f"{climate.hours_above:.1f}" if limited else "held against no limits"),
            )
        )


def _exposure(facts: ClutchFacts, telling: Telling) -> Iterator[Block]:
    clutch = facts.record.clutch
    for each in facts.exposures:
        yield Words(told(each, telling), warns=each.verdict is not Verdict.WITHIN)
    if not facts.exposures:
        yield Words("For how long its eggs stand heat or cold: no published figure.")
    rows = [
        ("Hours above the cap of development", f"{clutch.hours_above_cap:.1f}"),
        ("Hours below the zero of development", f"{clutch.hours_below_zero:.1f}"),
        ("Hours of which nothing is known", f"{clutch.hours_missing:.1f}"),
    ]
    yield Facts(tuple(rows))


def _incidents(incidents: Sequence[Touched]) -> Iterator[Block]:
    if not incidents:
        yield Words("No incident on record touched it.")
    for each in incidents:
        yield Words(f"Incident {each.number}, {each.when}: {each.what}.")
        for sentence in each.did:
            yield Words(sentence)


def _rounds(record: ClutchRecord, telling: Telling) -> Table:
    rows = tuple(_event(each, telling) for each in record.events if each.kind in ("round", "found", "eggs"))
    return Table("Rounds, findings, eggs", ("When", "What", "More"), rows)


def _alarms(record: ClutchRecord, telling: Telling) -> Iterator[Block]:
    rows = tuple(_event(each, telling) for each in record.events if each.kind == "alarm")
    yield Table("Alarms about it or its place", ("When", "What", "More"), rows, "None.")
    if record.alarms_left_out:
        yield Words(f"{record.alarms_left_out} older alarms are not listed here; the journal of alarms has them.")


def _event(event: ClutchEvent, telling: Telling) -> tuple[str, str, str]:
    lasted = "goes on" if event.goes_on else ""
    if event.end_ms is not None:
        lasted = f"for {duration_text(event.end_ms - event.at_ms)}"
    return telling.dated(event.at_ms), event.what, "; ".join(each for each in (lasted, event.why) if each)


def _remarks(facts: ClutchFacts, telling: Telling) -> Iterator[Block]:
    sizes = tuple(
        (
            telling.dated(one.measured.at_ms),
            "the clutch" if one.measured.egg is None else f"egg {one.measured.egg}",
            "" if one.mean_g is None else f"{one.mean_g:.2f} g",
            "" if one.measured.length_mm is None else f"{one.measured.length_mm:.1f} mm",
            one.measured.note,
        )
        for one in facts.file.measures
        if not one.withdrawn
    )
    yield Table("Sizes", ("When", "Of", "Mass of one egg", "Length", "Note"), sizes)
    notes = tuple((telling.dated(one.at_ms), one.who, one.text) for one in facts.file.notes)
    yield Table("Notes", ("When", "Who", "Note"), notes)


def _photos(record: ClutchRecord, telling: Telling) -> Table:
    rows = tuple(
        (
            telling.dated(one.received_ms if one.made_ms is None else one.made_ms),
            one.who,
            one.file,
            f"{one.width} x {one.height}",
            one.sha256,
        )
        for one in record.photos
    )
    return Table("Photos, which stay in the folder of the site", ("Taken", "Who", "File", "Size", "SHA-256"), rows)


def _calibrations(found: Sequence[InForce]) -> Table:
    rows = tuple((each.channel, each.when, each.told) for each in found)
    return Table(
        "What corrected the readings", ("Channel", "In force", "Calibration"), rows, "No probe was calibrated."
    )
