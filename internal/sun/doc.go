// Package sun answers when there is light at a place, and how the moon stands:
// sunrise and sunset, the beginning and end of civil twilight within a day of
// any time zone (none, one or two of each), the exact intervals of light in any
// range of time, the illuminated part of the moon, its distance from the sun
// along the ecliptic, and the times of its phases.
//
// Positions are degrees, north and east positive; angles are degrees; instants
// are UTC. The horizon is the sea's: the sun rises and sets when its centre,
// without refraction, stands at −50′ (34′ of refraction and 16′ of radius), and
// civil twilight begins and ends at −6°, the almanacs' definitions.
//
// Methods: Meeus (1998), Astronomical Algorithms, 2nd edition: sun, chapter 25
// (low accuracy); sidereal time, chapter 12; moon, chapter 47; illuminated
// fraction, chapter 48; phases, chapter 49. Events are found as changes of sign
// of the sun's altitude, never by an hour angle, which fails where the sun
// grazes the horizon.
//
// It leaves out: mountains and other obstacles, the eye's height, the weather's
// part of refraction (it can move a sunset by a minute or more, far more at high
// latitude), rising and setting of the moon, and UT1 − UTC (under a second).
package sun
