package place

import (
	"fmt"
	"math"
)

// Letters of the 100 km squares (NGA.STND.0037): columns repeat every three
// zones, rows every 2000 km and are shifted by five in even zones.
var squareColumns = [3]string{"ABCDEFGH", "JKLMNPQR", "STUVWXYZ"}

const squareRows = "ABCDEFGHJKLMNPQRSTUV"

// ToMGRS returns the military grid reference of a position with the given
// number of digits for each of easting and northing, 1 (10 km) to 5 (1 m).
// Digits are cut off, not rounded: the reference names the square it lies in.
func ToMGRS(latDeg, lonDeg float64, digits int) (string, error) {
	if digits < 1 || digits > 5 {
		return "", fmt.Errorf("place: %d digits; a grid reference has 1 to 5 for each of easting and northing", digits)
	}
	u, err := ToUTM(latDeg, lonDeg)
	if err != nil {
		return "", err
	}
	size := int64(math.Pow10(5 - digits))
	// A hair on: a whole metre must not fall to the one before by rounding.
	e, n := int64(math.Floor(u.EastingM+1e-7)), int64(math.Floor(u.NorthingM+1e-7))
	if u.South {
		n = min(n, falseNorthingM-1)
	}
	row := n / 100000
	if u.Zone%2 == 0 {
		row += 5
	}
	column := squareColumns[(u.Zone-1)%3][e/100000-1]
	return fmt.Sprintf("%02d%c%c%c%0*d%0*d", u.Zone, band(latDeg), column, squareRows[row%20], digits, e%100000/size, digits, n%100000/size), nil
}

// fromMGRS returns the south-western corner of the square that a reference
// names. ok is false where the letters name no square of that zone and band.
func fromMGRS(zone int, bandLetter, column, row byte, eastM, northM float64) (u UTM, ok bool) {
	lo, hi, ok := bandLimits(bandLetter)
	if !ok {
		return UTM{}, false
	}
	col, r := indexByte(squareColumns[(zone-1)%3], column), indexByte(squareRows, row)
	if col < 0 || r < 0 {
		return UTM{}, false
	}
	if zone%2 == 0 {
		r = (r + 15) % 20
	}
	u = UTM{Zone: zone, South: bandLetter < 'N', EastingM: float64(col+1)*100000 + eastM}
	// Rows repeat every 2000 km; the band says which. Squares are cut by the
	// band's parallels, so a corner may lie a little outside it.
	for n := 0; n < 5; n++ {
		u.NorthingM = float64(n)*2e6 + float64(r)*100000 + northM
		if lat, _ := u.Position(); lat > lo-1 && lat < hi+.1 {
			return u, true
		}
	}
	return UTM{}, false
}

func indexByte(s string, b byte) int {
	for i := range len(s) {
		if s[i] == b {
			return i
		}
	}
	return -1
}
