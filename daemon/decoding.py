"""The decoder of a site, with what it has to know of the readings before."""

from config.settings import IngestSettings
from config.site import Site
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder

JUDGE_MEMORY_MS = 25 * 3_600_000
"""So far back the judgement of a reading looks, at the most: a stuck coarse probe needs a day to be seen."""


def decoder_of(site: Site, ingest: IngestSettings, journal: Journal) -> Decoder:
    """Make it, and let it recall what the journal holds. Raises JournalError."""
    decoder = Decoder(
        site,
        future_tolerance_s=ingest.future_tolerance_s,
        largest_payload_bytes=ingest.largest_payload_bytes,
    )
    with journal.read() as conn:
        for channel in decoder.channels:
            decoder.recall(samples.remembered(conn, channel, JUDGE_MEMORY_MS))
    return decoder
