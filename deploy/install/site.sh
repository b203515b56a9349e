# Sourced by install.sh: what the keeper states (site folder, the files of agent and watcher), begun and checked.
# shellcheck shell=sh

need_site() {
    need_folder "$lib" 750 clutchwarden:clutchwarden
    [ -f "$site/site.toml" ] || act "begin a site folder in $site" begin_site
}

begin_site() {
    # The folder holds addresses and passwords: it is for the service alone.
    (umask 077 && as_service "$opt/venv/bin/clutchwarden" new "$site" >/dev/null)
    as_service mkdir -p "$site/secrets"
    as_service chmod 700 "$site" "$site/secrets"
}

need_probe_file() {
    need_folder "$etc" 750 root:clutchwarden
    [ -f "$etc/probe.toml" ] || act "write $etc/probe.toml with the sensors that are attached now" begin_probe_file
}

begin_probe_file() {
    (umask 027 && "$opt/venv/bin/clutchwarden" probe --write-config "$etc/probe.toml" >/dev/null) ||
        say "  It was not written; the line above says why. Do it later: $opt/venv/bin/clutchwarden probe --write-config $etc/probe.toml"
    [ -f "$etc/probe.toml" ] || return 0
    # Beside the file nothing can be written by the service.
    sed -i "s|^# folder = \"spool\" .*|folder = \"/var/lib/clutchwarden-probe/spool\"|" "$etc/probe.toml"
    give_to_service "$etc/probe.toml"
    # The agent takes a password only from a file that nobody but its own user may read. One with a password in it may be
    # a credential, which is for root alone.
    for file in "$etc"/*-password; do
        [ ! -f "$file" ] || [ -s "$file" ] || own clutchwarden:clutchwarden "$file"
    done
}

# Changed by root alone, read by the service.
give_to_service() {
    own root:clutchwarden "$1"
    chmod 640 "$1"
}

need_watch_file() {
    need_folder "$etc" 750 root:clutchwarden
    [ -f "$etc/watch.toml" ] || act "write $etc/watch.toml, an example to change" begin_watch_file
}

begin_watch_file() {
    install -m 640 "$tree/config/example/watch.toml" "$etc/watch.toml"
    sed -i "s|^# state_file = [^ ]* *|state_file = \"/var/lib/clutchwarden-watcher/watch.state.json\"   |" "$etc/watch.toml"
    give_to_service "$etc/watch.toml"
}

# Whether what is stated can be used by a program: role, its clutchwarden. Says what is wrong.
accepts() {
    case "$1" in
    daemon) as_service "$2" check "$site" ;;
    probe) as_service "$2" probe --check "$etc/probe.toml" ;;
    watcher) as_service "$2" watch --check "$etc/watch.toml" ;;
    esac
}

next_steps() { # role
    case "$1" in
    daemon)
        say "  1. Say what you have in $site/site.toml (sudo -e $site/site.toml), then: sudo clutchwarden check"
        say "  2. sudo systemctl restart clutchwarden"
        say "  3. sudo clutchwarden access first    gives a code, with which you make the first account at the pages"
        ;;
    probe)
        say "  1. On the daemon's machine: sudo clutchwarden probe enroll ID    says what goes into $etc/probe.toml, ca.pem and a password's file"
        say "  2. Each password's file: sudo install -m 600 -o clutchwarden /dev/stdin $etc/ID-password    type it, Enter, then Ctrl-D"
        say "  3. sudo clutchwarden probe --check $etc/probe.toml"
        say "  4. sudo systemctl restart clutchwarden-probe"
        ;;
    watcher)
        say "  1. Say in $etc/watch.toml whom it tells, then: sudo clutchwarden watch --check $etc/watch.toml"
        say "  2. sudo systemctl restart clutchwarden-watcher"
        ;;
    esac
}
