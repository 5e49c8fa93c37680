#!/usr/bin/env bash
# Installs those of the packages in .ci/debian-packages.txt that are missing. Arguments: the kinds wanted (build, run, test, bench).
set -euo pipefail

list="$(dirname "$0")/debian-packages.txt"
missing=()
while read -r package kind _; do
    case "$package" in ''|'#'*) continue ;; esac
    case " $* " in *" $kind "*) ;; *) continue ;; esac
    if ! dpkg-query --show --showformat='${db:Status-Abbrev}' "$package" 2>/dev/null | grep -q '^.i'; then
        missing+=("$package")
    fi
done < "$list"

if [ "${#missing[@]}" -eq 0 ]; then
    echo "packages: all there"
    exit 0
fi
echo "packages: installing ${missing[*]}"
as_root=()
if [ "$(id -u)" -ne 0 ]; then
    if ! command -v sudo >/dev/null; then
        echo "packages: neither root nor sudo; ask an administrator to install: ${missing[*]}" >&2
        exit 1
    fi
    as_root=(sudo)
fi
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get update -qq
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
echo "packages: done"
