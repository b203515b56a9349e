"""`clutchwarden calibrate salt`: guides through a test over saturated salts, and reads the probe itself."""

import json
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from config.errors import StatedError
from config.words import Quantity
from daemon.calibration_bench import Bench
from daemon.commands.calibrate_guide import guide_as_dict, guide_text
from daemon.commands.calibrate_parts import (
    ChannelArgument,
    DriftOption,
    DueOption,
    JsonOption,
    NoteOption,
    RepeatabilityOption,
    ShownOption,
    SinceOption,
    TakenOption,
    Terms,
    YesOption,
    bench,
    conclude,
    drift,
    now_ms,
    refusals,
    refuse_future,
    repeatability,
    require_settled,
    uncorrected,
)
from daemon.commands.moments import local_text, moment_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, read_site
from sensors.calibration import stated_of
from sensors.calibration_line import Line, Point, one_point, refuse_unlikely, two_point
from sensors.salts import EQUAL_WITHIN_K, SALTS, SETTLING_H, USUAL_PAIR, Salt, fixed_point, salt_named

_MINUTE_MS = 60_000
_MOST_SALTS = 2
_EARLY = ", read before its waiting time"


def salt(
    channel: ChannelArgument,
    salts: Annotated[
        list[str] | None, typer.Option("--salt", help="NaCl, K2SO4, MgCl2, ...; once or twice. Default: NaCl, K2SO4.")
    ] = None,
    readings: Annotated[
        list[float] | None, typer.Option("--reading", help="What the probe said, % RH, once for each --salt.")
    ] = None,
    read_at: Annotated[
        list[str] | None,
        typer.Option("--read-at", help="Until when the probe lay over each --salt: its readings are in the journal."),
    ] = None,
    temperatures: Annotated[
        list[float] | None,
        typer.Option("--temperature", help="Of jar and probe, °C, once for each --salt. Default: the probe's own."),
    ] = None,
    difference: Annotated[
        float, typer.Option(help="Within ± how much probe and slush are equally warm, K.")
    ] = EQUAL_WITHIN_K,
    shown: ShownOption = None,
    since: SinceOption = None,
    taken: TakenOption = None,
    due: DueOption = "26w",
    repeats: RepeatabilityOption = None,
    wanders: DriftOption = None,
    note: NoteOption = "",
    who: WhoOption = "",
    yes: YesOption = False,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Calibrate a humidity probe over saturated salts. Without readings it guides through the test, jar by jar."""
    terms = Terms(since, taken, due, note, who, yes, as_json)
    whole = read_site(site)
    with bench(whole, channel, taken or _latest(read_at, whole)) as at, refusals():
        if at.stated.quantity is not Quantity.RELATIVE_HUMIDITY:
            raise fail(f"{channel} measures no humidity. For a thermometer use: clutchwarden calibrate one-point")
        chosen = _chosen(salts, bool(readings or read_at))
        for option, given in (("--temperature", temperatures), ("--reading", readings), ("--read-at", read_at)):
            _require_one_each(option, given, chosen)
        if as_json and not (readings or read_at):
            print(json.dumps(guide_as_dict(channel, chosen), indent=2))
            return
        repeats_u = repeatability(repeats, at.stated)
        taking = _Taking(at, difference, repeats_u, shown, dict(zip(chosen, temperatures or (), strict=False)))
        points = _points(taking, chosen, readings, read_at)
        line = _line(at, points, repeats_u, drift(wanders, at.stated))
        conclude(at, line, "salt, two-point" if len(points) > 1 else "salt, one-point", terms)


class _Taking:
    """Takes the reading over a salt, by hand or from the journal."""

    def __init__(
        self, at: Bench, difference_k: float, repeats_u: float, shown: bool | None, temperatures: dict[Salt, float]
    ) -> None:
        self.at = at
        self._difference_k = difference_k
        self._repeats_u = repeats_u
        self._shown = shown
        self._temperatures = temperatures
        self._may_ask = False

    def require_temperature(self, chosen: Sequence[Salt]) -> None:
        """Ask for the temperature of the jars before the first of them, where the journal has none; later ones too."""
        self._may_ask = True
        for over in chosen:
            if over not in self._temperatures and self._journal_c(now_ms()) is None:
                self._ask_temperature(over)

    def _ask_temperature(self, over: Salt) -> float:
        """Ask until it is one at which the salt is known."""
        probe = self.at.channel.partition("/")[0]
        while True:
            question = f"The journal has no temperature of {probe}. Of the closed {over.formula} jar, °C"
            try:
                found = _number(typer.prompt(question, err=True), "25.4")
                over.relative_humidity_pct(found)
            except StatedError as error:
                print(f"{error.reason}. {error.hint}", file=sys.stderr)
                continue
            self._temperatures[over] = found
            return found

    def ask_what_is_typed(self) -> None:
        """Ask once, where pages show another figure than the probe, which of the two will be typed."""
        if self._shown is None and self.at.calibrations.in_force(self.at.channel, self.at.taken_ms) is not None:
            question = (
                f"{self.at.channel} is corrected already. Will you type what pages show (y), or the probe itself (n)?"
            )
            self._shown = typer.confirm(question, err=True)

    def by_hand(self, over: Salt, said: float, remark: str = "") -> Point:
        """The point from a reading that somebody typed; the remark stays with it."""
        return self._point(over, uncorrected(self.at, said, self._shown), self._repeats_u, self.at.taken_ms, remark)

    def from_journal(self, over: Salt, until_ms: int) -> Point:
        """The point from the readings of the minutes before a moment, which must have settled."""
        found = self.at.listened(self.at.channel, until_ms)
        mean, scatter = require_settled(found, self.at, f"{self.at.channel} over {over.formula}")
        return self._point(over, mean, max(self._repeats_u, scatter), until_ms)

    def _point(self, over: Salt, reading: float, reading_u: float, at_ms: int, remark: str = "") -> Point:
        temperature_c = self._temperatures.get(over)
        if temperature_c is None:
            temperature_c = self._measured_c(over, at_ms)
        true = fixed_point(over, temperature_c, self._difference_k)
        against = (
            f"{over.formula} at {temperature_c:.1f} °C, probe and slush alike within {self._difference_k:g} K{remark}"
        )
        point = Point(true.relative_humidity_pct, reading, true.standard_uncertainty_pct, reading_u, against)
        refuse_unlikely(self.at.stated.quantity, point)
        return point

    def _measured_c(self, over: Salt, at_ms: int) -> float:
        """The temperature at the humidity element: measured, else asked for where somebody leads through the test."""
        found = self._journal_c(at_ms)
        if found is not None:
            return found
        if self._may_ask:
            return self._ask_temperature(over)
        probe = self.at.channel.partition("/")[0]
        raise fail(f"The journal has no temperature of {probe} at that time. Give --temperature, °C, of the jar.")

    def _journal_c(self, at_ms: int) -> float | None:
        """What the same probe measured, corrected; None where the journal has nothing of it."""
        at = self.at
        probe = at.channel.partition("/")[0]
        own = (
            name
            for name, stated in stated_of(at.site).items()
            if name.startswith(f"{probe}/") and stated.quantity is Quantity.AIR_TEMPERATURE
        )
        channel = next(own, None)
        found = at.listened(channel, at_ms) if channel else None
        if channel is None or found is None or found.mean is None:
            return None
        return at.calibrations.corrected(channel, found.mean, at_ms)


def _chosen(words: Sequence[str] | None, has_readings: bool) -> list[Salt]:
    if not words and has_readings:
        raise fail("Over which salt? Give --salt once for each reading, for example --salt NaCl.")
    chosen = [salt_named(word) for word in words] if words else [SALTS[key] for key in USUAL_PAIR]
    if len(chosen) > _MOST_SALTS or len(set(chosen)) < len(chosen):
        raise fail("Give one salt, or two different ones.")
    return chosen


def _require_one_each(option: str, given: Sequence[object] | None, chosen: Sequence[Salt]) -> None:
    if given and len(given) != len(chosen):
        raise fail(f"{option} stands there {len(given)} times for {len(chosen)} salts; give one for each, in order.")


def _latest(read_at: Sequence[str] | None, whole: SiteFolder) -> str | None:
    """The last of the moments at which the probe was read; a test was done when its last point was."""
    moments = {moment_ms(each, whole.zone, "--read-at"): each for each in read_at or ()}
    if not moments:
        return None
    refuse_future("--read-at", max(moments), now_ms())
    return moments[max(moments)]


def _points(
    taking: _Taking, chosen: Sequence[Salt], readings: Sequence[float] | None, read_at: Sequence[str] | None
) -> list[Point]:
    """One point for each salt: from what was typed, from the journal, or from a test done now."""
    if readings:
        return [taking.by_hand(each, said) for each, said in zip(chosen, readings, strict=True)]
    if read_at:
        zone = taking.at.zone
        pairs = zip(chosen, read_at, strict=True)
        return [taking.from_journal(each, moment_ms(until, zone, "--read-at")) for each, until in pairs]
    return _guided(taking, chosen)


def _line(at: Bench, points: Sequence[Point], repeats_u: float, wanders: float) -> Line:
    if len(points) == 1:
        return one_point(at.stated.quantity, points[0], at.stated.accuracy, repeats_u, wanders)
    return two_point(at.stated.quantity, points[0], points[1], repeats_u, wanders, one_reference=False)


def _guided(taking: _Taking, chosen: Sequence[Salt]) -> list[Point]:
    """Lead through the test, the dry salt first. Whoever leaves it has stored nothing."""
    dry_first = sorted(chosen, key=lambda each: each.relative_humidity_pct(25.0))
    print(guide_text(taking.at.channel, dry_first))
    if not typer.confirm(f"Has every jar stood closed for {SETTLING_H} h?", err=True):
        print("Come back with the same command when they have. Nothing was stored.")
        raise typer.Exit
    taking.ask_what_is_typed()
    taking.require_temperature(dry_first)
    return [_over(taking, each) for each in dry_first]


def _over(taking: _Taking, over: Salt) -> Point:
    """One jar: wait until the reading stands still, and take it; or take what is typed."""
    least, _ = over.minutes()
    while typer.prompt(
        f"{over.formula}: Enter when the probe is in the closed jar", "", show_default=False, err=True
    ).strip():
        print("Not taken: first only Enter, once the jar is closed. The reading is asked for next.", file=sys.stderr)
    ready_ms = now_ms() + least * _MINUTE_MS
    ready = local_text(ready_ms, taking.at.zone)[11:]
    while True:
        said = typer.prompt(
            f"{over.formula}: Enter from {ready} on to read it; or type what the probe says, % RH",
            "",
            show_default=False,
            err=True,
        )
        early = now_ms() < ready_ms
        if not said.strip() and early:
            print(f"It is not yet {ready}. Wait.", file=sys.stderr)
            continue
        try:
            if not said.strip():
                return taking.from_journal(over, now_ms())
            point = taking.by_hand(over, _number(said, "76.9, or only Enter"), _EARLY if early else "")
        except StatedError as error:
            print(f"{error.reason}. {error.hint}", file=sys.stderr)
        except typer.Exit:
            # Why was said already; there is another try.
            continue
        else:
            if early:
                print(f"Read before {ready}: the probe may not have come to rest. Better wait.", file=sys.stderr)
            return point


def _number(said: str, example: str) -> float:
    try:
        return float(said)
    except ValueError:
        raise StatedError(f"{said!r} is not a number", f"Type for example {example}.") from None
