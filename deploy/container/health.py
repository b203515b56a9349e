"""Whether the daemon in this container is well, for the container's health check: 0, or 1 and the reasons.

HEALTH_URL is where it answers, http://127.0.0.1:8330/health where nothing is said.
"""

import json
import os
import ssl
import sys
import urllib.error
import urllib.request
from urllib.parse import urlsplit

DEFAULT = "http://127.0.0.1:8330/health"
PATIENCE_S = 15.0
LOOPBACK = ("127.0.0.1", "::1", "localhost")


def main() -> int:
    """Ask once. Never raises: no answer is an answer."""
    url = os.environ.get("HEALTH_URL", DEFAULT)
    try:
        with _opener(url).open(url, timeout=PATIENCE_S) as answer:
            told = json.load(answer)
    except urllib.error.HTTPError as error:
        told = _reasons_of(error)
    except (OSError, ValueError) as error:
        sys.stdout.write(f"No answer from {url}: {error}\n")
        return 1
    if isinstance(told, dict) and told.get("healthy") is True:
        return 0
    reasons = told.get("reasons", []) if isinstance(told, dict) else []
    sys.stdout.write(" ".join(str(reason) for reason in reasons) or "It answers, and not that it is well.")
    sys.stdout.write("\n")
    return 1


def _opener(url: str) -> urllib.request.OpenerDirector:
    context = ssl.create_default_context()
    if urlsplit(url).hostname in LOOPBACK:
        # Within the container nobody else listens, and the certificate is for the name that phones use.
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    # No proxy of the environment stands between this and the same container.
    return urllib.request.build_opener(urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=context))


def _reasons_of(error: urllib.error.HTTPError) -> object:
    try:
        return json.load(error)
    except ValueError:
        return {}


if __name__ == "__main__":
    sys.exit(main())
