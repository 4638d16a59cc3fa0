#!/bin/sh
# Before the package goes, and not before it is replaced: the service is stopped. What
# it stored under /var/lib/weighbeam stays, also when the package is purged.
set -e
[ -d /run/systemd/system ] || exit 0
if [ "$1" = remove ]; then
  systemctl disable --now weighbeam.service
fi
