#!/bin/sh
# Installs the Debian packages of packages.txt, and with the word "checks" those of packages-checks.txt too. May be run again at any time;
# does nothing when all are there.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
case "${1:-}" in
  "") lists="$here/packages.txt" ;;
  checks) lists="$here/packages.txt $here/packages-checks.txt" ;;
  *) echo "Usage: setup.sh [checks]" >&2; exit 2 ;;
esac
# shellcheck disable=SC2086  # a list of files
packages=$(sed 's/#.*//' $lists)

missing=
for p in $packages; do
  [ "$(dpkg-query -W -f '${db:Status-Status}' "$p" 2>/dev/null || true)" = installed ] || missing="$missing $p"
done
if [ -z "$missing" ]; then
  echo "All packages are installed."
  exit 0
fi

as_root=
if [ "$(id -u)" != 0 ]; then
  command -v sudo >/dev/null 2>&1 || { echo "Run this as root, or install sudo. Missing:$missing" >&2; exit 1; }
  as_root=sudo
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -q
# shellcheck disable=SC2086  # a list of names
$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
