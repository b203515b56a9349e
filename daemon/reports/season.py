"""Pure: a season, as sections of a report. A season is the year in which eggs are laid."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from daemon.clutches.eggs import REASON_WORDS
from daemon.reports.foretold import day_text
from daemon.reports.names import Stretch
from daemon.reports.season_figures import LEAST_EGGS, ClutchSeason, GroupSeason, Outcome, Spread, grouped, together
from daemon.reports.values import Block, Facts, Picture, Report, Section, Table, Words
from daemon.review.telling import Telling, listed

_BAR, _ROW, _WIDTH, _NAMES = 14, 30, 720, 220


@dataclass(frozen=True, slots=True)
class SeasonFacts:
    """All that the report of a season tells."""

    site_name: str
    time_zone: str
    now_ms: int
    season: Stretch
    clutches: tuple[ClutchSeason, ...]
    files: tuple[str, ...] = ()


def season_report(facts: SeasonFacts, telling: Telling) -> Report:
    """Write the season."""
    by_species = grouped(facts.clutches, lambda each: each.species)
    going_on = facts.now_ms < facts.season.until_ms or any(each.outcome.open for each in facts.clutches)
    return Report(
        title=f"Season {facts.season.name}",
        subtitle="Clutches laid in this year" + ("; it is not over" if going_on else ""),
        site_name=facts.site_name,
        made=(
            f"Made by clutchwarden on {telling.dated(facts.now_ms)} ({facts.time_zone}) from the register and the "
            "journal of the site."
        ),
        sections=(
            Section("The whole season", tuple(_whole(facts))),
            Section("By species", tuple(_by_species(by_species))),
            Section("By place", tuple(_by_place(facts.clutches))),
            Section("Each clutch", (_clutches(facts.clutches, telling),)),
            Section("Files beside this report", tuple(Words(each) for each in facts.files)),
        ),
    )


def _whole(facts: SeasonFacts) -> Iterator[Block]:
    if not facts.clutches:
        yield Words(f"No clutch on record was laid in {facts.season.name}.")
        return
    outcome = together([each.outcome for each in facts.clutches])
    yield Facts(
        (
            ("Clutches", str(outcome.clutches)),
            ("Eggs laid", str(outcome.laid)),
            ("Hatched", str(outcome.hatched)),
            ("Lost", f"{outcome.lost_in_all}{_reasons(outcome)}"),
            ("Given away", str(outcome.given_away)),
            ("Open", f"{outcome.open}, of which nobody has said yet what became of them"),
        )
    )
    yield Words(
        "A share is of the eggs that hatched or were lost. It is not given for fewer than "
        f"{LEAST_EGGS} of these, nor over fewer than 30 days: by so few it says nothing."
    )


def _by_species(groups: Sequence[GroupSeason]) -> Iterator[Block]:
    head = ("Species", "Clutches", "Eggs", "Hatched", "Lost", "Given away", "Open", "Hatched of decided")
    yield Table("What became of the eggs", head, tuple(_group(each) for each in groups))
    if groups:
        yield Picture("outcome.svg", bars(groups), "Eggs of each species: hatched black, lost grey, the rest white.")
    yield Table(
        "Until hatching",
        ("Species", "Days from laying to the first hatching", "Heat to the first hatching, °C·h"),
        tuple((each.name, _spread(each.days, 1), _spread(each.heat_ch, 0)) for each in groups),
    )


def _by_place(clutches: Sequence[ClutchSeason]) -> Iterator[Block]:
    yield Words("Each clutch counts for the shelf, or incubator, where it lay longest.")
    head = ("Place", "Clutches", "Eggs", "Hatched", "Lost", "Given away", "Open", "Hatched of decided")
    rows = tuple(_group(each) for each in grouped(clutches, lambda each: each.place))
    yield Table("What became of the eggs", head, rows)


def _group(each: GroupSeason) -> tuple[str, ...]:
    of = each.outcome
    share = each.too_little if each.success is None else f"{each.success:.0%} of {of.decided}"
    lost = f"{of.lost_in_all}{_reasons(of)}"
    counts = (str(number) for number in (of.clutches, of.laid, of.hatched))
    return (each.name, *counts, lost, str(of.given_away), str(of.open), share)


def _reasons(outcome: Outcome) -> str:
    told = sorted(outcome.lost.items(), key=lambda each: (-each[1], str(each[0])))
    named = [
        f"{number} {'no reason given' if reason is None else REASON_WORDS[reason]}" for reason, number in told if number
    ]
    return f" ({listed(named, most=len(named))})" if named else ""


def _spread(found: Spread | None, digits: int) -> str:
    if found is None:
        return "none hatched yet, or none counted"
    if found.count == 1:
        return f"{found.middle:.{digits}f} (1 clutch)"
    least, middle, most = (f"{each:.{digits}f}" for each in (found.least, found.middle, found.most))
    return f"{least} to {most}, the middle {middle} ({found.count} clutches)"


def _clutches(clutches: Sequence[ClutchSeason], telling: Telling) -> Table:
    rows = tuple(
        (
            each.label,
            each.species,
            each.place,
            day_text(each.laid_ms, telling.zone),
            str(each.outcome.laid),
            str(each.outcome.hatched),
            f"{each.outcome.lost_in_all}{_reasons(each.outcome)}",
            "" if each.days_to_hatch is None else f"{each.days_to_hatch:.1f}",
            "" if each.heat_ch is None else "{1:.0f} ({0:.0f} to {2:.0f})".format(*each.heat_ch),
        )
        for each in clutches
    )
    head = ("Label", "Species", "Lay longest in", "Laid", "Eggs", "Hatched", "Lost", "Days to hatch", "Heat, °C·h")
    return Table("In the order of laying", head, rows)


def bars(groups: Sequence[GroupSeason]) -> str:
    """Draw the outcome of each group as a bar: hatched, lost, the rest, in proportion to the eggs."""
    most = max((each.outcome.laid for each in groups), default=1) or 1
    height = _ROW * len(groups) + 10
    parts = []
    for number, each in enumerate(groups):
        y = 5 + _ROW * number
        parts.append(f'<text x="{_NAMES - 8}" y="{y + 12}" text-anchor="end">{escape(each.name[:34])}</text>')
        x, scale = float(_NAMES), (_WIDTH - _NAMES - 60) / most
        rest = each.outcome.laid - each.outcome.decided
        for count, fill in ((each.outcome.hatched, "#111"), (each.outcome.lost_in_all, "#999"), (rest, "#fff")):
            width = count * scale
            shape = f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="{_BAR}" fill="{fill}" stroke="#111"/>'
            parts += [shape] if count else []
            x += width
        parts.append(f'<text x="{x + 6:.1f}" y="{y + 12}">{each.outcome.hatched} of {each.outcome.laid}</text>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" font-size="12"'
        f' font-family="sans-serif" fill="#111"><title>Eggs by species</title>'
        f'<rect width="{_WIDTH}" height="{height}" fill="#fff"/>{"".join(parts)}</svg>\n'
    )
