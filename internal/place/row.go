package place

import "fmt"

// Stake is where one stake of a row stands.
type Stake struct {
	Number int     // from 1
	AlongM float64 // metres from the row's position
	LatDeg float64
	LonDeg float64
}

// RowStakes returns the positions of the stakes of a row that starts at a
// position and runs along a true bearing: stake i stands firstM + (i−1)·spacingM
// from the position. Each is solved from the position itself, never from the
// stake before it, so that errors do not add up and the row is one geodesic.
//
// It returns an error if the position is not one, the bearing or a distance is
// not finite, spacing is not above zero, or stakes is outside 1..100000.
func RowStakes(latDeg, lonDeg, bearingDeg, firstM, spacingM float64, stakes int) ([]Stake, error) {
	switch {
	case !ValidPosition(latDeg, lonDeg):
		return nil, fmt.Errorf("place: (%v, %v) is not a position", latDeg, lonDeg)
	case stakes < 1 || stakes > 100000:
		return nil, fmt.Errorf("place: %d stakes; a row has 1 to 100000", stakes)
	case !(spacingM > 0 && spacingM < 1e6) || !(firstM > -1e6 && firstM < 1e6):
		return nil, fmt.Errorf("place: spacing %v m from %v m on; spacing is above 0 and both under 1000 km", spacingM, firstM)
	case !(bearingDeg >= -360 && bearingDeg <= 360):
		return nil, fmt.Errorf("place: bearing %v; it is in degrees, -360 to 360", bearingDeg)
	}
	g := newDeparture(latDeg, lonDeg, bearingDeg)
	out := make([]Stake, stakes)
	for i := range out {
		along := firstM + float64(i)*spacingM
		lat, lon, _ := g.at(along)
		out[i] = Stake{Number: i + 1, AlongM: along, LatDeg: lat, LonDeg: lon}
	}
	return out, nil
}
