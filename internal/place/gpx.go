package place

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// GPX is what a receiver's file in the GPS Exchange Format holds that matters
// for rows: waypoints and tracks. Routes are read as tracks without times.
type GPX struct {
	Waypoints []Waypoint
	Tracks    []Track
	// WithoutZone counts times that were written without a zone. The format
	// says they are UTC; a receiver may have meant its local clock.
	WithoutZone int
}

// Waypoint is a marked position.
type Waypoint struct {
	Name           string
	LatDeg, LonDeg float64
	At             time.Time // UTC; zero when not given
	Comment        string    // comment or description
	Source         string    // what the position was taken from
}

// Track is a path that was recorded, in its unbroken pieces.
type Track struct {
	Name     string
	Segments [][]Trackpoint
}

// Trackpoint is one position of a track.
type Trackpoint struct {
	LatDeg, LonDeg float64
	At             time.Time // UTC; zero when not given
}

// Limits of what is read from one file: a day at one point a second has 86 400.
const (
	maxGPXBytes  = 64 << 20
	maxGPXPoints = 2_000_000
	maxGPXDepth  = 32
)

// ReadGPX reads a file of GPX 1.0 or 1.1, in UTF-8 or ISO 8859-1. Elements it
// does not know are passed over.
// It returns a *Refusal, with the line, for what is no such file, for a position
// that is none, or a time that cannot be read: nothing is left out in silence.
func ReadGPX(r io.Reader) (GPX, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxGPXBytes+1))
	if err != nil {
		return GPX{}, err
	}
	if len(b) > maxGPXBytes {
		return GPX{}, refuse("gpx-size", "megabytes", maxGPXBytes>>20)
	}
	p := &gpxReader{d: xml.NewDecoder(bytes.NewReader(b))}
	p.d.CharsetReader = latin1
	for {
		token, err := p.d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return GPX{}, refuse("gpx-broken", "line", p.line())
		}
		if bad := p.take(token); bad != nil {
			return GPX{}, bad
		}
	}
	if !p.isGPX {
		return GPX{}, refuse("gpx-none", "line", 1)
	}
	return p.out, nil
}

// latin1 lets receivers' files in ISO 8859-1 be read.
func latin1(charset string, r io.Reader) (io.Reader, error) {
	switch strings.ToLower(charset) {
	case "iso-8859-1", "latin1", "windows-1252", "us-ascii":
	default:
		return nil, errors.New("place: charset " + charset)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, c := range b {
		out.Write(utf8.AppendRune(nil, rune(c)))
	}
	return &out, nil
}

// gpxReader goes through the elements of a file.
type gpxReader struct {
	d      *xml.Decoder
	out    GPX
	isGPX  bool
	path   []string
	text   strings.Builder
	point  *Waypoint // the one being read
	points int
}

func (p *gpxReader) line() int {
	line, _ := p.d.InputPos()
	return line
}

func (p *gpxReader) take(token xml.Token) *Refusal {
	switch t := token.(type) {
	case xml.StartElement:
		return p.start(t)
	case xml.CharData:
		if p.point != nil || len(p.path) == 3 {
			p.text.Write(t)
		}
	case xml.EndElement:
		return p.end(t.Name.Local)
	}
	return nil
}

func (p *gpxReader) start(t xml.StartElement) *Refusal {
	name := t.Name.Local
	p.path = append(p.path, name)
	p.text.Reset()
	switch {
	case len(p.path) == 1:
		if name != "gpx" {
			return refuse("gpx-none", "line", p.line())
		}
		p.isGPX = true
	case len(p.path) > maxGPXDepth:
		return refuse("gpx-broken", "line", p.line())
	case p.at("gpx", "trk"), p.at("gpx", "rte"):
		p.out.Tracks = append(p.out.Tracks, Track{})
		if name == "rte" {
			p.track().Segments = [][]Trackpoint{nil}
		}
	case p.at("gpx", "trk", "trkseg"):
		p.track().Segments = append(p.track().Segments, nil)
	case p.at("gpx", "wpt"), p.at("gpx", "trk", "trkseg", "trkpt"), p.at("gpx", "rte", "rtept"):
		return p.begin(t)
	}
	return nil
}

func (p *gpxReader) at(path ...string) bool {
	if len(path) != len(p.path) {
		return false
	}
	for i := range path {
		if path[i] != p.path[i] {
			return false
		}
	}
	return true
}

func (p *gpxReader) track() *Track { return &p.out.Tracks[len(p.out.Tracks)-1] }

// begin reads the position of a point from its attributes.
func (p *gpxReader) begin(t xml.StartElement) *Refusal {
	if p.points++; p.points > maxGPXPoints {
		return refuse("gpx-points", "points", maxGPXPoints)
	}
	var deg [2]float64
	for i, want := range []string{"lat", "lon"} {
		text := ""
		for _, a := range t.Attr {
			if a.Name.Local == want {
				text = a.Value
			}
		}
		x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil {
			return refuse("gpx-position", "line", p.line(), "text", clip(text))
		}
		deg[i] = x
	}
	if !(deg[0] >= -90 && deg[0] <= 90 && deg[1] >= -180 && deg[1] <= 180) {
		return refuse("gpx-position", "line", p.line(), "text", formatPair(deg[0], deg[1]))
	}
	p.point = &Waypoint{LatDeg: deg[0], LonDeg: deg[1]}
	return nil
}

func formatPair(latDeg, lonDeg float64) string {
	return strconv.FormatFloat(latDeg, 'f', -1, 64) + ", " + strconv.FormatFloat(lonDeg, 'f', -1, 64)
}

func (p *gpxReader) end(name string) *Refusal {
	defer func() {
		p.path = p.path[:len(p.path)-1]
		p.text.Reset()
	}()
	text := strings.TrimSpace(p.text.String())
	inner := len(p.path) == 3 && p.path[1] == "wpt" || len(p.path) == 5 && p.path[3] == "trkpt" || len(p.path) == 4 && p.path[2] == "rtept"
	switch {
	case p.point != nil && inner:
		return p.field(name, text)
	case p.at("gpx", "trk", "name"), p.at("gpx", "rte", "name"):
		p.track().Name = text
	case p.at("gpx", "wpt"):
		p.out.Waypoints = append(p.out.Waypoints, *p.point)
		p.point = nil
	case p.at("gpx", "trk", "trkseg", "trkpt"), p.at("gpx", "rte", "rtept"):
		s := p.track().Segments
		s[len(s)-1] = append(s[len(s)-1], Trackpoint{p.point.LatDeg, p.point.LonDeg, p.point.At})
		p.point = nil
	}
	return nil
}

// field takes one element of a point.
func (p *gpxReader) field(name, text string) *Refusal {
	switch name {
	case "name":
		p.point.Name = text
	case "src":
		p.point.Source = text
	case "cmt", "desc":
		if p.point.Comment == "" {
			p.point.Comment = text
		}
	case "time":
		if text == "" {
			return nil
		}
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			if at, err = time.Parse("2006-01-02T15:04:05.999999999", text); err == nil {
				p.out.WithoutZone++
			}
		}
		if err != nil {
			return refuse("gpx-time", "line", p.line(), "text", clip(text))
		}
		p.point.At = at.UTC()
	}
	return nil
}
