"""Pure: the rule that each alarm of each channel is stepped by, made once for as long as the limits stay the same."""

import math
from collections.abc import Mapping

from config.model import ROOM
from config.places import Places
from config.site import Probe
from config.words import AlarmKind, Quantity
from daemon.alarms import silence
from daemon.alarms.conditions import Rule, Side
from daemon.alarms.definitions import AlarmDefinition
from daemon.alarms.limits import Limits, rule_for
from sensors.reading import ChannelKey


class RuleBook:
    """Rules of one site."""

    def __init__(
        self, definitions: Mapping[AlarmKind, AlarmDefinition], probes: Mapping[str, Probe], places: Places
    ) -> None:
        self._definitions = definitions
        self._probes = probes
        self._boxes = frozenset(places.boxes)
        self._known: dict[str, dict[AlarmKind, tuple[Limits, Rule | None]]] = {}

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

    def bounds(self, channel: str) -> tuple[float, float]:
        """Between which values no rule of the channel has anything to say, as its rules were last asked for."""
        rules = [rule for _, rule in self._known.get(channel, {}).values() if rule is not None]
        low = max((rule.limit for rule in rules if rule.side is Side.LOW), default=-math.inf)
        high = min((rule.limit for rule in rules if rule.side is Side.HIGH), default=math.inf)
        return low, high
