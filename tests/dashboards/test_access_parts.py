"""Names of our own, ways back, cookies: the small rules that the door stands on."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.access.values import Refused
from dashboards.access import cookies
from dashboards.access.hosts import KnownHosts
from dashboards.access.local_path import local_path, with_way_back
from dashboards.access.typed import Field, FormView, answered, said_twice

PUBLIC = "https://eggs.example.org:8443"


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8330", "localhost:1", "LOCALHOST", "[::1]:8330", "[::1]"])
def test_the_machine_itself_is_known_by_its_loopback_names(host: str) -> None:
    assert KnownHosts.of("127.0.0.1", None).know(host)


@pytest.mark.parametrize(
    "host",
    [
        "",
        "evil.example",
        "127.0.0.1.evil.example",
        "localhost.evil.example:8330",
        "192.0.2.7",
        "[broken",
        "@",
        "127.0.0.1@evil.example",
    ],
)
def test_a_foreign_name_is_not_known(host: str) -> None:
    assert not KnownHosts.of("127.0.0.1", None).know(host)


def test_the_public_name_and_the_one_that_is_listened_on_are_known() -> None:
    hosts = KnownHosts.of("incubators.lan", PUBLIC)
    for host in ("eggs.example.org", "EGGS.example.org:8443", "eggs.example.org.", "incubators.lan:8330"):
        assert hosts.know(host)
    assert not hosts.know("example.org")


def test_where_the_network_is_listened_to_an_address_in_figures_will_do_and_no_foreign_name() -> None:
    """A name can be made to lead here by whoever owns it; an address cannot."""
    hosts = KnownHosts.of("0.0.0.0", None)
    for host in ("192.0.2.7:8330", "[2001:db8::7]:8330", "localhost"):
        assert hosts.know(host)
    assert not hosts.know("evil.example:8330")


@pytest.mark.parametrize("path", ["/", "/clutches/3", "/charts?channel=north-air/t&from=2026-05-03", "/alarms/of/a:b"])
def test_a_path_of_ours_is_kept(path: str) -> None:
    assert local_path(path) == path
    assert with_way_back("/sign-in", path).startswith("/sign-in")


@pytest.mark.parametrize(
    "path",
    [
        "", "//evil.example", "https://evil.example", "/\\evil.example", "\\\\evil.example", "/\t/evil.example",
        "/\n/evil.example", " /x", "javascript:alert(1)", "evil", "/a b", "/ä", "/x" * 600, "/sign-in?to=/",
        "/sign-out", "/welcome",
    ],
)  # fmt: skip
def test_nobody_is_sent_anywhere_else(path: str) -> None:
    assert local_path(path) == "/"


@given(st.text())
def test_a_way_back_is_always_one_slash_and_visible_signs(text: str) -> None:
    assert re.fullmatch(r"/([^/\\\s][^\\\s]*)?", local_path(text))


def test_the_cookie_over_https_is_bound_to_this_host_and_the_plain_one_to_this_site() -> None:
    """ASVS 5.0 3.3.1 to 3.3.4."""
    secure, plain = cookies.keep("abc", 60, https=True), cookies.keep("abc", 60, https=False)
    assert secure == "__Host-clutchwarden=abc; Max-Age=60; Path=/; Secure; HttpOnly; SameSite=Lax"
    assert plain == "clutchwarden-session=abc; Max-Age=60; Path=/; HttpOnly; SameSite=Strict"
    assert "Max-Age=0" in cookies.forget(https=True)
    both = {"__Host-clutchwarden": "a", "clutchwarden-session": "b"}
    assert (cookies.token_of(both, https=True), cookies.token_of(both, https=False)) == ("a", "b")
    assert cookies.token_of({}, https=True) == ""


def test_a_refusal_stands_beside_its_field_and_a_password_has_to_be_typed_again() -> None:
    form = FormView("x", "/x", (Field("name", "Name"), Field("old", "Old", "password")), "Go")
    sent = {"name": "ana", "old": "hunter2"}
    at_field = answered(form, sent, Refused("No.", field="name"))
    assert [(each.value, each.error) for each in at_field.fields] == [("ana", "No."), ("", "")]
    assert at_field.error == ""
    assert answered(form, sent, Refused("No.", field="elsewhere")).error == "No."


def test_a_new_password_is_typed_twice() -> None:
    assert said_twice({"a": "x", "b": "x"}, "a", "b") is None
    refused = said_twice({"a": "x"}, "a", "b")
    assert refused is not None
    assert refused.field == "b"
