package intake

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"soakline/internal/pattern"
	"soakline/internal/place"
	"soakline/internal/sheet"
)

// Units of a column of degrees whose heading names its side: unsigned values
// are then west, or south.
const (
	unitWest  = "west"
	unitSouth = "south"
)

// position reads latitude and longitude. Plain decimals go through as written,
// so that their digits tell how finely they were read; every other notation is
// read by package place, and a doubt is asked.
func (l *lineReader) position() {
	lat, lon := l.degrees(0), l.degrees(1)
	c := l.posC
	if l.pos != "" && lat == "" && lon == "" {
		if isBlank(l.pos) {
			return
		}
		lat = l.pos
	} else if lat == "" && lon == "" {
		return
	} else {
		c = l.column(lat)
		if isDegrees(lat) && isDegrees(lon) {
			l.x.set("latitude", lat)
			l.x.set("longitude", lon)
			return
		}
		if lat == "" || lon == "" {
			l.half(lat, lon)
			return
		}
	}
	l.readPosition(lat, lon, c)
}

func (l *lineReader) column(lat string) int {
	if lat != "" {
		return l.latLon[0].c
	}
	return l.latLon[1].c
}

// degrees is the text of latitude (0) or longitude (1), a decimal comma as a point.
func (l *lineReader) degrees(k int) string {
	f := l.latLon[k]
	if f == nil {
		return ""
	}
	text, _ := l.t.Cell(l.i, f.c)
	if f.unit == "" && isDegrees(text) {
		return text
	}
	text = strings.Replace(text, "−", "-", 1)
	if l.s.m.Decimal == "comma" && commaNumber.MatchString(text) {
		text = strings.Replace(text, ",", ".", 1)
	}
	text = strings.TrimPrefix(text, "+")
	if (f.unit == unitWest || f.unit == unitSouth) && isDegrees(text) && text[0] != '-' {
		text = "-" + text
	}
	return text
}

// half keeps the one coordinate there is, for quality to judge.
func (l *lineReader) half(lat, lon string) {
	f, text := l.latLon[0], lat
	if lat == "" {
		f, text = l.latLon[1], lon
	}
	if _, fault := sheet.ParseNumber(f.base, text); fault != nil {
		l.fault(f.c, fault)
		return
	}
	l.x.set(f.base, text)
}

func (l *lineReader) readPosition(lat, lon string, c int) {
	o := place.Options{}
	if at, ok := l.b.listed(l.x.Get("site")); ok {
		o.Near = &at
	}
	r, err := place.ReadPair(lat, lon, o)
	if err != nil {
		var no *place.Refusal
		f := Fault{Place: l.t.Place(l.i, c), Wrong: said("intake.position", "value", strings.TrimSpace(lat+" "+lon)), Do: said("intake.position-do")}
		if errors.As(err, &no) {
			f.Wrong.Slug, f.Wrong.With = no.Slug, no.With
		}
		l.b.r.Faults = append(l.b.r.Faults, f)
		return
	}
	if r.Clear() {
		l.setPosition(degreesText(r.LatDeg, r.ResolutionM), degreesText(r.LonDeg, r.ResolutionM))
		return
	}
	written := strings.TrimSpace(lat + " " + lon)
	q := Question{Key: "position:" + written, Said: said("intake.ask-position", "text", written), Where: l.t.Place(l.i, c)}
	for _, d := range r.Questions {
		q.Why.Slug, q.Why.With = d.Slug, d.With
		break
	}
	add := func(latDeg, lonDeg float64) string {
		v := degreesText(latDeg, r.ResolutionM) + " " + degreesText(lonDeg, r.ResolutionM)
		for _, o := range q.Options {
			if o.Value == v {
				return v
			}
		}
		q.Options = append(q.Options, Option{Value: v})
		return v
	}
	if r.Known() {
		q.Proposal = add(r.LatDeg, r.LonDeg)
	}
	for _, cand := range r.Candidates {
		add(cand.LatDeg, cand.LonDeg)
	}
	v, _ := l.b.p.a.ask(q)
	if a, o, ok := strings.Cut(v, " "); ok {
		l.setPosition(a, o)
	}
}

func (l *lineReader) setPosition(lat, lon string) {
	l.x.set("latitude", lat)
	l.x.set("longitude", lon)
}

// listed is the position of a site of the list.
func (b *builder) listed(site string) (place.Point, bool) {
	for _, s := range b.p.a.c.Sites {
		lat, ok1 := s.Latitude.Get()
		lon, ok2 := s.Longitude.Get()
		if s.Name == site && ok1 && ok2 {
			return place.Point{LatDeg: lat, LonDeg: lon}, true
		}
	}
	return place.Point{}, false
}

// degreesText writes decimal degrees as finely as they were read: a degree of
// latitude is about 111 km, so one second (31 m) needs four decimals.
func degreesText(deg, resolutionM float64) string {
	n := 7
	if resolutionM > 0 {
		n = int(math.Ceil(math.Log10(111_320/resolutionM) - 0.1))
	}
	return strconv.FormatFloat(deg, 'f', min(max(n, 0), 8), 64)
}

var sideWord = pattern.New(`(?:^| )(w|west|o|oeste|s|south|sur)$`)

// sides settles columns of degrees whose heading names west or south and whose
// values carry no sign.
func (p *plan) sides(s *shape) {
	if s.kept {
		return
	}
	for c := range s.m.Columns {
		col := &s.m.Columns[c]
		if col.To != "latitude" && col.To != "longitude" {
			continue
		}
		h := s.tables[0].Header[c]
		word := ""
		for _, text := range []string{plain(h.Text), plain(h.Unit)} {
			if m := sideWord.FindStringSubmatch(text); m != nil {
				word = m[1]
			}
		}
		south := word == "s" || word == "south" || word == "sur"
		if word == "" || south != (col.To == "latitude") {
			continue
		}
		unsigned, signed := 0, 0
		s.sample(c, func(text string, _ Kind) {
			switch {
			case strings.HasPrefix(text, "-"), strings.HasPrefix(text, "−"):
				signed++
			case text[0] >= '0' && text[0] <= '9':
				unsigned++
			}
		})
		if signed > 0 || unsigned == 0 {
			continue
		}
		side, other := unitWest, "east"
		if south {
			side, other = unitSouth, "north"
		}
		q := Question{Key: "side:" + col.Heading, Said: said("intake.ask-side", "heading", col.Heading), Where: s.where(c), Options: options(side, other), Proposal: side, Why: said("intake.because-heading")}
		if v, _ := p.a.ask(q); v == side {
			col.Unit = side
		}
	}
}
