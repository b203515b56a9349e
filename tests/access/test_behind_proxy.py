"""A whole daemon behind a real proxy with TLS, and with TLS of its own: who asks, how, and what a browser keeps."""

import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from daemon.clock import SystemClock
from daemon.service import Service
from dashboards.access.cookies import PLAIN_NAME, SECURE_NAME
from tests.daemon.test_service import stated
from tests.support.accounts import PASSWORD, access_of, make_account
from tests.support.certificates import make_certificates
from tests.support.household import write_site
from tests.support.processes import free_port
from tests.support.tls_proxy import tls_proxy

pytestmark = pytest.mark.services

OF_THE_PROXY, OF_A_PHONE = "127.0.0.2", "127.0.0.9"
"""All of 127.0.0.0/8 is this machine (RFC 1122 section 3.2.1.3), so each has an address of its own."""
FORGED = {"X-Forwarded-For": "198.51.100.66", "X-Forwarded-Proto": "https"}
STRICT = "Strict-Transport-Security"


@contextmanager
def daemon(folder: Path, web: str) -> Iterator[Service]:
    """A daemon with an account of ana, as `run` starts it."""
    site = write_site(folder / "site", free_port())
    settings = site / "settings.toml"
    settings.write_text(f"{settings.read_text(encoding='utf-8')}{web}", encoding="utf-8")
    with access_of(site) as desk:
        make_account(desk)
    service = Service(stated(site), SystemClock())
    service.start()
    try:
        yield service
    finally:
        service.stop()


@pytest.fixture
def certificates(tmp_path: Path) -> Path:
    return make_certificates(tmp_path / "certificates")


@pytest.fixture
def behind(tmp_path: Path, certificates: Path) -> Iterator[tuple[Service, str]]:
    """A daemon that listens everywhere and believes its proxy alone, and the address of the proxy."""
    port = free_port()
    web = (
        f'host = "0.0.0.0"\nbehind_proxy = true\npublic_url = "https://localhost:{port}"\n'
        f'trusted_proxies = ["{OF_THE_PROXY}"]\n'
    )
    with daemon(tmp_path, web) as service:
        pages_port = httpx.URL(address_of(service)).port
        assert pages_port is not None
        with tls_proxy(certificates, port, pages_port, OF_THE_PROXY) as url:
            yield service, url


def browser(url: str, folder: Path, address: str = OF_A_PHONE, **headers: str) -> httpx.Client:
    """A browser at an address, that trusts the authority of the test."""
    trusting = ssl.create_default_context(cafile=str(folder / "ca.pem"))
    transport = httpx.HTTPTransport(verify=trusting, local_address=address)
    return httpx.Client(base_url=url, transport=transport, headers={"Accept": "text/html", **headers}, timeout=60)


def signs_in(client: httpx.Client) -> httpx.Response:
    return client.post("/sign-in", data={"name": "ana", "password": PASSWORD})


def came_from(service: Service, before: set[int]) -> str:
    [new] = [each for each in service.access.all_sessions() if each.number not in before]
    return new.address


def address_of(service: Service) -> str:
    assert service.page_url is not None
    return service.page_url


def numbers(service: Service) -> set[int]:
    return {each.number for each in service.access.all_sessions()}


def test_sign_in_works_through_the_proxy_and_all_that_is_kept_is_for_https_alone(
    behind: tuple[Service, str], certificates: Path
) -> None:
    service, url = behind
    before = numbers(service)
    with browser(url, certificates) as phone:
        first = phone.get("/")
        assert (first.status_code, first.headers["Location"]) == (303, "/sign-in")
        assert first.headers[STRICT].startswith("max-age=")
        answer = signs_in(phone)
        assert answer.status_code == 303
        kept = answer.headers["Set-Cookie"]
        assert kept.startswith(f"{SECURE_NAME}=")
        for word in ("Secure", "HttpOnly", "SameSite=", "Path=/"):
            assert word in kept
        page = phone.get("/account")
        assert page.status_code == 200
        assert "ana" in page.text
        assert page.headers[STRICT] == first.headers[STRICT]
    assert came_from(service, before) == OF_A_PHONE


def test_what_somebody_says_of_themselves_through_the_proxy_is_not_believed(
    behind: tuple[Service, str], certificates: Path
) -> None:
    service, url = behind
    before = numbers(service)
    with browser(url, certificates, **FORGED) as phone:
        assert signs_in(phone).status_code == 303
    assert came_from(service, before) == OF_A_PHONE


def test_who_comes_past_the_proxy_on_the_machine_itself_is_taken_for_what_they_are(
    behind: tuple[Service, str], certificates: Path
) -> None:
    """A browser there speaks plain http, so its cookie has to be one that it keeps."""
    service, _ = behind
    before = numbers(service)
    with browser(address_of(service), certificates, **FORGED) as near:
        answer = signs_in(near)
        assert answer.status_code == 303
        assert STRICT not in answer.headers
        assert answer.headers["Set-Cookie"].startswith(f"{PLAIN_NAME}=")
    assert came_from(service, before) == OF_A_PHONE


def test_who_comes_past_the_proxy_from_the_net_gets_nothing_whatever_they_say(
    behind: tuple[Service, str], certificates: Path
) -> None:
    service, url = behind
    address = _address_on_a_net()
    if address is None:
        pytest.skip("this machine is on no net")
    port = httpx.URL(address_of(service)).port
    with browser(f"http://{address}:{port}", certificates, address, **FORGED, Host="localhost") as other:
        for answer in (other.get("/sign-in"), signs_in(other)):
            assert answer.status_code == 403
            assert url in answer.text
            assert "Set-Cookie" not in answer.headers
        assert other.get("/health").status_code in (200, 503)


def test_with_a_certificate_of_its_own_the_same_holds_without_a_proxy(tmp_path: Path, certificates: Path) -> None:
    web = f'certificate_file = "{certificates}/server.pem"\nkey_file = "{certificates}/server.key"\n'
    with daemon(tmp_path, web) as service:
        assert address_of(service).startswith("https://127.0.0.1:")
        before = numbers(service)
        with browser(address_of(service), certificates, **FORGED) as phone:
            answer = signs_in(phone)
            assert answer.status_code == 303
            assert answer.headers["Set-Cookie"].startswith(f"{SECURE_NAME}=")
            assert "Secure" in answer.headers["Set-Cookie"]
            assert answer.headers[STRICT].startswith("max-age=")
            assert phone.get("/account").status_code == 200
        assert came_from(service, before) == OF_A_PHONE
        with pytest.raises(httpx.TransportError):
            httpx.get(address_of(service).replace("https", "http"))


def _address_on_a_net() -> str | None:
    """The address by which this machine would reach another one; nothing is sent (192.0.2.0/24: RFC 5737)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as looker:
        try:
            looker.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address = str(looker.getsockname()[0])
    return None if address.startswith("127.") else address
