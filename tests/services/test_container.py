"""The container file and compose.yaml, held against the tree, the program and the form that compose knows.

No engine runs them here. What can be tried without one is: the settings are read by the program, and the broker and the
health check run for real.
"""

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import yaml

from config.settings import Settings
from daemon.cli import app

ROOT = Path(__file__).parent.parent.parent
FOLDER = ROOT / "deploy" / "container"
SITE = "/var/lib/clutchwarden/site"
# The keys of the compose specification that are used here, and where: https://github.com/compose-spec/compose-spec
TOP = {"name", "services", "networks", "volumes", "secrets"}
SERVICE = {
    *("build", "cap_drop", "command", "depends_on", "deploy", "environment", "healthcheck", "image", "logging"),
    *("networks", "ports", "read_only", "restart", "secrets", "security_opt", "stop_grace_period", "tmpfs", "user"),
    "volumes",
}


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    whole: dict[str, Any] = yaml.safe_load((FOLDER / "compose.yaml").read_text(encoding="utf-8"))
    return whole


@pytest.fixture(scope="module")
def services(compose: dict[str, Any]) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = compose["services"]
    return found


def instructions() -> list[tuple[str, str]]:
    """The steps of the container file, in order, with lines that go on joined."""
    text = re.sub(r"\\\n", " ", (FOLDER / "Containerfile").read_text(encoding="utf-8"))
    lines = [line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return [(line.split(maxsplit=1)[0], line.split(maxsplit=1)[1]) for line in lines]


def of(step: str) -> list[str]:
    return [rest for name, rest in instructions() if name == step]


def goes_to_the_builder(source: str) -> bool:
    """Whether .dockerignore lets a path through: the last line that is about it decides."""
    allowed = True
    for line in (ROOT / ".dockerignore").read_text(encoding="utf-8").splitlines():
        pattern = line.removeprefix("!")
        if line and not line.startswith("#") and (pattern == "*" or f"{source}/".startswith(f"{pattern}/")):
            allowed = line.startswith("!")
    return allowed


def test_everything_that_the_image_copies_is_in_the_tree_and_goes_to_the_builder() -> None:
    sources = [name for line in of("COPY") if "--from=" not in line for name in line.split()[:-1]]
    assert sources
    for source in sources:
        assert (ROOT / source).exists(), source
        assert goes_to_the_builder(source), source
    packages = {"config", "sensors", "daemon", "dashboards"}
    assert packages <= set(sources)
    assert not goes_to_the_builder("deploy/container/private/broker-password")
    assert not goes_to_the_builder(".git/config")
    assert not goes_to_the_builder("tests/conftest.py")


def test_the_image_runs_as_nobody_special_and_says_whether_it_is_well() -> None:
    [user] = of("USER")
    assert re.fullmatch(r"[1-9]\d*:[1-9]\d*", user)
    [check] = of("HEALTHCHECK")
    assert "/opt/clutchwarden/health.py" in check
    [base] = [line.partition("=")[2] for line in of("ARG") if line.startswith("BASE=")]
    assert re.search(r":3\.1[1-9]-slim-[a-z]+$", base), "a tag that says which Python and which Debian"
    assert of("FROM")[-1] == "${BASE}"
    assert str(Settings.model_fields["web"].default.port) in of("EXPOSE")
    [volume] = of("VOLUME")
    [environment] = of("ENV")
    stated = dict(pair.split("=", 1) for pair in shlex.split(environment))
    assert stated["CLUTCHWARDEN_SITE"] == SITE
    assert SITE.startswith(f"{volume}/")
    assert not any(word in f"{environment} {of('ARG')}".lower() for word in ("password", "token", "secret"))


def test_the_image_starts_a_command_that_there_is() -> None:
    [entry], [arguments] = of("ENTRYPOINT"), of("CMD")
    program, command = yaml.safe_load(entry), yaml.safe_load(arguments)
    assert program == ["clutchwarden"]
    names = {each.name or each.callback.__name__ for each in app.registered_commands if each.callback is not None}
    late = (ROOT / "daemon" / "commands" / f"{command[0]}.py").is_file()
    assert command[0] in names or late
    assert command[1:] == [SITE]


def test_compose_has_only_keys_that_compose_knows_and_names_only_what_it_states(compose: dict[str, Any]) -> None:
    own = {key for key in compose if not key.startswith("x-")}
    assert own <= TOP
    named: dict[str, set[str]] = {"networks": set(), "volumes": set(), "secrets": set()}
    for name, service in compose["services"].items():
        assert set(service) <= SERVICE, name
        named["networks"] |= set(service["networks"])
        named["secrets"] |= set(service.get("secrets", []))
        named["volumes"] |= {each.split(":")[0] for each in service["volumes"] if not each.startswith(".")}
        assert set(service.get("depends_on", {})) <= set(compose["services"])
    for kind, found in named.items():
        assert found == set(compose[kind]), kind


def test_every_service_is_held_on_a_short_lead(services: dict[str, dict[str, Any]]) -> None:
    assert set(services) == {"broker", "daemon", "influxdb", "grafana"}
    for name, service in services.items():
        assert service["restart"] == "unless-stopped", name
        assert service["read_only"] is True, name
        assert service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
        assert set(service["deploy"]["resources"]["limits"]) == {"memory", "cpus", "pids"}, name
        # The daemon's user and check are those of its image.
        assert name == "daemon" or not str(service["user"]).startswith("0"), name
        assert name == "daemon" or service["healthcheck"]["test"][0] == "CMD", name
        assert name == "daemon" or re.search(r":\d+\.\d+", service["image"]), f"{name}: no fixed version"


def test_nothing_is_reached_from_outside_unless_the_keeper_says_so(services: dict[str, dict[str, Any]]) -> None:
    ports = {name: service.get("ports", []) for name, service in services.items()}
    assert ports["influxdb"] == []
    for each in (port for several in ports.values() for port in several):
        assert re.match(r"(127\.0\.0\.1|\$\{[A-Z_]+:-127\.0\.0\.1\}):\d+:\d+$", each), each
    inside = {name: [each.rsplit(":", 1)[1] for each in several] for name, several in ports.items()}
    assert inside["broker"] == ["8883"]
    assert inside["daemon"] == [services["daemon"]["environment"]["CLUTCHWARDEN_WEB__PORT"]]
    assert services["influxdb"]["networks"] == ["store"]


def test_an_alarm_waits_for_neither_mirror_nor_pictures(services: dict[str, dict[str, Any]]) -> None:
    assert services["daemon"]["depends_on"] == {"broker": {"condition": "service_started"}}
    assert "influxdb" not in services["broker"].get("depends_on", {})


def test_every_folder_that_is_mounted_is_in_the_tree_or_made_by_prepare(compose: dict[str, Any]) -> None:
    mounted = [each for service in compose["services"].values() for each in service["volumes"] if each.startswith(".")]
    files = [each["file"] for each in compose["secrets"].values()]
    assert len(mounted) > 3
    for path in [each.split(":")[0] for each in mounted] + files:
        if "/private/" not in path:
            assert (FOLDER / path).exists(), path
    assert all(each.endswith(":ro") for each in mounted), "no container writes into the tree"
    for build in (service["build"] for service in compose["services"].values() if "build" in service):
        assert (FOLDER / build["context"]).resolve() == ROOT
        assert (ROOT / build["dockerfile"]).is_file()


def test_daemon_influxdb_and_grafana_mean_the_same_store(services: dict[str, dict[str, Any]]) -> None:
    daemon, store, pictures = (services[name]["environment"] for name in ("daemon", "influxdb", "grafana"))
    # Names of the official image: https://docs.influxdata.com/influxdb/v2/install/use-docker-compose/
    assert store["DOCKER_INFLUXDB_INIT_MODE"] == "setup"
    assert {key for key in store if key.endswith("_FILE")} == {
        "DOCKER_INFLUXDB_INIT_PASSWORD_FILE",
        "DOCKER_INFLUXDB_INIT_ADMIN_TOKEN_FILE",
    }
    assert daemon["CLUTCHWARDEN_MIRROR__BUCKET"] == store["DOCKER_INFLUXDB_INIT_BUCKET"]
    assert daemon["CLUTCHWARDEN_MIRROR__ORG"] == store["DOCKER_INFLUXDB_INIT_ORG"]
    assert pictures["GF_CLUTCHWARDEN_BUCKET"] == store["DOCKER_INFLUXDB_INIT_BUCKET"]
    assert pictures["GF_CLUTCHWARDEN_URL"] == daemon["CLUTCHWARDEN_MIRROR__URL"] == "http://influxdb:8086"
    for service in services.values():
        for key, value in service["environment"].items() if "environment" in service else ():
            if value.startswith("/run/secrets/"):
                assert value.removeprefix("/run/secrets/") in service["secrets"], key


def test_grafana_gets_what_its_provisioning_asks_for(services: dict[str, dict[str, Any]]) -> None:
    provisioning = ROOT / "dashboards" / "grafana" / "provisioning"
    asked = set(re.findall(r"\$\{(\w+)\}", (provisioning / "datasources" / "clutchwarden.yaml").read_text()))
    given = {key.removesuffix("__FILE") for key in services["grafana"]["environment"]}
    assert asked
    assert asked <= given
    [provider] = yaml.safe_load((provisioning / "dashboards" / "clutchwarden.yaml").read_text())["providers"]
    targets = {each.split(":")[1]: each.split(":")[0] for each in services["grafana"]["volumes"]}
    shown = FOLDER / targets[provider["options"]["path"]]
    assert list(shown.glob("*.json"))
