#!/bin/sh
# Writes the hashed locks again from pyproject.toml and the .in files. Needs uv.
set -eu
cd "$(dirname "$0")/.."
lock() { uv pip compile --universal --python-version 3.11 --generate-hashes --no-header --quiet "$@"; }
lock pyproject.toml -o requirements/run.txt
lock pyproject.toml --extra office -c requirements/run.txt -o requirements/office.txt
lock pyproject.toml --extra office --extra cloud --extra cluster --extra sheets requirements/test.in -o requirements/test.txt
lock requirements/docs.in -o requirements/docs.txt
