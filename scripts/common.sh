# shellcheck shell=sh
# Sourced first by every script: goes to the project root, and clears from the
# environment what would turn Python or pip away from .venv. What says where
# packages come from (an index, a certificate, a proxy) stays.

unset CDPATH
cd -- "$(dirname -- "$0")/.." || exit

for name in $(env | sed -n 's/^\(PIP_[A-Z0-9_]*\)=.*/\1/p'); do
    case $name in
        PIP_CACHE_DIR | PIP_CERT | PIP_CLIENT_CERT | PIP_CONFIG_FILE | PIP_DEFAULT_TIMEOUT | PIP_EXTRA_INDEX_URL) ;;
        PIP_FIND_LINKS | PIP_INDEX_URL | PIP_KEYRING_PROVIDER | PIP_NO_CACHE_DIR | PIP_NO_INDEX | PIP_PROXY) ;;
        PIP_RETRIES | PIP_TRUSTED_HOST) ;;
        *) unset "$name" ;;
    esac
done
unset name
unset VIRTUAL_ENV PYTHONPATH PYTHONHOME PYTHONUSERBASE PYTHONSTARTUP PYTHONINSPECT PYTHONOPTIMIZE PYTHONWARNINGS
unset PYTHONSAFEPATH PYTHONPLATLIBDIR __PYVENV_LAUNCHER__

# These win over a pip configuration file: every version is pinned by hash, so
# outside constraints could only get in the way.
export PIP_CONSTRAINT=/dev/null PIP_USER=0 PIP_NO_INPUT=1 PIP_DISABLE_PIP_VERSION_CHECK=1

say() {
    printf '%s\n' "$*" >&2
}

# Sets $python to the first Python 3.11 or newer that runs and has the given
# modules. It is the interpreter itself that is named, never a version
# manager's stand-in and never the python of a virtual environment, which may
# be the very .venv that is about to be made anew.
find_python() {
    for candidate in "${PYTHON-}" python3.14 python3.13 python3.12 python3.11 python3; do
        [ -n "$candidate" ] || continue
        python=$("$candidate" -I -c '
import sys
assert sys.version_info >= (3, 11) and sys.implementation.name == "cpython"
print(getattr(sys, "_base_executable", None) or sys.executable)
' 2>/dev/null </dev/null) || continue
        if "$python" -I -c "import $1" >/dev/null 2>&1 </dev/null; then
            return 0
        fi
    done
    return 1
}
