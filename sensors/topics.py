"""MQTT topics: which filter a topic belongs to, and our own three topics of a probe."""

MEASURE, STATUS, AGENT = "measure", "status", "agent"
_LEAVES = (MEASURE, STATUS, AGENT)
AGENT_ID = "clutchwarden-probe-"
"""How the client id of an agent begins at a broker; the id of its probe follows."""


def topic_matches(topic_filter: str, topic: str) -> bool:
    """Tell whether a topic falls under a topic filter, by MQTT 5.0 clause 4.7.

    `+` stands for exactly one level, `#` for the parent and all below, and neither takes the first level of a topic
    that begins with `$`. Comparison is exact, so case, spaces and empty levels count. A filter or a topic that the
    clause forbids matches nothing.
    """
    if not _is_topic_name(topic) or not _is_topic_filter(topic_filter):
        return False
    if topic[0] == "$" and topic_filter[0] in "+#":
        return False
    wanted = topic_filter.split("/")
    levels = topic.split("/")
    if wanted[-1] == "#":
        del wanted[-1]
        del levels[len(wanted) :]
    return len(wanted) == len(levels) and all(want in ("+", level) for want, level in zip(wanted, levels, strict=True))


def _is_topic_name(topic: str) -> bool:
    return bool(topic) and not any(character in topic for character in "+#\0")


def _is_topic_filter(topic_filter: str) -> bool:
    if not topic_filter or "\0" in topic_filter:
        return False
    levels = topic_filter.split("/")
    alone = all(level in ("+", "#") or not ("+" in level or "#" in level) for level in levels)
    return alone and "#" not in levels[:-1]


def own_filters(prefix: str) -> tuple[str, ...]:
    """Give the filters that cover `<prefix>/<probe>/measure`, `.../status` and `.../agent`."""
    return tuple(f"{prefix}/+/{leaf}" for leaf in _LEAVES)


def parse_own_topic(prefix: str, topic: str) -> tuple[str, str] | None:
    """Split such a topic into probe and leaf (measure, status, agent); None for any other topic."""
    if not topic.startswith(prefix + "/"):
        return None
    probe, _, leaf = topic[len(prefix) + 1 :].partition("/")
    return (probe, leaf) if probe and leaf in _LEAVES else None
