#!/bin/sh
# The rooms that run things side by side; the race detector looks at these.
for room in logbook/sqlite mixed rates compare quality task web; do
	[ -d "$(dirname "$0")/../internal/$room" ] && echo "./internal/$room/..."
done
exit 0
