# Sourced by install.sh: what it says, and how it does nothing before it has been said.
# shellcheck shell=sh
# $mode is "plan" (say), or "do" (say, and do). Everything that changes this machine goes through act.

# A terminal that is gone can show nothing, which must not end what brings services back.
say() {
    printf '%s\n' "$*" || true
}

stop() { # a sentence: what, why, what to do
    printf 'install.sh: %s\n' "$*" >&2
    exit 1
}

slip() { # what was typed is wrong
    printf 'install.sh: %s\nTry: sh deploy/install.sh --help\n' "$*" >&2
    exit 2
}

act() { # a sentence, then the command with its arguments
    say "- $1"
    acts=$((acts + 1))
    shift
    # What is started by it, and stays, must not hold the lock of this script.
    [ "$mode" = plan ] || "$@" 9>&-
}

agreed() { # asks once, between the plan and the doing
    [ -z "$yes" ] || return 0
    [ -t 0 ] || stop "Nobody is there to be asked, and nothing was done. Give --yes to agree to all of the above."
    printf 'Do all of this? [y/N] '
    read -r answer || answer=""
    case "$answer" in
    y | Y | yes | Yes) return 0 ;;
    esac
    say "Nothing was done."
    exit 0
}

# One file in its place, with the mode given; one that says the same already is left alone, so that nothing is done twice.
put() { # from, to, mode
    if [ -f "$2" ] && cmp -s "$1" "$2"; then
        return 0
    fi
    written=yes
    act "write $2" put_now "$1" "$2" "$3"
}

put_now() {
    mkdir -p "$(dirname "$2")"
    install -m "$3" "$1" "$2.new"
    mv -f "$2.new" "$2"
}

is_number() {
    case "$1" in
    "" | *[!0-9]*) return 1 ;;
    esac
}

free_name() { # the first of NAME, NAME.2, NAME.3 ... that is not there
    free=$1
    number=2
    # A link that leads nowhere is there too.
    while [ -e "$free" ] || [ -L "$free" ]; do
        free=$1.$number
        number=$((number + 1))
    done
    printf '%s\n' "$free"
}
