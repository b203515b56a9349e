"""A report as one HTML file, and its drawings as files of their own."""

from html.parser import HTMLParser
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import pytest

from config.species import ExposureLimit
from daemon.clutches.eggs import EggEvent, EggState, Stated
from daemon.development.exposure import Verdict
from daemon.reports.drawing import Chart, Level, Mark, Point, day_ticks, runs, svg_of, value_ticks
from daemon.reports.exposure import told, worst_of
from daemon.reports.foretold import hatched_of, moments_of
from daemon.reports.page import html_of
from daemon.reports.season import bars
from daemon.reports.season_figures import GroupSeason, Outcome
from daemon.reports.values import Facts, Picture, Report, Section, Table, Words
from daemon.review.telling import Telling

MADRID = ZoneInfo("Europe/Madrid")
HOUR_MS, DAY_MS = 3_600_000, 86_400_000
START_MS = 1_780_272_000_000
BAD = '<script>alert("x")</script> & <b>'
SVG = "{http://www.w3.org/2000/svg}"


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.update(name for name, _ in attrs)


def picture() -> Picture:
    points = [Point(START_MS + n * HOUR_MS, 27.0, 28.0, 29.0) for n in range(48)]
    return Picture("air.svg", svg_of(Chart(BAD, "°C", points, (), [Mark(START_MS, BAD)]), MADRID), BAD)


def test_every_text_is_text_and_nothing_runs_or_is_fetched() -> None:
    blocks = (Words(BAD, warns=True), Facts(((BAD, BAD),)), Table(BAD, (BAD,), ((BAD,),)), picture())
    page = html_of(Report(BAD, BAD, BAD, BAD, (Section(BAD, blocks), Section("None", (Table("Rows", ("a",), ()),)))))
    seen = _Tags()
    seen.feed(page)
    assert "script" not in seen.tags
    assert not seen.attributes & {"src", "href", "onclick", "onload"}
    assert "<b> " not in page.replace("<b>!</b> ", "")
    assert page.count("<?xml") == 0
    assert "Rows: Nothing on record." in page
    assert "@page { size: A4" in page


def test_a_drawing_is_a_whole_file_whose_marks_lie_where_their_values_are() -> None:
    points = [Point(START_MS + n * DAY_MS, 26.0, 28.0, 30.0, joined=n != 3) for n in range(6)]
    tree = ET.fromstring(
        svg_of(Chart("Air", "°C", points, [Level(START_MS, START_MS + DAY_MS, 30.0, "upper")]), MADRID)
    )
    assert tree.tag == f"{SVG}svg"
    assert [each.text for each in tree.iter(f"{SVG}title")] == ["Air, °C"]
    bands = [each for each in tree.iter(f"{SVG}path") if each.get("fill") == "#ccc"]
    assert len(bands) == 2
    ticks = {
        each.text: float(each.get("y", "0")) for each in tree.iter(f"{SVG}text") if each.get("text-anchor") == "end"
    }
    assert ticks["26"] > ticks["28"] > ticks["30"]
    assert len(runs(points)) == 2


def test_one_point_and_a_flat_line_can_be_drawn_and_none_is_refused() -> None:
    ET.fromstring(svg_of(Chart("One", "", [Point(START_MS, 28.0, 28.0, 28.0)]), MADRID))
    ET.fromstring(svg_of(Chart("Days", "", [Point(START_MS, START_MS, START_MS, START_MS)], as_dates=True), MADRID))
    with pytest.raises(ValueError, match="needs a point"):
        svg_of(Chart("None", "", []), MADRID)


def test_ticks_are_round_and_not_too_many() -> None:
    assert [text for _, text in value_ticks(23.7, 30.4)] == ["24", "26", "28", "30"]
    found = day_ticks(START_MS, START_MS + 70 * DAY_MS, MADRID)
    assert 3 <= len(found) <= 7
    assert all((at_ms + 2 * HOUR_MS) % DAY_MS == 0 for at_ms, _ in found)


def test_bars_are_as_long_as_there_are_eggs() -> None:
    groups = [
        GroupSeason("A & B", Outcome(1, 20, 10, {None: 5}, 0, 5), None, None, None, ""),
        GroupSeason("C", Outcome(1, 10, 10, {}, 0, 0), None, None, None, ""),
    ]
    tree = ET.fromstring(bars(groups))
    width = {fill: [] for fill in ("#111", "#999", "#fff")}  # type: dict[str, list[float]]
    for each in tree.iter(f"{SVG}rect"):
        if each.get("stroke"):
            width[each.get("fill", "")].append(float(each.get("width", "0")))
    first, second = width["#111"]
    assert first == pytest.approx(second, abs=0.1)
    assert width["#999"][0] * 2 == pytest.approx(first, abs=0.2)
    assert width["#fff"][0] * 2 == pytest.approx(first, abs=0.2)


def test_hatching_is_the_first_word_of_each_egg_that_stands() -> None:
    def event(number: int, egg: int, day: int, state: EggState, withdrawn: bool = False) -> EggEvent:
        return EggEvent(number, egg, START_MS + day * DAY_MS, Stated(state), "ana", withdrawn=withdrawn)

    events = [
        event(1, 1, 5, EggState.HATCHED, True),
        event(2, 1, 7, EggState.HATCHED),
        event(3, 2, 9, EggState.HATCHED),
    ]
    found = hatched_of([*events, event(4, 3, 6, EggState.PIPPED)])
    assert (found.count, found.first_ms, found.last_ms) == (2, START_MS + 7 * DAY_MS, START_MS + 9 * DAY_MS)
    assert hatched_of([]).first_ms is None


@pytest.mark.parametrize("days", [0, 1, 7, 20, 70, 400])
def test_windows_are_looked_at_weekly_and_at_most_sixteen_times(days: int) -> None:
    found = moments_of(START_MS, START_MS + days * DAY_MS)
    assert len(found) <= 16
    assert found == sorted(set(found))
    assert not days or found[-1] == START_MS + days * DAY_MS
    if days == 20:
        assert [(each - START_MS) // DAY_MS for each in found] == [7, 14, 20]


LIMIT = ExposureLimit(above_c=34.0, minutes=60, within_h=24, source="invented")


def minutes(*stretches: tuple[int, float | None]) -> list[tuple[int, float | None]]:
    """A reading a minute, for so many minutes each."""
    values = [value for count, value in stretches for _ in range(count)]
    return [(START_MS + number * 60_000, value) for number, value in enumerate(values)]


def test_the_worst_window_counts_and_not_the_last() -> None:
    """Fifty minutes at 35 °C, twice within a day: 100 minutes and more; two days later nothing of it is left."""
    course = minutes((600, 30.0), (51, 35.0), (300, 30.0), (51, 35.0), (2880, 30.0))
    found = worst_of(LIMIT, course, 1_800_000, course[-1][0])
    # On both sides of each stretch a line leads from 30 to 35 °C in a minute, a fifth of it above 34.
    assert found.beyond_ms == pytest.approx(2 * (50 + 0.4) * 60_000, abs=10)
    assert found.verdict is Verdict.PASSED
    assert "Passed: above 34.0 °C for at most 101 min" in told(found, Telling(MADRID))
    assert told(found, Telling(MADRID)).endswith("Source: invented.")


def test_what_nobody_knows_makes_no_limit_passed_and_none_kept() -> None:
    kept = worst_of(LIMIT, minutes((120, 30.0), (31, 35.0), (1500, 30.0)), 1_800_000, START_MS + 1650 * 60_000)
    assert kept.verdict is Verdict.WITHIN
    unknown = worst_of(LIMIT, minutes((120, 30.0), (200, None), (1500, 30.0)), 1_800_000, START_MS + 1819 * 60_000)
    assert (unknown.verdict, unknown.beyond_ms) == (Verdict.POSSIBLY_PASSED, 0)
    assert "Where no reading came" in told(unknown, Telling(MADRID))
