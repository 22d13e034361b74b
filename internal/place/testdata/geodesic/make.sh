#!/bin/sh
# Makes inverse.csv and direct.csv: reference geodesics by GeodSolve of
# GeographicLib 2.1.2 (Debian package geographiclib-tools), series method for
# "series", elliptic integrals (-E), an independent method, for "exact".
# Needs geographiclib-tools and python3. Usage: sh make.sh [LINES [SEED]]
set -e
n=${1:-60}; seed=${2:-20260701}
tmp=$(mktemp -d)
python3 - "$n" "$seed" >"$tmp/inv" <<'P'
import random, sys, math
n, seed = int(sys.argv[1]), int(sys.argv[2]); r = random.Random(seed)
def lat(): return math.degrees(math.asin(r.uniform(-1, 1)))
def lon(): return r.uniform(-180, 180)
out = []
for i in range(n):
    out.append((lat(), lon(), lat(), lon()))                                    # anywhere
    a, o = lat(), lon(); out.append((a, o, -a + r.gauss(0, .3), o + 180 + r.gauss(0, .4)))  # near-antipodal
    out.append((0, lon(), 0, lon()))                                            # equatorial
    o = lon(); out.append((lat(), o, lat(), o))                                 # meridional
    a, o = lat(), lon(); out.append((a, o, a + r.gauss(0, 3e-5), o + r.gauss(0, 3e-5)))     # metres
    a, o = lat(), lon(); out.append((a, o, a + r.gauss(0, 3e-2), o + r.gauss(0, 3e-2)))     # kilometres
    a, o = lat(), lon(); out.append((a, o, -a, o + 180 - 10**r.uniform(-9, 0)))  # antipodal line
    a = lat(); out.append((a, 179.9999, a + r.gauss(0, .001), -179.9999))        # across 180
    out.append((0, 0, 10**r.uniform(-12, 0), 179.4 + r.uniform(0, .6)))          # near the equatorial cut
    a, o = lat(), lon(); out.append((a, o, a, o + r.uniform(0, 180)))            # same parallel
out += [(40.6, -73.8, 51.6, -0.5), (-30, 0, 29.9, 179.8), (-30, 0, 30, 180), (0, 0, 0, 179), (0, 0, 0, 179.5),
        (0, 0, 0.5, 179.5), (90, 0, -90, 0), (90, 10, 45, 20), (-90, 5, -89.99999, 100), (0, 0, 0, 180), (89.999999, 0, 89.999999, 180)]
for t in out:
    a, b, c, d = t
    c = max(-90, min(90, c))
    d = (d + 180) % 360 - 180
    print("%.13f %.13f %.13f %.13f" % (a, b, c, d))
P
# GeodSolve -i -f -p 9 prints lat1 lon1 azi1 lat2 lon2 azi2 s12 a12 m12 M12 M21 S12
GeodSolve -i -f -p 9 --input-file "$tmp/inv" >"$tmp/series"
GeodSolve -E -i -f -p 9 --input-file "$tmp/inv" >"$tmp/exact"
echo "lat1,lon1,lat2,lon2,azi1,azi2,s12_series,s12_exact,m12" >inverse.csv
paste -d ' ' "$tmp/inv" "$tmp/series" "$tmp/exact" | awk '{print $1","$2","$3","$4","$7","$10","$11","$23","$13}' >>inverse.csv
python3 - "$n" "$seed" >"$tmp/dir" <<'P'
import random, sys, math
n, seed = int(sys.argv[1]), int(sys.argv[2]); r = random.Random(seed + 1)
for i in range(n):
    a, o = math.degrees(math.asin(r.uniform(-1, 1))), r.uniform(-180, 180)
    for s in (r.uniform(0, 2e7), r.uniform(0, 60), 10**r.uniform(0, 5), -r.uniform(0, 1e6), r.uniform(2e7, 5e7)):
        print("%.12f %.12f %.12f %.7f" % (a, o, r.uniform(-180, 180), s))
    print("%.12f %.12f %.12f %.7f" % (0, o, r.choice([0, 90, -90, 180]), r.uniform(0, 2e7)))
P
GeodSolve -f -p 9 --input-file "$tmp/dir" >"$tmp/dout"
echo "lat1,lon1,azi1,s12,lat2,lon2,azi2" >direct.csv
paste -d ' ' "$tmp/dir" "$tmp/dout" | awk '{print $1","$2","$3","$4","$8","$9","$10}' >>direct.csv
rm -r "$tmp"
