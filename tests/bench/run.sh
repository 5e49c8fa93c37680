#!/usr/bin/env bash
# Builds the benchmarks and prints their figures.   bash tests/bench/run.sh [BUILD_FOLDER]   (build/bench if not given)
set -euo pipefail

cd "$(dirname "$0")/../.."
build="${1:-build/bench}"
bash .ci/install-packages.sh build run bench
cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DLUXDOSSIER_TESTS=ON -DLUXDOSSIER_BENCHMARKS=ON >/dev/null
cmake --build "$build" --target luxdossier dossier_bench csv_bench
/usr/bin/python3 -B tests/bench/run.py "$build"
