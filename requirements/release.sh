#!/bin/sh
# Builds the sdist, the wheel from it, installs the wheel into an empty environment from the hashed lock, and runs the main job there from
# a folder of its own. What is built lies in dist/. Takes a few minutes.
set -eu
cd "$(dirname "$0")/.."
python=${PYTHON:-python3}
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
rm -rf dist
"$python" -m venv "$place/build"
"$place/build/bin/python" -m pip install --quiet --disable-pip-version-check build
"$place/build/bin/python" -m build --outdir dist .
"$python" -m venv "$place/empty"
"$place/empty/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
"$place/empty/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps dist/*.whl
"$place/empty/bin/python" -m pip check
mkdir "$place/anywhere"
cd "$place/anywhere"
"$place/empty/bin/overwood" --version
"$place/empty/bin/overwood" demo
"$place/empty/bin/overwood" where --book demo-out/vesperlick.sqlite3
"$place/empty/bin/overwood" backup --drill --book demo-out/vesperlick.sqlite3
