#!/bin/sh
# Brings the real services that the tests talk to: Mosquitto, InfluxDB, Chromium, openssl,
# systemd (which looks at units and is not started), iproute2 (networks that can be cut) and shellcheck, as Debian packages.
# Installs what is absent where it may (root, or sudo without a password); otherwise names it.
# The tests start their own copies on free ports and in folders of their own. What this script installs does not
# start as a system service, and a service that is there already is not touched.
# With CLUTCHWARDEN_REQUIRE_SERVICES=1 an absent service ends this script with 1, without it the tests skip.
set -eu

# command[,other command]:package
wanted="mosquitto:mosquitto influxd:influxdb openssl:openssl chromium,chromium-browser:chromium systemd-analyze:systemd ip:iproute2 shellcheck:shellcheck"

present() { # command[,other command]
    for name in $(echo "$1" | tr ',' ' '); do
        if command -v "$name" >/dev/null 2>&1 || [ -x "/usr/sbin/$name" ]; then
            return 0
        fi
    done
    return 1
}

absent() { # prints the packages whose command is absent
    for pair in $wanted; do
        present "${pair%%:*}" || echo "${pair##*:}"
    done
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        env DEBIAN_FRONTEND=noninteractive "$@"
    else
        sudo -n env DEBIAN_FRONTEND=noninteractive "$@"
    fi
}

install() { # packages
    echo "Installing for the tests: $*"
    policy=/usr/sbin/policy-rc.d
    made=""
    if [ ! -e "$policy" ]; then
        # Debian asks this file whether a newly installed service may start; 101 means no.
        printf '#!/bin/sh\nexit 101\n' | as_root tee "$policy" >/dev/null && as_root chmod 755 "$policy" && made=1
    fi
    as_root apt-get update -qq || echo "apt-get update failed; trying with the lists at hand"
    for package in "$@"; do
        as_root apt-get install -y -qq --no-install-recommends "$package" >/dev/null || echo "apt-get could not install $package"
    done
    [ -z "$made" ] || as_root rm -f "$policy"
}

missing=$(absent)
if [ -n "$missing" ] && command -v apt-get >/dev/null 2>&1; then
    if [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; then
        # shellcheck disable=SC2086
        install $missing
        missing=$(absent)
    fi
fi

if [ -n "$missing" ]; then
    echo "Absent (Debian packages):" $missing
    if [ "${CLUTCHWARDEN_REQUIRE_SERVICES:-0}" = 1 ]; then
        echo "CLUTCHWARDEN_REQUIRE_SERVICES=1 asks for all of them, so this is a failure."
        exit 1
    fi
    echo "The tests that need them are skipped."
fi
