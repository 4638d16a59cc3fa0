#!/bin/sh
# After the package was installed: systemd learns of the service, and one that runs
# already goes on with the new program. Nothing is started that nobody asked for.
set -e
[ -d /run/systemd/system ] || exit 0
systemctl daemon-reload
if [ "$1" = configure ] && [ -n "$2" ]; then
  systemctl try-restart weighbeam.service
fi
