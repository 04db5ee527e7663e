#!/bin/sh
# The page tests open Debian's Chromium. Install it where apt is at hand; without it they skip and say so.
set -u
if command -v chromium >/dev/null 2>&1; then exit 0; fi
if ! command -v apt-get >/dev/null 2>&1; then
  echo "no Chromium and no apt-get: the page tests will be skipped"; exit 0
fi
SUDO=""; [ "$(id -u)" = 0 ] || SUDO="sudo -n"
$SUDO apt-get update -qq && DEBIAN_FRONTEND=noninteractive $SUDO apt-get install -y -qq chromium fonts-dejavu-core >/dev/null \
  || echo "Chromium could not be installed: the page tests will be skipped"
