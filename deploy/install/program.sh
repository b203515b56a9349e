# Sourced by install.sh: the program in an environment of its own, one folder for each version, and which one is in use.
# shellcheck shell=sh

version_of_tree() {
    sed -n 's/^version = "\([^"]*\)"$/\1/p' "$tree/pyproject.toml" | head -n 1
}

# What a build is made of, in one code: the same version may come with other content before it is released.
code_of_source() {
    if [ -n "$wheels" ]; then
        (cd "$wheels" && sha256sum clutchwarden-"$version"-*.whl)
    else
        (cd "$tree" && find config sensors daemon dashboards pyproject.toml deploy/constraints.txt -type f \
            ! -path '*/__pycache__/*' -print | LC_ALL=C sort | xargs sha256sum)
    fi | sha256sum | cut -c 1-64
}

check_python() {
    command -v "$python" >/dev/null 2>&1 || stop "$python is not here. Install it (apt-get install python3), or name one with --python."
    "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
        stop "$("$python" --version) is too old: 3.11 or newer is needed, as Debian 12 has it. Name one with --python."
}

check_wheels() {
    [ -n "$wheels" ] || return 0
    set -- "$wheels"/clutchwarden-"$version"-*.whl
    [ -f "$1" ] || stop "$wheels has no clutchwarden-$version-...whl. Make it on a machine with a network and the same kind of" \
        "processor: python3 -m pip wheel --wheel-dir DIR --constraint deploy/constraints.txt ."
}

can_make_environments() {
    "$python" -c 'import ensurepip, venv' 2>/dev/null
}

need_environments() {
    can_make_environments || act "install the Debian package python3-venv" install_package python3-venv
}

install_package() {
    env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$1" >/dev/null ||
        stop "apt-get could not install $1. Run apt-get update, then this again."
}

in_use() { # the name of the environment in use, such as venv-0.1.0; nothing where there is none
    [ ! -L "$opt/venv" ] || basename "$(readlink "$opt/venv")"
}

is_built() { # name: finished, from what is to be installed now
    [ -f "$opt/$1/built-from" ] && [ "$(cat "$opt/$1/built-from")" = "$code" ]
}

# The version, or the version with a number where another build of it is in use or finished.
choose_name() {
    name=venv-$version
    number=2
    while [ -f "$opt/$name/built-from" ] && ! is_built "$name"; do
        name=venv-$version.$number
        number=$((number + 1))
    done
}

need_program() {
    if is_built "$name"; then
        return 0
    fi
    if [ -n "$wheels" ]; then from="the wheels in $wheels, without a network"; else from="this folder, what it needs from pip's index"; fi
    act "make a Python environment in $opt/$name, and install clutchwarden $version there from $from" build
}

build() {
    rm -rf "${opt:?}/$name"
    mkdir -p "$opt/.tmp"
    if ! (umask 022 && build_in "$opt/$name"); then
        rm -rf "${opt:?}/$name" "$opt/.tmp"
        stop "clutchwarden $version could not be installed into $opt/$name; the lines above say why. What was there before is as it was."
    fi
    rm -rf "$opt/.tmp"
    printf '%s\n' "$code" >"$opt/$name/built-from"
}

# A shell does not end by itself at a mistake within a condition: each step here is one.
build_in() { # folder
    "$python" -m venv "$1" || return 1
    if [ -n "$wheels" ]; then
        pip_install "$1" --no-index --find-links "$wheels" "clutchwarden==$version" || return 1
    else
        # A copy: a build would leave its own files in the tree, and take in what an earlier one had left there.
        mkdir "$opt/.tmp/tree" || return 1
        for part in config sensors daemon dashboards pyproject.toml README.md LICENSE; do
            cp -R "$tree/$part" "$opt/.tmp/tree/" || return 1
        done
        pip_install "$1" "$opt/.tmp/tree" || return 1
    fi
    "$1/bin/clutchwarden" --version
}

pip_install() { # folder, what
    environment=$1
    shift
    # Always the pip of that environment: the system's own Python is left alone. On a small board /tmp is memory, and pip
    # unpacks there what may be larger than that.
    TMPDIR=$opt/.tmp "$environment/bin/python" -m pip install --quiet --no-cache-dir --disable-pip-version-check --no-input \
        --root-user-action ignore --constraint "$tree/deploy/constraints.txt" "$@"
}

use() { # name: from now on this one is meant by /opt/clutchwarden/venv
    ln -sfn "$1" "$opt/.venv.new"
    mv -fT "$opt/.venv.new" "$opt/venv"
}

need_use() {
    [ "$(in_use)" = "$name" ] ||
        act "let $opt/venv lead to $name" use "$name"
}

# The one in use and the one before it stay; others are only room on the disk.
clear_older() { # the two names that stay
    for each in "$opt"/venv-*; do
        case "$(basename "$each")" in
        "$1" | "$2" | "venv-*") ;;
        *) act "remove the older program $each" rm -rf "$each" ;;
        esac
    done
}
