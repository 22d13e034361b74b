// Package place answers where a thing is on the Earth: how far and in which
// direction from one position to another, where the stakes of a row stand,
// whether a position is on land and how far from the shore, which time zone it
// may be in, and what a person meant who wrote a coordinate.
//
// Positions are WGS84 latitude and longitude in decimal degrees, north and
// east positive; distances are metres along the ellipsoid unless a name says
// km; azimuths are degrees clockwise from true north, never magnetic.
//
// Methods: geodesics by Karney (2013), Algorithms for geodesics, J. Geodesy
// 87:43-55, to sixth order; transverse Mercator by the Krüger series to the
// sixth power of the third flattening, Karney (2011), J. Geodesy 85:475-485;
// military grid after NGA.STND.0037. Land is Natural Earth 1:10 million
// (public domain); time zones are a coarse map made from OpenStreetMap's
// boundaries. Both are embedded and read once, when first asked for.
//
// It leaves out: other datums than WGS84 (a position on an old national datum
// can be hundreds of metres off and nothing here can tell), magnetic bearings,
// polar grids, heights, and any finer shoreline: the one embedded is typically
// off by a kilometre, so it can raise a question and never settle one.
package place
