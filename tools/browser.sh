#!/usr/bin/env bash
# The tests open the workbench in a real browser: Debian's Chromium. Install it where we may, fail loudly where we may not.
set -eu
for name in chromium chromium-browser google-chrome; do
  command -v "$name" >/dev/null 2>&1 && exit 0
done
if command -v apt-get >/dev/null 2>&1; then
  if [ "$(id -u)" = 0 ]; then as=""; elif sudo -n true 2>/dev/null; then as="sudo -n"; else as="none"; fi
  if [ "$as" != none ]; then
    echo "installing Chromium for the browser tests (Debian package chromium)"
    $as apt-get update -qq >/dev/null && DEBIAN_FRONTEND=noninteractive $as apt-get install -y -qq chromium >/dev/null
    command -v chromium >/dev/null 2>&1 && exit 0
  fi
fi
echo "make test opens the workbench in a real browser and found none." >&2
echo "Install Chromium (on Debian: sudo apt-get install chromium) and run make test again." >&2
exit 1
