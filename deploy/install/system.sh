# Sourced by install.sh: the system user, the units, the command for people, and starting and ending services.
# shellcheck shell=sh

unit_of() { # role
    case "$1" in
    daemon) echo clutchwarden.service ;;
    *) echo "clutchwarden-$1.service" ;;
    esac
}

is_installed() { # role
    [ -f "$units/$(unit_of "$1")" ]
}

manages_services() { # a service manager runs here, and this is about this very system
    [ -z "$prefix" ] && [ -d /run/systemd/system ] && command -v systemctl >/dev/null 2>&1
}

# Where something is installed, others see only part of it, and a dry run of theirs would say what is not so.
may_see_all() {
    [ "$(id -u)" = 0 ] || { [ -n "$dry" ] && [ ! -e "$opt/venv" ] && [ ! -e "$lib" ] && [ ! -e "$etc" ] && [ ! -e "$mosquitto/clutchwarden" ]; }
}

# Everything in the folders of the service is done as the service. What root writes there, the service could not change;
# and whoever had taken over the service could lay a link there, which leads root to where only root may write. It gets
# neither the terminal, where it could type for root, nor what keeps a second install.sh out (9).
as_service() {
    if [ -n "$prefix" ]; then
        env -i PATH="$PATH" HOME="$lib" "$@" 9>&-
    else
        (cd / && setsid --wait runuser -u clutchwarden -- env -i PATH="$PATH" HOME="$lib" "$@" 9>&-)
    fi
}

need_user() {
    [ -z "$prefix" ] || return 0
    id clutchwarden >/dev/null 2>&1 || act "make the system user clutchwarden, who cannot sign in" make_user
}

make_user() {
    useradd --system --user-group --home-dir "$lib" --no-create-home --shell /usr/sbin/nologin clutchwarden
}

need_folder() { # folder, mode, owner:group
    [ -d "$1" ] || act "make the folder $1, of $3" make_folder "$1" "$2" "$3"
}

make_folder() {
    mkdir -p "$1"
    chmod "$2" "$1"
    own "$3" "$1"
}

own() { # owner:group, paths
    [ -n "$prefix" ] || chown "$@"
}

need_units() { # roles; $written says whether one of them had to be
    written=""
    for role in "$@"; do
        put "$tree/deploy/systemd/$(unit_of "$role")" "$units/$(unit_of "$role")" 644
    done
    case " $* " in *" probe "*) need_groups ;; esac
    [ -z "$written" ] || ! manages_services || act "let systemd read its units again" systemctl daemon-reload
}

# A unit cannot name a group that is not there; which of those for sensors there are differs from board to board.
need_groups() {
    groups=""
    for group in gpio i2c; do
        ! getent group "$group" >/dev/null || groups="$groups $group"
    done
    [ -n "$groups" ] || return 0
    printf '# Written by install.sh: the groups of this board that may read its sensors.\n[Service]\nSupplementaryGroups=%s\n' \
        "${groups# }" >"$scratch/groups.conf"
    put "$scratch/groups.conf" "$units/clutchwarden-probe.service.d/groups.conf" 644
}

need_command() {
    # The units name it as what to read.
    put "$tree/README.md" "$opt/README.md" 644
    cat >"$scratch/command" <<'TEXT'
#!/bin/sh
# Written by install.sh: clutchwarden's commands, about the site of the service. Root becomes the service's user, so that
# nothing in the site folder ends up as root's: sudo clutchwarden clutch list. Root stays root where a file elsewhere is
# to be written: the broker's passwords, and the agent's file.
export CLUTCHWARDEN_SITE="${CLUTCHWARDEN_SITE:-/var/lib/clutchwarden/site}"
program=/opt/clutchwarden/venv/bin/clutchwarden
case "${1-} ${2-}" in
"probe enroll" | "probe dismiss" | "probe --write-config") exec "$program" "$@" ;;
esac
if [ "$(id -u)" = 0 ]; then
    exec runuser -u clutchwarden -- env HOME=/var/lib/clutchwarden "$program" "$@"
fi
exec "$program" "$@"
TEXT
    put "$scratch/command" "$command_file" 755
}

need_enabled() { # role
    if [ -n "$prefix" ] || ! command -v systemctl >/dev/null 2>&1; then
        say "  (not done here: systemctl enable $(unit_of "$1"))"
        return 0
    fi
    [ -L "$units/multi-user.target.wants/$(unit_of "$1")" ] ||
        act "let $(unit_of "$1") start with the machine" systemctl --quiet enable "$(unit_of "$1")"
}

is_running() { # role
    manages_services && systemctl --quiet is-active "$(unit_of "$1")"
}

# Type=notify: this waits until the service says that it is ready, or does not get there.
start_service() { # role
    systemctl restart "$(unit_of "$1")" || return 1
    # Some mistakes end it just after that.
    looks=0
    while [ "$looks" -lt "$settle_s" ]; do
        sleep 1
        is_running "$1" || return 1
        looks=$((looks + 1))
    done
}

end_service() { # role
    systemctl stop "$(unit_of "$1")"
}

running_roles() {
    for role in daemon probe watcher; do
        ! is_running "$role" || printf '%s ' "$role"
    done
}
