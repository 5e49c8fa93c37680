#!/usr/bin/env bash
# Builds luxdossier with its tests and runs them: once as the machine is set, once with a decimal comma and another zone.
#   bash tests/run.sh [-R PATTERN ...]      arguments go to ctest
set -euo pipefail

cd "$(dirname "$0")/.."
jobs="$(nproc)"
build=build/test
times=()

stage() {  # stage NAME COMMAND...: runs it and notes its time
    local name="$1" begin="$SECONDS"
    shift
    echo "== $name"
    "$@"
    times+=("$(printf '%-46s %4d s' "$name" "$((SECONDS - begin))")")
}

configure() {
    cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DLUXDOSSIER_TESTS=ON \
        -DLUXDOSSIER_BENCHMARKS=ON -DLUXDOSSIER_WARNINGS_AS_ERRORS=ON
}

compile() { cmake --build "$build" --parallel "$jobs"; }

run_tests() { ctest --test-dir "$build" --parallel "$jobs" --output-on-failure --no-tests=error "$@"; }

# A locale of our own in the build folder: nothing is installed, and no root is needed.
make_comma_locale() {
    mkdir -p "$build/locales"
    [ -e "$build/locales/de_DE.UTF-8" ] || localedef -i de_DE -f UTF-8 "$PWD/$build/locales/de_DE.UTF-8"
    local mark
    mark="$(LOCPATH="$PWD/$build/locales" LC_ALL=de_DE.UTF-8 locale decimal_point)"
    [ "$mark" = "," ] || { echo "the locale de_DE.UTF-8 has the decimal mark '$mark', expected ','" >&2; exit 1; }
    echo "decimal mark of de_DE.UTF-8: $mark"
}

# All but those that run the program a thousand times for its numbers: other tests print the same numbers here.
run_tests_elsewhere() {
    LOCPATH="$PWD/$build/locales" LC_ALL=de_DE.UTF-8 LANG=de_DE.UTF-8 TZ=Australia/Adelaide \
        run_tests --exclude-regex "whole_coverage|workbook_edit" "$@"
}

stage "packages" bash .ci/install-packages.sh build run test
stage "configure" configure
stage "compile, $jobs at a time" compile
stage "tests" run_tests "$@"
stage "locale with a decimal comma" make_comma_locale
stage "tests, decimal comma, zone UTC+9:30/+10:30" run_tests_elsewhere "$@"

echo
echo "All tests passed. Where the time went:"
printf '  %s\n' "${times[@]}"
printf '  %-46s %4d s\n' "in all" "$SECONDS"
