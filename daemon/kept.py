"""What of a daemon stays while it ends and starts anew in the same process."""

from collections.abc import Collection
from dataclasses import dataclass, field

from daemon.boards import Boards
from daemon.kept_port import KeptPort
from daemon.listen_around import HeardTopic
from daemon.recent_messages import RecentMessages


@dataclass(frozen=True, slots=True)
class Kept:
    """The port of the pages, and what was heard of probes, boards and of everything, which is in memory alone."""

    port: KeptPort = field(default_factory=KeptPort)
    recent: RecentMessages = field(default_factory=RecentMessages)
    boards: Boards = field(default_factory=Boards)
    heard: dict[str, HeardTopic] = field(default_factory=dict)
    subscriptions: set[str] = field(default_factory=set)

    def no_more(self, subscriptions: Collection[str]) -> tuple[str, ...]:
        """Give the topic filters that were wanted before and are not any more: the broker goes on by itself else."""
        gone = tuple(sorted(self.subscriptions.difference(subscriptions)))
        self.subscriptions.update(subscriptions)
        return gone
