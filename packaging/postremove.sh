#!/bin/sh
# What clients and therapists recorded is theirs: removing the program, also with
# purge, which begins with a removal, leaves it where it is and says where.
set -e
case "$1" in
remove)
  for data in /root/.local/share/volar /home/*/.local/share/volar; do
    if [ -d "$data" ]; then
      echo "volar: the recorded sessions are still in $data; remove that folder to delete them for good."
    fi
  done
  ;;
esac
