# Sourced by install.sh: Mosquitto as deploy/mosquitto has it, only where it is asked for.
# shellcheck shell=sh

need_broker() {
    # What probes send goes to the daemon on this machine; the broker listens for it on the loopback alone.
    case " $roles$stated " in *" daemon "*) ;; *) stop "The broker belongs on the machine of the daemon: sh deploy/install.sh daemon broker" ;; esac
    ours=$mosquitto/clutchwarden
    keep_what_was_there
    [ -n "$prefix" ] || command -v mosquitto >/dev/null 2>&1 || [ -x /usr/sbin/mosquitto ] ||
        act "install the Debian package mosquitto" install_package mosquitto
    written=""
    [ -f "$mosquitto/mosquitto.conf" ] || [ -n "$kept" ] || [ -z "$prefix" ] ||
        put "$tree/deploy/mosquitto/mosquitto.conf" "$mosquitto/mosquitto.conf" 644
    [ -f "$ours/server.pem" ] || act "make an authority and a certificate for $(names_of_machine)in $ours" make_certificates
    # Lines of the keeper's own for other devices may be in it.
    [ -f "$ours/acl" ] || put "$tree/deploy/mosquitto/acl" "$ours/acl" 644
    grep -qs '^clutchwarden:' "$ours/passwords" || act "make the daemon's account at the broker, its password in $site/secrets/broker-password" make_account
    ! is_starter || act "say in $site/settings.toml where that broker is" write_broker_settings
    put "$tree/deploy/mosquitto/conf.d/clutchwarden.conf" "$mosquitto/conf.d/clutchwarden.conf" 644
    [ -z "$written" ] || ! manages_services || act "start mosquitto again, and put back what was there if it does not start" restart_broker
}

# Whatever another program put there may be what the house runs on.
keep_what_was_there() {
    kept=""
    if [ ! -d "$mosquitto" ] || [ -f "$mosquitto/conf.d/clutchwarden.conf" ]; then
        return 0
    fi
    kept=$(free_name "$mosquitto.before-clutchwarden")
    act "copy what is in $mosquitto now to $kept" cp -a "$mosquitto" "$kept"
    for other in "$mosquitto"/conf.d/*.conf; do
        [ ! -f "$other" ] || say "  $other stays, and counts too; from now on whoever it lets in needs a name and a password."
    done
}

names_of_machine() {
    printf '%s ' "$(uname -n)"
    for address in $(hostname -I 2>/dev/null || true); do
        printf '%s ' "$address"
    done
}

make_certificates() {
    # shellcheck disable=SC2046
    sh "$tree/deploy/mosquitto/make-certificates.sh" "$ours" $(names_of_machine)
    # The folder stays root's: root writes into it again when a certificate is renewed.
    chmod 755 "$ours"
}

# By root: the file is the broker's. The password's own file goes to whom the site folder belongs.
make_account() {
    "$opt/venv/bin/clutchwarden" probe enroll --daemon --site "$site" --broker-folder "$ours" >/dev/null
}

is_starter() {
    [ -n "$with_broker" ] && { [ ! -f "$site/settings.toml" ] || cmp -s "$tree/config/starter/settings.toml" "$site/settings.toml"; }
}

write_broker_settings() { # as the service, whose folder it is: root would follow a link that lies there
    # shellcheck disable=SC2016
    as_service sh -c 'umask 077 && cat >"$1"' - "$site/settings.toml" <<'TEXT'
# Settings of the service. What is left out keeps its default; all keys are in the README.

[broker]                        # Mosquitto on this machine; probes come to it by TLS on port 8883
host = "127.0.0.1"
port = 1883
username = "clutchwarden"
password_file = "secrets/broker-password"
TEXT
}

restart_broker() {
    if systemctl restart mosquitto; then
        return 0
    fi
    mv "$mosquitto/conf.d/clutchwarden.conf" "$ours/clutchwarden.conf.refused"
    systemctl restart mosquitto || true
    stop "Mosquitto does not start with deploy/mosquitto; see: journalctl -u mosquitto. Its configuration is as it was; what was" \
        "refused is in $ours/clutchwarden.conf.refused"
}

tell_broker() {
    say "The broker, for probes: port 8883 of this machine, by TLS. Each needs an account, and $ours/ca.pem:"
    say "  sudo clutchwarden probe enroll ID        makes it, and says what to put on the device"
    grep -q '^username' "$site/settings.toml" ||
        say "  In $site/settings.toml, [broker]: embedded out; host = \"127.0.0.1\", username = \"clutchwarden\", password_file = \"secrets/broker-password\""
}
