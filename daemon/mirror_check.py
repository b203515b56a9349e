"""Tries the mirror of a site, for `clutchwarden check`: whether it takes a point and can be read."""

from collections.abc import Iterator

from config.errors import Mistake
from config.mirror import MirrorSettings
from config.secret_file import UnseenError
from config.settings import FILE as SETTINGS
from daemon.mirror.answers import Meaning, meaning
from daemon.mirror.errors import MirrorError
from daemon.mirror.points import CHECK, Origin

_HINTS = {
    401: "Make a token that may write to and read from this bucket, and put it into token_file.",
    403: "Make a token that may write to and read from this bucket, and put it into token_file.",
    404: "Make the bucket (in InfluxDB 1.x: CREATE DATABASE), or correct bucket or url.",
}
_HINT = "Readings are watched and kept without it, and go there once it is well. Look at its machine, or correct url."


def mirror_troubles(settings: MirrorSettings, origin: Origin, now_ms: int) -> Iterator[Mistake]:
    """Write one point and read it back; what goes wrong is a warning, since the daemon needs no mirror."""
    if not settings.enabled:
        return
    try:
        settings.reveal_token()
    except UnseenError:
        # Told where the settings are checked; the service alone can try it.
        return
    # Its libraries are large: who has no mirror does not load them.
    from daemon.mirror_client import MirrorClient
    from daemon.mirror_journals import troubles
    from daemon.mirror_query import MirrorReader, text

    with MirrorClient(settings) as client:
        answer = client.check(origin, now_ms)
    if meaning(answer) is not Meaning.TAKEN:
        yield Mistake(SETTINGS, "mirror", answer.told, _HINTS.get(answer.status, _HINT), "warning")
        return
    # One of an earlier check may be there, where another address answers than the one that is written to.
    written = f'"site" = {text(origin.site)} AND time >= {now_ms}ms'
    query = f'SELECT last("up") FROM "{CHECK}" WHERE {written}'  # noqa: S608 - its own text
    try:
        with MirrorReader(settings) as reader:
            found = reader.ask(query)
            shared = list(troubles(reader, origin, now_ms))
    except MirrorError as error:
        hint = "Comparing and restoring read by /query: let the token read, and in InfluxDB 2.x map the bucket to it."
        yield Mistake(SETTINGS, "mirror", f"it takes points, but {error.why}", hint, "warning")
        return
    if not found:
        hint = "Another address or bucket answers /query than the one that is written to. Look at url and bucket."
        yield Mistake(SETTINGS, "mirror", "a point that was just written is not there", hint, "warning")
    for each in shared:
        yield Mistake(SETTINGS, "mirror", each.reason, each.hint, "warning")
