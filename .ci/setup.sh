# Sourced by start, check and .ci/run: makes .venv in the checkout from the locked lists, once per change.
# A name on the path is not enough: a version manager leaves names that do not run.
usable_python() {
    local name
    for name in python3.13 python3.12 python3.11 python3 python; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$name"
            return
        fi
    done
    return 1
}

# usage: set_up requirements.lock
set_up() {
    local list=$1 python stamp
    python=$(usable_python) || {
        echo "Feedwright needs Python 3.11 or newer: install it, then run this again." >&2
        exit 2
    }
    if [ ! -x .venv/bin/python ]; then
        echo "Making .venv with $("$python" --version) ..."
        "$python" -m venv .venv || {
            echo "This Python cannot make a virtual environment: install its 'venv' package, then run this again." >&2
            rm -rf .venv
            exit 2
        }
    fi
    stamp=$(cat requirements.lock "$list" pyproject.toml | cksum | cut -d' ' -f1)
    if [ ! -e ".venv/.set-up-$list-$stamp" ]; then
        echo "Installing what $list names (a few minutes the first time) ..."
        .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: --no-deps -r "$list"
        .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
        touch ".venv/.set-up-$list-$stamp"
    fi
    .venv/bin/python -m feedwright.toolpath.prepare
    stamp=$(cat src/feedwright/*/*kernel.py | cksum | cut -d' ' -f1)
    if [ ! -e ".venv/.compiled-$stamp" ]; then
        .venv/bin/python -m feedwright.cli.prepare
        touch ".venv/.compiled-$stamp"
    fi
}
