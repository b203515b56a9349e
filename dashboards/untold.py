"""What nobody is told of at present, as lines of the first page, each with the time that is left. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.alarm_board_values import RoundNow
from daemon.overview import Overview, Untold
from dashboards import figures
from dashboards.alarm_paths import alarm_path
from dashboards.rounds_paths import ROUNDS_PATH
from dashboards.standing import ALARM_SHAPES, Mark, Shape, Tone


@dataclass(frozen=True, slots=True)
class UntoldLine:
    """One line: `key` is its id on the page, `path` where there is more of it."""

    key: str
    mark: Mark
    name: str
    text: str
    path: str = ""


def untold_lines(overview: Overview, zone: ZoneInfo) -> tuple[UntoldLine, ...]:
    """Give the rounds that go on, then every alarm that nobody is told of."""
    rounds = (_round_line(each, overview, zone) for each in overview.rounds)
    return (*rounds, *(_alarm_line(each, overview, zone) for each in overview.untold))


def _round_line(running: RoundNow, overview: Overview, zone: ZoneInfo) -> UntoldLine:
    until = _until(running.until_ms, overview, zone)
    if running.is_overdue:
        late = figures.age(overview.now_ms, running.until_ms)
        text = f"Of {running.who}, was to end {late}. All is told again; end the round when you have closed the door."
    elif running.is_ended:
        text = f"Of {running.who}, over. Cold, damp, dry and the open door are told again at {until}."
    else:
        text = f"By {running.who}. Cold, damp, dry and the open door are told again at {until} at the latest."
    mark = Mark(Shape.RING, "Round", Tone.PLAIN)
    return UntoldLine(f"round-{running.incubator}", mark, running.incubator, text, ROUNDS_PATH)


def _alarm_line(alarm: Untold, overview: Overview, zone: ZoneInfo) -> UntoldLine:
    until = _until(alarm.until_ms, overview, zone)
    by = f" by {alarm.who}" if alarm.who else ""
    why = f" {alarm.why.strip().removesuffix('.')}." if alarm.why else ""
    if alarm.mode:
        text = f"{alarm.mode[:1].upper()}{alarm.mode[1:]}. Told again at {until} at the latest."
    elif alarm.state == "out of service":
        text = f"Taken out of service{by}. Review {until}.{why}"
    else:
        text = f"Shelved{by} until {until}.{why}"
    mark = Mark(ALARM_SHAPES[alarm.kind], f"{alarm.state[:1].upper()}{alarm.state[1:]}", Tone.PLAIN)
    return UntoldLine(
        f"untold-{alarm.state.split()[0]}-{alarm.mode.split(' ')[0]}-{alarm.key}",
        mark,
        alarm.name,
        text,
        alarm_path(alarm.key),
    )


def _until(moment_ms: int, overview: Overview, zone: ZoneInfo) -> str:
    left_ms = moment_ms - overview.now_ms
    left = f"{figures.duration(left_ms // 1000)} left" if left_ms > 0 else "due"
    clock = figures.clock_text(figures.local(moment_ms, zone), figures.local(overview.now_ms, zone))
    return f"{clock} ({left})"
