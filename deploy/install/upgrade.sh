# Sourced by install.sh: a newer program in place of the one in use. The way back is in back.sh.
# shellcheck shell=sh
# Migrations of the journal go forward only. So before them there is a copy, and going back puts the copy in place again.

upgrade() {
    old=$(in_use)
    [ -n "$old" ] || stop "Nothing is installed in $opt yet. Run: sh deploy/install.sh daemon"
    roles=$(installed_roles)
    if is_built "$old"; then
        name=$old
        say "The program in $opt/$old is what this folder has."
        need_command
        # Last, for $written is about units then: no service starts again for a README.
        # shellcheck disable=SC2086
        need_units $roles
        [ -z "$written" ] || for role in $(running_roles); do
            act "start $(unit_of "$role") again, by its new unit" start_service "$role"
        done
        start_what_was_cut_short
        return 0
    fi
    choose_name
    need_environments
    need_program
    plan_copies
    act "ask the new program whether it can use what is stated, with a copy of the journal; nothing is changed so far" try_all
    act "end $(running_words), put $name in the place of $old, start again, and wait until all of it is ready; else go back to $old" change_over
    clear_older "$old" "$name"
    [ "$mode" = plan ] || tell_upgrade
}

installed_roles() {
    for role in daemon probe watcher; do
        ! is_installed "$role" || printf '%s ' "$role"
    done
}

# An upgrade that is killed in the middle, or loses its power, has ended services that nobody else would start again. So
# what it ends stands in a file until it is through.
roles_to_run() {
    words=$(running_roles)
    [ ! -f "$opt/were-running" ] || words="$words $(cat "$opt/were-running")"
    for role in daemon probe watcher; do
        case " $words " in *" $role "*) printf '%s ' "$role" ;; esac
    done
}

note_running() {
    were_running=$(roles_to_run)
    printf '%s\n' "$were_running" >"$opt/were-running"
}

start_what_was_cut_short() {
    [ -f "$opt/were-running" ] || return 0
    for role in $(roles_to_run); do
        is_running "$role" || act "start $(unit_of "$role"), which an upgrade that was cut short had ended" start_or_say "$role"
    done
    [ "$mode" = plan ] || rm -f "$opt/were-running"
}

running_words() {
    words=$(roles_to_run)
    printf '%s' "${words:-nothing, for no service runs here}" | sed 's/ *$//'
}

ask_facts() { # of stated.py, by the interpreter of the program in use, as the service
    as_service "$opt/$old/bin/python" "$facts_program" "$@"
}

has_journal() {
    [ -f "$site/site.toml" ] && journal=$(ask_facts journal "$site") && [ -f "$journal" ]
}

# Where the copy goes: to the folder of backups where one is stated, else into a folder beside the site. That one and all
# in it is the service's, and so only the service writes there: what lies there may be links. What root goes by itself,
# the units and the record of the upgrade, is in a folder of root's.
plan_copies() {
    records=$opt/before-$name
    before=$(free_name "$lib/before-${old#venv-}")
    has_journal || return 0
    backups=$(ask_facts backups "$site") || stop "$site/settings.toml cannot be read. Run: clutchwarden check $site"
    act "back up the journal, checked as a whole, to ${backups:-$before}" back_up
}

back_up() {
    as_service mkdir -m 700 "$before" || stop "$before cannot be made, so nothing is changed: $old goes on."
    program=$opt/$old/bin/clutchwarden
    if [ -n "$backups" ]; then
        as_service "$program" backup --site "$site" || no_backup
    else
        as_service env CLUTCHWARDEN_BACKUP__FOLDER="$before" "$program" backup --site "$site" --set-up "$before" >/dev/null || no_backup
        as_service env CLUTCHWARDEN_BACKUP__FOLDER="$before" "$program" backup --site "$site" || no_backup
    fi
    backup=$(ask_facts newest "${backups:-$before}")
    [ -f "$backup/journal.sqlite3" ] || no_backup
}

no_backup() {
    as_service rm -rf "${before:?}"
    stop "No backup was made, so nothing is changed: $old goes on. Mend what the lines above name, then try again."
}

try_all() {
    schema_old=0 schema_new=0
    for role in $roles; do
        case "$role" in
        daemon) try_site ;;
        probe) try_file probe "$etc/probe.toml" ;;
        watcher) try_file watcher "$etc/watch.toml" ;;
        esac
    done
}

# A file that the old program cannot use either, one that was only begun, is no reason against the new one.
try_file() { # role, file
    if [ ! -f "$2" ] || accepts "$1" "$opt/$name/bin/clutchwarden"; then
        return 0
    fi
    ! accepts "$1" "$opt/$old/bin/clutchwarden" >/dev/null 2>&1 || refused "$2"
    say "  $old cannot use $2 either, so the upgrade goes on."
}

# The new program's check brings the journal that it reads up to date, which must not be the one in use.
try_site() {
    [ -f "$site/site.toml" ] || return 0
    if ! has_journal; then
        accepts daemon "$opt/$name/bin/clutchwarden" || refused "$site"
        return 0
    fi
    need_room 3
    trial=$before/trial.sqlite3
    ask_facts copy "$backup/journal.sqlite3" "$trial" || give_up "the backup cannot be copied for a trial."
    schema_old=$(ask_facts schema "$trial") && is_number "$schema_old" || give_up "the copy of the journal cannot be read."
    as_service env CLUTCHWARDEN_STORAGE__JOURNAL="$trial" "$opt/$name/bin/clutchwarden" check "$site" || refused "$site"
    schema_new=$(ask_facts schema "$trial") && is_number "$schema_new" && [ "$schema_new" -ge "$schema_old" ] ||
        give_up "the copy of the journal cannot be read after the trial."
    as_service rm -f "$trial" "$trial-wal" "$trial-shm" "$before/trial.backup.lock"
}

need_room() { # so many times the size of the journal
    size_kb=$(du -k "$journal" | head -n 1 | cut -f 1)
    free_kb=$(df -Pk "$before" | tail -n 1 | awk '{ print $4 }')
    [ "$free_kb" -gt $((size_kb * $1 + 50000)) ] ||
        give_up "there is not enough room for the copies of the journal in $before: $free_kb kB are free, $((size_kb * $1 + 50000)) kB are needed."
}

refused() { # what
    give_up "the new program cannot use $1 as it is; the lines above say why."
}

give_up() { # why
    # The journal is what it was, so the copies are not needed; a backup in the folder of backups stays.
    as_service rm -rf "${before:?}"
    rm -rf "${opt:?}/$name"
    stop "Nothing is changed, and $old goes on: $1"
}

change_over() {
    note_running
    keep_units
    moved=""
    # From here to the end of this function every way out that is no success goes back.
    trap 'go_back "it was interrupted"' EXIT
    trap 'exit 1' INT TERM HUP
    for role in $were_running; do
        end_service "$role"
    done
    copy_at_the_switch || { go_back "the journal could not be copied once more"; }
    write_record
    moved=yes
    use "$name"
    # shellcheck disable=SC2086
    need_units $roles >/dev/null
    need_command >/dev/null
    for role in $were_running; do
        start_service "$role" || go_back "$(unit_of "$role") did not become ready with it; see: journalctl -u $(unit_of "$role")"
    done
    trap - EXIT INT TERM HUP
    trap 'rm -rf "$scratch"' EXIT
    rm -f "$opt/were-running"
    # Nothing is in it where backups have a folder of their own and the journal is as before.
    [ ! -d "$before" ] || as_service rmdir --ignore-fail-on-non-empty "$before" || true
}

# What came in since the backup has been acknowledged to the broker: the copy to go back to has to hold it too.
copy_at_the_switch() {
    [ "$schema_new" = "$schema_old" ] || ask_facts copy "$journal" "$before/at-the-switch.sqlite3"
}

keep_units() {
    rm -rf "${records:?}"
    mkdir -p "$records/units"
    for role in $roles; do
        cp -p "$units/$(unit_of "$role")" "$records/units/"
    done
}

write_record() {
    cat >"$records/upgrade" <<TEXT
old=$old
new=$name
copies=${before##*/}
schema_old=$schema_old
schema_new=$schema_new
TEXT
}

running_after() {
    words=$(running_roles)
    if [ -n "$words" ]; then say "Running: $words"; else say "No service runs."; fi
}

tell_upgrade() {
    say "$name is in use. $(running_after)"
    if [ "$schema_new" != "$schema_old" ]; then
        say "It brought the journal from schema $schema_old to $schema_new, which $old cannot read. To go back: sh deploy/install.sh back"
        say "The journal is then as it was at the switch ($before/at-the-switch.sqlite3), and everything since is not in it."
    else
        say "The journal is as before; sh deploy/install.sh back goes back to $old and loses nothing."
    fi
    say "Needed for that: $opt/$old and $records"
    for folder in "$lib"/before-*; do
        [ ! -d "$folder" ] || say "Copies of an earlier state, to be removed when they are not wanted any more: $folder ($(du -sh "$folder" | cut -f 1))"
    done
}
