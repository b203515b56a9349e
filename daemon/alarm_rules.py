"""Pure: the rule that each alarm of each channel is stepped by, made once for as long as the limits stay the same."""

import math
from collections.abc import Mapping

from config.model import DAMPING_MIN, ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind, Quantity
from daemon.alarms import silence
from daemon.alarms.conditions import Rule, Side
from daemon.alarms.damped_condition import DampedRule, damped_rule
from daemon.alarms.damping import Lag
from daemon.alarms.definitions import AlarmDefinition
from daemon.alarms.limits import Limits, rule_for
from sensors.reading import ChannelKey

MINUTE_MS = 60_000


class RuleBook:
    """Rules of one site. `bridge_ms`: the longest step between two readings that a straight line may stand for."""

    def __init__(
        self, definitions: Mapping[AlarmKind, AlarmDefinition], site: Site, places: Places, bridge_ms: float
    ) -> None:
        self._definitions = definitions
        self._probes = {probe.id: probe for probe in site.probes}
        self._boxes = frozenset(places.boxes)
        self._known: dict[str, dict[AlarmKind, tuple[Limits, Rule | None]]] = {}
        self._damped: dict[str, dict[AlarmKind, DampedRule]] = {}
        minutes = damping_min_by_zone(site)
        self._lags = {
            probe.id: Lag(minutes.get("/".join(probe.place.split("/")[:2]), DAMPING_MIN) * MINUTE_MS, bridge_ms)
            for probe in site.probes
        }

    def lag(self, key: ChannelKey) -> Lag:
        """How the temperature of a channel is damped: as its zone states, or as usual where no zone is around it."""
        return self._lags[key.probe]

    def rule(self, key: ChannelKey, kind: AlarmKind, limits: Limits) -> Rule | None:
        """The rule of one alarm under these limits; None where it watches nothing."""
        of_channel = self._known.setdefault(key.channel, {})
        known = of_channel.get(kind)
        if known is not None and known[0] is limits:
            return known[1]
        probe = self._probes[key.probe]
        rule = rule_for(self._definitions[kind], limits, silence.window_ms(probe.interval_s) / 1000)
        if key.quantity is Quantity.RELATIVE_HUMIDITY and probe.place not in self._boxes:
            # A profile's humidity is that inside the box; the air around lidded boxes is drier and may be.
            rule = None
        if probe.place == ROOM:
            # The room is no place of eggs: it may be as it is.
            rule = None
        of_channel[kind] = (limits, rule)
        return rule

    def damped_rule(self, key: ChannelKey, kind: AlarmKind, limits: Limits) -> DampedRule | None:
        """The rule of a warning under these limits; None where it watches nothing."""
        rule = self.rule(key, kind, limits)
        if rule is None:
            return None
        of_channel = self._damped.setdefault(key.channel, {})
        known = of_channel.get(kind)
        if known is None or known.limit is not rule:
            known = of_channel[kind] = damped_rule(rule, self.lag(key).time_constant_s)
        return known

    def bounds(self, channel: str) -> tuple[float, float]:
        """Between which values no rule of the channel has anything to say, as its rules were last asked for."""
        rules = [rule for _, rule in self._known.get(channel, {}).values() if rule is not None]
        low = max((rule.limit for rule in rules if rule.side is Side.LOW), default=-math.inf)
        high = min((rule.limit for rule in rules if rule.side is Side.HIGH), default=math.inf)
        return low, high


def damping_min_by_zone(site: Site) -> dict[str, float]:
    """The time constants that the keeper states, minutes, by the place of the zone."""
    return {f"{incubator.id}/{zone.id}": zone.damping_min for incubator in site.incubators for zone in incubator.zones}
