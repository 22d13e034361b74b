package water

import (
	"math"
	"strings"
	"time"
)

// Clock reads UTC, an offset such as UTC+9:30, or the name of a zone; false for
// anything else.
func Clock(text string) (*time.Location, bool) {
	if h, ok := Offset(text); ok {
		return fixedZone(h), true
	}
	if text == "" || text == "Local" {
		return nil, false
	}
	z, err := time.LoadLocation(text)
	return z, err == nil
}

// Offset reads UTC, Z, UTC-5 or UTC+9:30 as hours east of Greenwich.
func Offset(text string) (hours float64, ok bool) {
	s := strings.ToUpper(strings.TrimSpace(strings.Replace(text, "−", "-", 1)))
	if s == "Z" || s == "UTC" || s == "GMT" {
		return 0, true
	}
	s = strings.TrimPrefix(strings.TrimPrefix(s, "UTC"), "GMT")
	if len(s) < 2 || (s[0] != '+' && s[0] != '-') {
		return 0, false
	}
	hh, mm, _ := strings.Cut(s[1:], ":")
	if !strings.Contains(s, ":") && len(hh) == 4 {
		hh, mm = hh[:2], hh[2:]
	}
	h, okH := digits(hh)
	m, okM := digits(mm)
	if mm == "" {
		m, okM = 0, true
	}
	if !okH || !okM || h > 15 || m > 59 {
		return 0, false
	}
	hours = float64(h) + float64(m)/60
	if s[0] == '-' {
		hours = -hours
	}
	return hours, true
}

// digits reads one or two digits.
func digits(s string) (n int, ok bool) {
	if s == "" || len(s) > 2 {
		return 0, false
	}
	for _, r := range s {
		if r < '0' || r > '9' {
			return 0, false
		}
		n = 10*n + int(r-'0')
	}
	return n, true
}

func fixedZone(hours float64) *time.Location {
	if hours == 0 {
		return time.UTC
	}
	s := int(math.Round(hours * 3600))
	name := "UTC" + time.Date(2000, 1, 1, 0, 0, 0, 0, time.FixedZone("", s)).Format("-07:00")
	return time.FixedZone(name, s)
}
