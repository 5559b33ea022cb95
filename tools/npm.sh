#!/usr/bin/env bash
# Run npm: the machine's own when it has one, else the one a Python wheel carries (pinned, into .venv).
set -eu
cd "$(dirname "$0")/.."
if command -v npm >/dev/null 2>&1; then
  exec npm "$@"
fi
if [ ! -x .venv/bin/npm ]; then
  echo "npm is not on this machine; bringing one into .venv as a Python wheel"
  .venv/bin/python -m pip install --quiet --require-hashes -r locks/node.txt
fi
PATH="$PWD/.venv/bin:$PATH" exec .venv/bin/npm "$@"
