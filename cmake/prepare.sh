# Sourced by recipes/demo and tests/run: installs what is missing on a Debian machine and configures the build.
# Usage: prepare BUILD_FOLDER [cmake options …]

# What the program is built from, then what only the tests need.
build_packages="g++ cmake ninja-build tao-pegtl-dev libfmt-dev nlohmann-json3-dev libcli11-dev nettle-dev"
test_packages="doctest-dev librapidcheck-dev libboost-dev python3 python3-jsonschema python3-pymodbus python3-serial-asyncio git"

install_missing() {
    missing=""
    for package in "$@"; do
        dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null | grep -qx installed || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    echo "installing:$missing"
    as_root=""
    [ "$(id -u)" = 0 ] || as_root="sudo"
    # An old package list is enough in most cases; it is fetched anew only when it is not.
    # shellcheck disable=SC2086
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -q --no-install-recommends $missing >/dev/null 2>&1 && return 0
    $as_root apt-get update -q >/dev/null
    # shellcheck disable=SC2086
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -q --no-install-recommends $missing >/dev/null
}

prepare() {
    folder=$1
    shift
    cmake -S "$root" -B "$folder" -G Ninja "$@" >"$root/build.log" 2>&1 || { cat "$root/build.log"; exit 1; }
    rm -f "$root/build.log"
}
