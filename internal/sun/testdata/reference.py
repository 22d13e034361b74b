# Reference values for the tests of package sun, from two programs that share
# nothing with it. Run where they are installed (Debian python3-ephem,
# python3-pymeeus):  /usr/bin/python3 reference.py
#
# events.csv    passages of the sun through -50' and -6 degrees: libastro (PyEphem),
#               altitude sampled every 5 minutes over a UTC day and bisected here
# altitude.csv  altitude of the sun's centre without refraction: libastro
# moon.csv      illuminated fraction and elongation in longitude, geocentric: libastro
#               (at UTC + its own error of delta T), and apparent longitude, latitude
#               and distance by PyMeeus (an implementation of Meeus's chapter 47)
# phases.csv    instants of the phases: libastro with its delta T taken off and TT - UTC
#               put in its place, and PyMeeus (chapter 49), both in TT
import csv, datetime as dt, math, random
import ephem, pymeeus
from importlib.metadata import version
from pymeeus.Epoch import Epoch
from pymeeus.Moon import Moon

random.seed(20200229)
print("PyEphem", ephem.__version__, "PyMeeus", version("PyMeeus"))
TT_UTC = 69.184  # since 2017; earlier dates are not used for the moon

def observer(lat, lon):
    o = ephem.Observer()
    o.lat, o.lon, o.elevation, o.pressure = math.radians(lat), math.radians(lon), 0, 0
    return o

def altitude(o, when):
    o.date = when
    return math.degrees(float(ephem.Sun(o).alt))

def iso(when, digits=3):
    t = ephem.Date(when).datetime()
    return t.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-6 + digits] + "Z"

def events(lat, lon, day, threshold):
    o = observer(lat, lon)
    start = float(ephem.Date(day))
    n = 288
    out = []
    before = altitude(o, start) - threshold
    for i in range(1, n + 1):
        t = start + i / n
        after = altitude(o, t) - threshold
        if (before >= 0) != (after >= 0):
            a, b = start + (i - 1) / n, t
            while (b - a) * 86400 > 0.001:
                m = (a + b) / 2
                if (altitude(o, m) - threshold >= 0) == (before >= 0):
                    a = m
                else:
                    b = m
            # how fast the altitude changes, degrees a minute: grazing or not
            rate = abs(altitude(o, b + 30 / 86400) - altitude(o, b - 30 / 86400))
            out.append((iso(b), "up" if after >= 0 else "down", "%.5f" % rate))
        before = after
    return out

lats = [-90, -89.97, -77.85, -69, -66.5, -54.8, -33.9, -12.4, 0, 8.5, 23.44, 36.95, 48.2, 59.9, 65.7, 67.4, 71.2, 78.2, 85, 89.9]
with open("events.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["latitude", "longitude", "date_utc", "threshold_deg", "events"])
    for lat in lats:
        for year in (2024, 2026, 2033):
            for _ in range(6):
                lon = round(random.uniform(-180, 180), 3)
                day = dt.date(year, 1, 1) + dt.timedelta(days=random.randrange(365))
                for name, threshold in (("-0.833333", -50 / 60), ("-6", -6.0)):
                    w.writerow([lat, lon, day, name, " ".join("/".join(e) for e in events(lat, lon, day.strftime("%Y/%m/%d"), threshold))])
    # Days near the season's last and first sunrises, where the sun grazes.
    for lat, lon in ((78.2167, 15.6333), (69.65, 18.96), (66.2, -18.0)):
        for first in (dt.date(2026, 1, 8), dt.date(2026, 2, 12), dt.date(2026, 4, 15), dt.date(2026, 5, 15), dt.date(2026, 7, 20), dt.date(2026, 8, 20), dt.date(2026, 10, 22), dt.date(2026, 11, 24)):
            for n in range(6):
                day = first + dt.timedelta(days=n)
                for name, threshold in (("-0.833333", -50 / 60), ("-6", -6.0)):
                    w.writerow([lat, lon, day, name, " ".join("/".join(e) for e in events(lat, lon, day.strftime("%Y/%m/%d"), threshold))])

with open("altitude.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["latitude", "longitude", "at", "altitude_deg"])
    for _ in range(400):
        lat, lon = round(math.degrees(math.asin(random.uniform(-1, 1))), 4), round(random.uniform(-180, 180), 4)
        at = ephem.Date(dt.datetime(2017, 1, 1) + dt.timedelta(seconds=random.randrange(33 * 365 * 86400)))
        w.writerow([lat, lon, iso(at, 0).replace(".", ""), "%.5f" % altitude(observer(lat, lon), at)])

def epoch(t):
    return Epoch(t.year, t.month, t.day + (t.hour + (t.minute + t.second / 60) / 60) / 24)

with open("moon.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["at", "fraction", "elongation_deg", "meeus_longitude_deg", "meeus_latitude_deg", "meeus_distance_km"])
    for _ in range(300):
        t = dt.datetime(2017, 1, 1) + dt.timedelta(seconds=random.randrange(33 * 365 * 86400))
        # libastro adds its own delta T: hand it the instant that gives the right TT.
        d = ephem.Date(float(ephem.Date(t)) + (TT_UTC - ephem.delta_t(t)) / 86400)
        moon, sun = ephem.Moon(), ephem.Sun()
        moon.compute(d, epoch=d), sun.compute(d, epoch=d)
        lon = lambda b: math.degrees(ephem.Ecliptic(ephem.Equatorial(b.g_ra, b.g_dec, epoch=d), epoch=d).lon)
        tt = t  # PyMeeus gets the same reading of the clock as TT
        mlon, mlat, mdist, _ = Moon.apparent_ecliptical_pos(epoch(tt))
        w.writerow([t.strftime("%Y-%m-%dT%H:%M:%SZ"), "%.5f" % (moon.phase / 100), "%.4f" % ((lon(moon) - lon(sun)) % 360),
                    "%.6f" % float(mlon), "%.6f" % float(mlat), "%.1f" % mdist])

with open("phases.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["phase", "libastro_tt", "meeus_tt"])
    for name, nxt, target in (("new", ephem.next_new_moon, "new"), ("first quarter", ephem.next_first_quarter_moon, "first"),
                              ("full", ephem.next_full_moon, "full"), ("last quarter", ephem.next_last_quarter_moon, "last")):
        d = ephem.Date("2018/1/1")
        while d < ephem.Date("2036/1/1"):
            d = nxt(d)
            tt = float(d) + ephem.delta_t(d) / 86400
            g = ephem.Date(tt).datetime()
            near = None
            for back in (0, 15, 30):  # it takes the phase nearest to a rounded count of months
                e = g - dt.timedelta(days=back)
                y, mo, da, h, mi, s = Moon.moon_phase(Epoch(e.year, e.month, e.day), target=target).get_full_date()
                it = dt.datetime(y, mo, da, h, mi) + dt.timedelta(seconds=s)
                if near is None or abs(it - g) < abs(near - g):
                    near = it
            w.writerow([name, iso(tt, 0).replace(".", ""), near.strftime("%Y-%m-%dT%H:%M:%S") + "Z"])
            d = ephem.Date(float(d) + 20)
