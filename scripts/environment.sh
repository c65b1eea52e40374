# Sourced by scripts/demo and scripts/test: makes a virtual environment and installs into it.
# Needs Python 3.11 or newer with its venv module, and an index that pip can reach.

checkout=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)

say() { printf '%s\n' "$*" >&2; }

find_python() {
    local name
    for name in ${IDENTIFY_PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11 python py; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s\n' "$name"
            return
        fi
    done
    say "No Python 3.11 or newer was found. Install one, or name it: IDENTIFY_PYTHON=/path/to/python"
    return 1
}

# make_environment FOLDER REQUIREMENT: sets $bin to the folder of its programs.
make_environment() {
    local folder=$1 requirement=$2 python
    if [ ! -e "$folder/pyvenv.cfg" ]; then
        python=$(find_python)
        say "Making a virtual environment in $folder"
        "$python" -m venv "$folder" || {
            say "$python cannot make one; on Debian and Ubuntu its package python3-venv is missing."
            return 1
        }
    fi
    folder=$(cd "$folder" && pwd)
    bin=$folder/bin
    if [ -d "$folder/Scripts" ]; then bin=$folder/Scripts; fi # Windows
    # A folder left from an earlier build would bring deleted modules back.
    rm -rf "$checkout/build"
    say "Installing (the first time downloads about 300 MB and takes some minutes)"
    (cd "$checkout" &&
        "$bin/python" -m pip install --quiet --disable-pip-version-check \
            -c scripts/constraints.txt "$requirement")
}
