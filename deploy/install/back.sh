# Sourced by install.sh: back to the program before, by itself within an upgrade that fails, or by hand.
# shellcheck shell=sh

# Services are ended, or will be: neither a lost terminal nor a second Ctrl-C may leave them so.
to_its_end() {
    trap '' INT TERM HUP PIPE
}

go_back() { # why
    to_its_end
    trap 'rm -rf "$scratch"' EXIT
    say "  Going back to $old: $1"
    for role in $were_running; do
        end_service "$role" || true
    done
    # Whatever fails here, the services start again: what they watch does not wait.
    [ -z "$moved" ] || put_back ||
        say "  Not all of $old could be put back; the lines above say why. What was before is kept: $records, $before"
    for role in $were_running; do
        start_service "$role" || say "  $(unit_of "$role") does not start with $old either; see: journalctl -u $(unit_of "$role")"
    done
    rm -f "$records/upgrade" "$opt/were-running"
    used=$(in_use)
    [ "$used" = "$old" ] || stop "The upgrade did not work, nor did going back: $used is in use: $1. $(running_after)"
    stop "The upgrade did not work, and $old is in use again: $1. $(running_after)"
}

# Program, units, and the journal where the newer program has brought it up to date. As much of it as goes; false where
# something does not.
put_back() {
    use "$old" || return 1
    whole=0
    for role in $roles; do
        [ ! -f "$records/units/$(unit_of "$role")" ] ||
            put_now "$records/units/$(unit_of "$role")" "$units/$(unit_of "$role")" 644 || whole=1
    done
    ! manages_services || systemctl daemon-reload || whole=1
    put_journal_back || whole=1
    return "$whole"
}

put_journal_back() {
    [ -f "$before/at-the-switch.sqlite3" ] || return 0
    # One that cannot be read was not brought up to date for certain, and what is wrong with it would befall the copy too.
    read_schema || { say "  So the journal is left as it is. The copy from the switch: $before/at-the-switch.sqlite3" && return 0; }
    [ "$schema" = "$schema_old" ] || exchange_journals
}

read_schema() { # of the journal that is stated now
    journal=$(ask_facts journal "$site") && schema=$(ask_facts schema "$journal") && is_number "$schema"
}

# The copy is whole beside the journal before that is moved: without a journal the old program would begin an empty one.
exchange_journals() {
    coming=$(free_name "$journal.put-back")
    aside=$(free_name "$before/journal-of-${name#venv-}.sqlite3")
    if ask_facts copy "$before/at-the-switch.sqlite3" "$coming" && move_aside && as_service mv "$coming" "$journal"; then
        say "  The journal is again as it was when the old program ended. What the newer one stored after that is not in it, but kept: $aside"
    else
        as_service rm -f "$coming"
        move_here_again
        say "  The journal could not be put back; the lines above say why. The copy from the switch: $before/at-the-switch.sqlite3"
        return 1
    fi
}

# Its log may hold most of it, and must never lie beside another journal: all of it, or nothing.
move_aside() {
    for end in -wal -shm ""; do
        [ ! -f "$journal$end" ] || as_service mv "$journal$end" "$aside$end" || return 1
    done
}

move_here_again() {
    for end in "" -wal -shm; do
        [ ! -f "$aside$end" ] || [ -f "$journal$end" ] || as_service mv "$aside$end" "$journal$end" || true
    done
}

# By hand, also days later.
back() {
    name=$(in_use)
    [ -n "$name" ] || stop "Nothing is installed in $opt."
    records=$opt/before-$name
    [ -f "$records/upgrade" ] || stop "No upgrade to $name is on record in $opt, so there is nothing to go back to."
    recall old && recall schema_old && recall schema_new && recall copies
    before=$lib/$copies
    [ -d "$opt/$old" ] || stop "$opt/$old is not there any more. Install that version from its own folder, then try again."
    roles=$(installed_roles)
    if [ "$schema_old" != "$schema_new" ] && [ "$mode" = plan ]; then
        say "The journal of $name (schema $schema_new) cannot be read by $old (schema $schema_old). What was stored since the upgrade -"
        say "readings, clutches, rounds, alarms - is put aside and seen no more. The restored journal ends where $old ended."
    fi
    act "end $(running_words), go back to $old, and start again" back_now
}

recall() { # key: from the record of the upgrade
    value=$(sed -n "s/^$1=//p" "$records/upgrade")
    case "$value" in
    "" | .* | -* | *[!A-Za-z0-9.+_-]*) stop "$records/upgrade cannot be read: it has no usable $1." ;;
    esac
    eval "$1=\$value"
}

back_now() {
    may_go_back
    to_its_end
    note_running
    failing=""
    for role in $were_running; do
        end_service "$role" || failing="$failing $role does not end;"
    done
    put_back || failing="$failing not all of $old could be put back, the lines above say why;"
    # Each of them, whatever became of the others.
    for role in $were_running; do
        start_service "$role" || failing="$failing $(unit_of "$role") does not start, see: journalctl -u $(unit_of "$role");"
    done
    [ -z "$failing" ] || stop "Going back to $old did not work:$failing $(running_after)"
    mv "$records/upgrade" "$records/upgrade-taken-back"
    rm -f "$opt/were-running"
    say "$old is in use again. $(running_after)"
}

# Asked before anything is ended.
may_go_back() {
    [ "$schema_old" != "$schema_new" ] || return 0
    read_schema || stop "The journal cannot be read; the line above says why. Nothing was done, and $name goes on. Mend that, then try again."
    [ "$schema" = "$schema_old" ] || [ -f "$before/at-the-switch.sqlite3" ] ||
        stop "$old cannot read the journal as it is now, and the copy to go back to is not there any more:" \
            "$before/at-the-switch.sqlite3. Nothing was done, and $name goes on."
}
