#!/bin/sh
# Install clutchwarden as a service on Debian and systems like it; bring it up to date, go back, take it off again.
# shellcheck source-path=SCRIPTDIR
set -eu

usage() {
    cat <<'TEXT'
Usage: sudo sh deploy/install.sh [daemon] [probe] [watcher] [broker] [options]
       sudo sh deploy/install.sh upgrade | back | uninstall [daemon] [probe] [watcher] [options]

  daemon       the watch and its pages, on the machine beside the incubators (this is done where nothing is named)
  probe        the agent, on a board that sensors are wired to
  watcher      tells when the daemon is silent, on a second machine
  broker       Mosquitto with TLS, passwords and one topic for each probe (deploy/mosquitto); only when named
  upgrade      this folder's version beside the one in use: a backup, a trial with a copy of the journal, the change,
               and back by itself where the new one does not become ready
  back         go back to the version before; where the upgrade changed the journal, the copy from before comes back
  uninstall    take off units and program, or what is named; what was recorded stays, and it is said where

  --yes            ask nothing (everything is said first in any case)
  --dry-run        say what would be done, and do nothing
  --wheels DIR     install from this folder, without a network; made on another machine of the same kind with:
                   python3 -m pip wheel --wheel-dir DIR --constraint deploy/constraints.txt .
  --python PROGRAM a Python of 3.11 or newer; python3 where nothing is said
  --prefix DIR     put everything below DIR instead of /, make no user and start nothing
  --help           this text

Program: /opt/clutchwarden. Site and journal: /var/lib/clutchwarden/site. Files of agent and watcher: /etc/clutchwarden.
TEXT
}

tree=$(cd "$(dirname "$0")/.." && pwd)
verb=install roles="" with_broker="" mode=plan acts=0
yes="" dry="" wheels="" python=python3 prefix=""
settle_s=5 # so long a service has to stay once it is ready; project choice

# shellcheck source=install/words.sh
. "$tree/deploy/install/words.sh"
# shellcheck source=install/program.sh
. "$tree/deploy/install/program.sh"
# shellcheck source=install/system.sh
. "$tree/deploy/install/system.sh"
# shellcheck source=install/site.sh
. "$tree/deploy/install/site.sh"
# shellcheck source=install/upgrade.sh
. "$tree/deploy/install/upgrade.sh"
# shellcheck source=install/back.sh
. "$tree/deploy/install/back.sh"
# shellcheck source=install/broker.sh
. "$tree/deploy/install/broker.sh"

absolute() { # a folder that is there
    (cd "$1" 2>/dev/null && pwd) || slip "there is no folder $1"
}

read_arguments() {
    while [ $# -gt 0 ]; do
        case "$1" in
        daemon | probe | watcher) roles="$roles $1" ;;
        broker) with_broker=yes ;;
        upgrade | back | uninstall) verb=$1 ;;
        --yes) yes=yes ;;
        --dry-run) dry=yes ;;
        --wheels | --python | --prefix)
            [ $# -ge 2 ] || slip "$1 needs a word after it"
            case "$1" in
            --wheels) wheels=$(absolute "$2") || exit 2 ;;
            --python) python=$2 ;;
            --prefix) prefix=$(absolute "$2") || exit 2 ;;
            esac
            shift
            ;;
        --help | -h) usage && exit 0 ;;
        *) slip "\"$1\" is nothing that this script knows" ;;
        esac
        shift
    done
    [ -n "$roles$with_broker" ] || [ "$verb" != install ] || roles=daemon
    case "$verb" in
    upgrade | back) [ -z "$roles$with_broker" ] || slip "$verb is about all that is installed; name nothing beside it" ;;
    uninstall) [ -z "$with_broker" ] || slip "Mosquitto is not taken off by this script; name daemon, probe or watcher" ;;
    esac
}

set_paths() {
    opt=$prefix/opt/clutchwarden
    lib=$prefix/var/lib/clutchwarden
    site=$lib/site
    etc=$prefix/etc/clutchwarden
    units=$prefix/etc/systemd/system
    command_file=$prefix/usr/local/bin/clutchwarden
    mosquitto=$prefix/etc/mosquitto
    scratch=$(mktemp -d)
    trap 'rm -rf "$scratch"' EXIT
    # The service's user runs this one, and may not look into the folder that the script lies in.
    chmod 755 "$scratch"
    facts_program=$scratch/stated.py
    cp "$tree/deploy/install/stated.py" "$facts_program"
}

check_machine() {
    [ -n "$prefix" ] || may_see_all || stop "This changes the system, or looks where only root may look. Run it as root: sudo sh" \
        "deploy/install.sh ..."
    [ -n "$prefix" ] || for tool in useradd runuser setsid flock install; do
        command -v "$tool" >/dev/null 2>&1 || stop "$tool is not here: this script is for Debian and systems like it."
    done
    version=$(version_of_tree)
    [ -n "$version" ] || stop "$tree/pyproject.toml names no version: this is not clutchwarden's own folder."
    case "$verb" in
    install | upgrade)
        check_python
        check_wheels
        code=$(code_of_source)
        ;;
    esac
    # What was stated before this run; a file that is only begun by it describes nothing yet.
    stated=""
    [ ! -f "$site/site.toml" ] || stated="$stated daemon"
    [ ! -f "$etc/probe.toml" ] || stated="$stated probe"
    [ ! -f "$etc/watch.toml" ] || stated="$stated watcher"
}

install_roles() {
    name=$(in_use)
    if [ -z "$name" ]; then
        choose_name
        need_environments
        [ -z "$roles" ] || need_program
    elif ! is_built "$name"; then
        say "$name is installed and stays in use; to put what this folder has in its place: sh deploy/install.sh upgrade"
    fi
    if [ -n "$roles" ]; then
        need_user
        need_use
        need_command
    fi
    for role in $roles; do
        case "$role" in
        daemon) need_site ;;
        probe) need_probe_file ;;
        watcher) need_watch_file ;;
        esac
    done
    [ -z "$with_broker" ] || need_broker
    # shellcheck disable=SC2086
    need_units $roles
    for role in $roles; do
        need_enabled "$role"
        need_start "$role"
    done
}

need_start() { # role
    case " $stated " in
    *" $1 "*) ;;
    *) return 0 ;;
    esac
    if manages_services && ! is_running "$1"; then
        act "start $(unit_of "$1")" start_or_say "$1"
    fi
}

start_or_say() { # role
    accepts "$1" "$opt/venv/bin/clutchwarden" || stop "$(unit_of "$1") is installed, but not started: mend what the lines above name, then: sudo" \
        "systemctl restart $(unit_of "$1")"
    start_service "$1" || stop "$(unit_of "$1") did not become ready; see: journalctl -u $(unit_of "$1")"
}

tell_installed() {
    [ -z "$roles" ] || manages_services || say "No systemd runs here, so no service was started."
    for role in $roles; do
        case " $stated " in
        *" $role "*) ;;
        *)
            say "Next, for $(unit_of "$role"):"
            next_steps "$role"
            ;;
        esac
    done
    [ -z "$with_broker" ] || tell_broker
}

uninstall() {
    [ -n "$roles" ] || roles=$(installed_roles)
    for role in $roles; do
        [ -f "$units/$(unit_of "$role")" ] || continue
        act "end $(unit_of "$role") and remove it" remove_unit "$role"
    done
    left=""
    for role in daemon probe watcher; do
        case " $roles " in *" $role "*) continue ;; esac
        ! is_installed "$role" || left="$left $role"
    done
    if [ -n "$left" ]; then
        say "The program stays for:$left."
    else
        [ ! -e "$command_file" ] || act "remove $command_file" rm -f "$command_file"
        [ ! -d "$opt" ] || act "remove the program, $opt" rm -rf "$opt"
    fi
}

remove_unit() { # role
    unit=$(unit_of "$1")
    ! manages_services || systemctl --quiet disable --now "$unit" || true
    rm -f "$units/$unit" "$units/multi-user.target.wants/$unit"
    # What the keeper put beside it - credentials, a folder for backups - stays.
    rm -f "$units/$unit.d/groups.conf"
    rmdir "$units/$unit.d" 2>/dev/null || true
    ! manages_services || systemctl daemon-reload
}

tell_uninstalled() {
    for folder in "$lib" "$prefix/var/lib/clutchwarden-probe" "$prefix/var/lib/clutchwarden-watcher" "$etc" \
        "$units"/clutchwarden*.service.d; do
        [ ! -d "$folder" ] || say "Left as it is: $folder ($(du -sh "$folder" | cut -f 1))"
    done
    [ -n "$prefix" ] || ! id clutchwarden >/dev/null 2>&1 ||
        say "The user clutchwarden stays too, so that no other user comes to own these files. Mosquitto is not touched."
    say "A new install takes all of it up again."
}

# Two at once would build into one folder, and each end what the other has just started. Held until this script ends.
only_one() {
    mkdir -p "$opt"
    exec 9>>"$opt/.lock"
    flock -n 9 || stop "Another install.sh is at work here. Wait until it has ended, then try again."
}

one_pass() {
    case "$verb" in
    install) install_roles ;;
    upgrade) upgrade ;;
    back) back ;;
    uninstall) uninstall ;;
    esac
}

main() {
    read_arguments "$@"
    set_paths
    check_machine
    say "This would be done:"
    one_pass
    [ "$acts" -gt 0 ] || say "- nothing; all of it is so already"
    [ -z "$dry" ] || exit 0
    [ "$acts" = 0 ] || agreed
    mode="do"
    [ "$acts" = 0 ] || only_one
    say "Now:"
    one_pass
    case "$verb" in
    install) tell_installed ;;
    uninstall) tell_uninstalled ;;
    esac
    say "Done."
}

main "$@"
