#!/bin/sh
# Makes utm.csv by GeoConvert of GeographicLib 2.1.2 (Debian geographiclib-tools):
# UTM to a nanometre and the grid reference to 1 m. Needs python3. Usage: sh make.sh [LINES]
set -e
tmp=$(mktemp -d)
python3 - "${1:-150}" >"$tmp/in" <<'P'
import random, sys, math
r = random.Random(31)
for i in range(int(sys.argv[1])):
    print("%.10f %.10f" % (r.uniform(-79.9, 83.9), r.uniform(-180, 179.99)))
for a, o in ((60, 4.5), (63.9, 3.0001), (55.999, 4), (73, 8.9), (73, 9.1), (80, 20.9), (80, 21.1), (80, 32.9), (83.5, 33.1), (0.0001, 3.5), (-0.0001, 3.5),
             (36.9512, -8.2034), (-33.85, 151.2), (40, -179.999), (71.99, 10)):
    print("%.10f %.10f" % (a, o))
P
GeoConvert -u -p 9 --input-file "$tmp/in" >"$tmp/u"
GeoConvert -m -p 0 --input-file "$tmp/in" >"$tmp/m"
echo "lat,lon,zone,easting,northing,mgrs" >utm.csv
paste -d ' ' "$tmp/in" "$tmp/u" "$tmp/m" | awk '{print $1","$2","$3","$4","$5","$6}' >>utm.csv
rm -r "$tmp"
