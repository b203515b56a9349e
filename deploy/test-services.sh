#!/bin/sh
# Brings the real services that the tests talk to: Mosquitto, InfluxDB and Chromium, as Debian packages.
# Installs what is absent where it may (root, or sudo without a password); otherwise names it.
# The tests start their own copies on free ports and in folders of their own; no system service is touched.
# With CLUTCHWARDEN_REQUIRE_SERVICES=1 an absent service ends this script with 1, without it the tests skip.
set -eu

absent=""
packages=""
need() { # command, package
    if ! command -v "$1" >/dev/null 2>&1 && [ ! -x "/usr/sbin/$1" ]; then
        absent="$absent $1"
        packages="$packages $2"
    fi
}
look() {
    absent=""
    packages=""
    need mosquitto mosquitto
    need influxd influxdb
    need openssl openssl
    need chromium chromium
}

look
if [ -n "$packages" ] && command -v apt-get >/dev/null 2>&1; then
    as_root=""
    [ "$(id -u)" = 0 ] || as_root="sudo -n"
    if [ -z "$as_root" ] || sudo -n true 2>/dev/null; then
        echo "Installing for the tests:$packages"
        export DEBIAN_FRONTEND=noninteractive
        $as_root apt-get update -qq || echo "apt-get update failed; trying with the lists at hand"
        # shellcheck disable=SC2086
        $as_root apt-get install -y -qq --no-install-recommends $packages >/dev/null ||
            echo "apt-get could not install:$packages"
    fi
    look
fi

if [ -n "$absent" ]; then
    echo "Absent:$absent (Debian packages:$packages). Tests that need them are skipped."
    if [ "${CLUTCHWARDEN_REQUIRE_SERVICES:-0}" = 1 ]; then
        echo "CLUTCHWARDEN_REQUIRE_SERVICES=1 asks for all of them, so this is a failure."
        exit 1
    fi
fi
