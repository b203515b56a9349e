#!/bin/sh
# Once, before the first start of compose.yaml: passwords, tokens and certificates into deploy/container/private.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
private=$here/private
image=docker.io/library/eclipse-mosquitto:2.0

usage() {
    cat >&2 <<'TEXT'
Usage: sh deploy/container/prepare.sh NAME [NAME ...]
NAME is what probes and the daemon write as the broker's host: the name or address of this machine, such as 192.168.1.20.
What is there already stays, so it may be run twice. Remove none of it: the containers know what it was.
TEXT
    exit 2
}

secret() { # file
    [ -s "$private/$1" ] || openssl rand -hex 24 >"$private/$1"
}

same() { # file, the one that it begins as
    [ -s "$private/$1" ] || cp "$private/$2" "$private/$1"
}

# Mosquitto hashes what it finds in the file, so that no password is seen in a list of processes.
hash_password() { # folder, file
    if command -v mosquitto_passwd >/dev/null 2>&1; then
        mosquitto_passwd -U "$1/$2"
    else
        docker run --rm --network none --user "$(id -u):$(id -g)" --volume "$1:/hashing" "$image" mosquitto_passwd -U "/hashing/$2"
    fi
}

# Boards are told the first name, so that of the container comes last.
broker() { # names
    mkdir -p "$private/broker"
    [ -e "$private/broker/server.pem" ] || sh "$here/../mosquitto/make-certificates.sh" "$private/broker" "$@" broker
    [ -e "$private/broker/acl" ] || cp "$here/../mosquitto/acl" "$private/broker/acl"
    if [ ! -s "$private/broker/passwords" ]; then
        mkdir -p "$private/hashing"
        printf 'clutchwarden:%s\n' "$(cat "$private/broker-password")" >"$private/hashing/passwords"
        hash_password "$private/hashing" passwords
        mv "$private/hashing/passwords" "$private/broker/passwords"
        rmdir "$private/hashing"
    fi
}

[ $# -ge 1 ] || usage
case "$1" in -*) usage ;; esac
command -v openssl >/dev/null 2>&1 || { echo "openssl is missing. Install it: apt install openssl" >&2 && exit 1; }
umask 077
mkdir -p "$private"
for file in broker-password influxdb-password influxdb-admin-token grafana-password; do
    secret "$file"
done
same mirror-token influxdb-admin-token
same grafana-token influxdb-admin-token
broker "$@"
# Each container runs as a user of its own, and reads its files through a mount. On this machine the folder around them
# lets nobody in.
chmod 700 "$private"
chmod -R go+rX "$private"/*
# The authority is for no container: whoever has it can pass for the broker.
chmod 600 "$private/broker/ca.key"
echo "$private is ready; only you may look into it. Keep a copy elsewhere: nothing of it can be read out of the containers."
echo "Boards check the broker by $private/broker/ca.pem. Grafana and InfluxDB know the user keeper, by grafana-password and"
echo "influxdb-password in that folder."
