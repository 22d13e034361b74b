package place

import (
	"math"
	"strconv"
	"strings"

	"soakline/internal/pattern"
)

// Forms of grid positions. Thousands are not separated in any of them.
var (
	mgrsForm = pattern.New(`^(?:MGRS|USNG)?[:\s]*(\d{1,2})\s*([A-Z])\s*([A-Z])([A-Z])\s*(\d*)\s*(\d*)$`)
	utmForm  = pattern.New(`^(UTM)?[:,\s]*(?:ZONE|ZONA|HUSO|FUSO)?[:\s]*(\d{1,2})\s*[,;]?\s*([A-Z]|NORTH|SOUTH|NORTE|SUR|SUL|SUD)?[\s,;:]+(?:[EX]\s*[:=]?\s*)?(\d{5,6}(?:[.,]\d+)?)\s*(?:M?\s*E)?[\s,;/]+(?:[NY]\s*[:=]?\s*)?(\d{1,8}(?:[.,]\d+)?)\s*(?:M?\s*N|M)?$`)
	utmLast  = pattern.New(`^(UTM)?[:\s]*(?:[EX]\s*[:=]?\s*)?(\d{5,6}(?:[.,]\d+)?)\s*(?:M?\s*E)?[\s,;/]+(?:[NY]\s*[:=]?\s*)?(\d{1,8}(?:[.,]\d+)?)\s*(?:M?\s*N|M)?[\s,;]+(?:UTM)?\s*(?:ZONE|ZONA|HUSO|FUSO)?[:\s]*(\d{1,2})\s*([A-Z]|NORTH|SOUTH|NORTE|SUR|SUL|SUD)?$`)
	noZone   = pattern.New(`^(?:UTM)?[:\s]*(?:[EX]\s*[:=]?\s*)?\d{5,7}(?:[.,]\d+)?\s*(?:M?\s*E)?[\s,;/]+(?:[NY]\s*[:=]?\s*)?\d{5,8}(?:[.,]\d+)?\s*(?:M?\s*N|M)?$`)
)

// readGrid reads UTM and military grid; is tells whether the text is of such a
// form at all.
func readGrid(text string, o Options) (r Reading, bad *Refusal, is bool) {
	if len(text) > longestText {
		return Reading{}, nil, false
	}
	t := strings.ToUpper(strings.Trim(text, " \t\r\n()[]"))
	if m := mgrsForm.FindStringSubmatch(t); m != nil {
		r, bad = readMGRS(text, m, o)
		return r, bad, true
	}
	if m := utmForm.FindStringSubmatch(t); m != nil && !looksLikeDegrees(m[4], m[5]) {
		r, bad = readUTM(text, m[2], m[3], m[4], m[5], o)
		return r, bad, true
	}
	if m := utmLast.FindStringSubmatch(t); m != nil && !looksLikeDegrees(m[2], m[3]) {
		r, bad = readUTM(text, m[4], m[5], m[2], m[3], o)
		return r, bad, true
	}
	if noZone.MatchString(t) && !instrument(t) {
		return Reading{}, refuse("grid-without-zone", "text", clip(text)), true
	}
	return Reading{}, nil, false
}

// looksLikeDegrees keeps 365704 N 81212 W and its like out of the grid forms.
func looksLikeDegrees(e, n string) bool {
	return len(wholeDigits(e)) < 6 && len(wholeDigits(n)) < 6
}

// instrument reports DDMM.mm, DDDMM.mm with letters, which is no grid.
func instrument(t string) bool { return strings.ContainsAny(t, "SWO") }

// metres reads a length and the size of its last digit.
func metres(s string) (v, step float64) {
	s = strings.Replace(s, ",", ".", 1)
	v, _ = strconv.ParseFloat(s, 64)
	_, decimals, _ := strings.Cut(s, ".")
	return v, math.Pow10(-len(decimals))
}

func readUTM(text, zoneText, letter, eastText, northText string, o Options) (Reading, *Refusal) {
	zone, _ := strconv.Atoi(zoneText)
	e, stepE := metres(eastText)
	n, stepN := metres(northText)
	if zone < 1 || zone > 60 {
		return Reading{}, refuse("grid-zone", "zone", zone)
	}
	if math.Abs(e-falseEastingM) > gridEastMarginM || n > falseNorthingM {
		return Reading{}, refuse("grid-range", "text", clip(text))
	}
	r := Reading{Notation: GridUTM, ResolutionM: math.Max(stepE, stepN)}
	us, doubts, bad := hemispheresOf(UTM{zone, false, e, n}, letter)
	if bad != nil {
		return Reading{}, bad
	}
	var all []Candidate
	for _, u := range us {
		if lat, lon := u.Position(); lat >= gridLatMin-.5 && lat <= gridLatMax+.5 {
			all = append(all, Candidate{lat, lon, ask("reading", "latitude", lat, "longitude", lon)})
		}
	}
	if len(all) == 0 {
		return Reading{}, refuse("grid-range", "text", clip(text))
	}
	if len(letter) == 1 && len(us) == 1 && letter != "N" && letter != "S" {
		if lo, hi, _ := bandLimits(letter[0]); all[0].LatDeg < lo-.1 || all[0].LatDeg > hi+.1 {
			doubts = append(doubts, ask("grid-band-differs", "letter", letter, "latitude", all[0].LatDeg))
		}
	} else if len(all) == 1 {
		doubts = nil // the other hemisphere has no such northing
	}
	r.settle(all, doubts, o)
	r.checkZone(zone, o)
	return r, nil
}

// hemispheresOf returns the grids that the letter behind the zone may mean:
// north or south of the equator, as letter, word or band.
func hemispheresOf(u UTM, letter string) ([]UTM, []Question, *Refusal) {
	south := u
	south.South = true
	switch letter {
	case "NORTH", "NORTE", "N": // band N is north of the equator too
		return []UTM{u}, nil, nil
	case "SOUTH", "SUR", "SUL", "SUD":
		return []UTM{south}, nil, nil
	case "":
		return []UTM{u, south}, []Question{ask("grid-hemisphere", "zone", u.Zone)}, nil
	case "S": // band S is 32° to 40° N; many write S for the southern hemisphere
		if lat, _ := u.Position(); lat > 31.9 && lat < 40.1 {
			return []UTM{u, south}, []Question{ask("grid-letter-s", "zone", u.Zone)}, nil
		}
		return []UTM{south}, nil, nil
	}
	if _, _, ok := bandLimits(letter[0]); !ok {
		return nil, nil, refuse("grid-band", "letter", letter)
	}
	if letter[0] < 'N' {
		return []UTM{south}, nil, nil
	}
	return []UTM{u}, nil, nil
}

// checkZone asks where a grid position lies clearly outside its zone: half a
// degree beyond the edge is used across borders, more is mostly a slip.
func (r *Reading) checkZone(zone int, o Options) {
	if !r.Known() {
		return
	}
	off := math.Abs(math.Remainder(r.LonDeg-CentralMeridian(zone), 360))
	if off > 3.5 && StandardZone(r.LatDeg, r.LonDeg) != zone {
		r.Questions = append(r.Questions, ask("grid-outside-zone", "zone", zone))
	}
	r.compare(o)
}

func readMGRS(text string, m []string, o Options) (Reading, *Refusal) {
	zone, _ := strconv.Atoi(m[1])
	digits := m[5] + m[6]
	half := len(digits) / 2
	if len(digits)%2 != 0 || half > 5 || m[6] != "" && len(m[5]) != len(m[6]) {
		return Reading{}, refuse("grid-digits", "text", clip(text))
	}
	if zone < 1 || zone > 60 {
		return Reading{}, refuse("grid-zone", "zone", zone)
	}
	size := math.Pow10(5 - half)
	var e, n float64
	if half > 0 {
		e, _ = strconv.ParseFloat(digits[:half], 64)
		n, _ = strconv.ParseFloat(digits[half:], 64)
	}
	u, ok := fromMGRS(zone, m[2][0], m[3][0], m[4][0], e*size, n*size)
	if !ok {
		return Reading{}, refuse("grid-square", "text", clip(text))
	}
	lat, lon := u.Position()
	r := Reading{LatDeg: lat, LonDeg: lon, Notation: GridMGRS, ResolutionM: size}
	r.checkZone(zone, o)
	return r, nil
}
