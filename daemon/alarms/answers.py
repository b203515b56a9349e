"""What an HTTP answer means for a message that was posted. Pure.

Status codes and Retry-After: RFC 9110, sections 15 and 10.2.3; 429: RFC 6585, section 4. What 3xx, 410 and Retry-After
mean for a sender of messages: Standard Webhooks 1.0.0, deliverability.
"""

from datetime import UTC
from email.utils import parsedate_to_datetime
from http import HTTPStatus

from daemon.alarms.delivery import Delivered, GiveUp, Gone, SendResult, TryAgain

_PASSING = {HTTPStatus.NOT_FOUND, HTTPStatus.REQUEST_TIMEOUT, HTTPStatus.CONFLICT, HTTPStatus.TOO_MANY_REQUESTS}
_LASTING = {HTTPStatus.NOT_IMPLEMENTED, HTTPStatus.HTTP_VERSION_NOT_SUPPORTED}
_HINTS: dict[int, str] = {
    HTTPStatus.UNAUTHORIZED: "check the user name, password or token in the contact's url",
    HTTPStatus.FORBIDDEN: "check the user name, password or token in the contact's url",
    HTTPStatus.NOT_FOUND: "check the path in the contact's url",
    HTTPStatus.GONE: "the address is no longer in use; give the contact a new url",
}


def judge_answer(status: int, retry_after: str | None, date: str | None, now_s: float) -> SendResult:
    """Judge a status code with the headers Retry-After and Date; `now_s` is UTC seconds since the epoch.

    Only 2xx is success, and a redirect is not followed: it would carry an alarm to an address that nobody chose.
    """
    if 200 <= status < 300:  # noqa: PLR2004 - the 2xx class
        return Delivered()
    sentence = _sentence(status)
    if status in _PASSING or (500 <= status < 600 and status not in _LASTING):  # noqa: PLR2004 - the 5xx class
        return TryAgain(sentence, retry_after_s(retry_after, date, now_s))
    return Gone(sentence) if status == HTTPStatus.GONE else GiveUp(sentence)


def retry_after_s(retry_after: str | None, date: str | None, now_s: float) -> float | None:
    """Seconds to wait by a Retry-After header (seconds or an HTTP date), or None where there is no usable one.

    A date is compared with the answer's own Date header where it has one: the clock on this side may be wrong.
    """
    text = (retry_after or "").strip()
    if text.isascii() and text.isdigit():
        return float(text)
    until_s = _http_date_s(text)
    if until_s is None:
        return None
    return max(0.0, until_s - (_http_date_s(date or "") or now_s))


def _http_date_s(text: str) -> float | None:
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, OverflowError):
        return None
    # An HTTP date is in GMT, also where it does not say so.
    return moment.replace(tzinfo=moment.tzinfo or UTC).timestamp()


def _sentence(status: int) -> str:
    if 300 <= status < 400:  # noqa: PLR2004 - the 3xx class
        return f"the receiver answered {status} and points to another address; enter that address as the contact's url"
    hint = _HINTS.get(status)
    return f"the receiver answered {status}" + (f"; {hint}" if hint else "")
