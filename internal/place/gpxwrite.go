package place

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
)

// RowOut is a row as it is handed to a receiver or a map.
type RowOut struct {
	Name   string
	Stakes []Stake
	Source string // where its position comes from, in words; may be empty
}

// WriteGPX writes rows as GPX 1.1: a waypoint for every stake, named ROW-01, and
// a route for every row, which receivers draw as a line. No times: they are not
// measured positions. A row without stakes is left out. The same rows give the
// same bytes.
func WriteGPX(w io.Writer, rows []RowOut) error {
	var b bytes.Buffer
	b.WriteString(xml.Header)
	b.WriteString(`<gpx version="1.1" creator="Soakline" xmlns="http://www.topografix.com/GPX/1/1">` + "\n")
	for _, r := range rows {
		for _, s := range r.Stakes {
			b.WriteString("  <wpt " + gpxPosition(s) + ">" + gpxText("name", r.stakeName(s)))
			b.WriteString(gpxText("src", r.Source) + "</wpt>\n")
		}
	}
	for _, r := range rows {
		if len(r.Stakes) == 0 {
			continue
		}
		b.WriteString("  <rte>" + gpxText("name", r.Name) + gpxText("src", r.Source) + "\n")
		for _, s := range r.Stakes {
			b.WriteString("    <rtept " + gpxPosition(s) + ">" + gpxText("name", r.stakeName(s)) + "</rtept>\n")
		}
		b.WriteString("  </rte>\n")
	}
	b.WriteString("</gpx>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// stakeName is the row's name and the number of the stake, with as many digits
// as the last one has, two at least, so that a receiver sorts them.
func (r RowOut) stakeName(s Stake) string {
	digits := len(strconv.Itoa(r.Stakes[len(r.Stakes)-1].Number))
	return fmt.Sprintf("%s-%0*d", r.Name, max(2, digits), s.Number)
}

func gpxPosition(s Stake) string {
	return `lat="` + nineDecimals(s.LatDeg) + `" lon="` + nineDecimals(s.LonDeg) + `"`
}

// nineDecimals of a degree are a tenth of a millimetre.
func nineDecimals(deg float64) string {
	return strconv.FormatFloat(math.Round(deg*1e9)/1e9+0, 'f', 9, 64)
}

func gpxText(element, text string) string {
	if text == "" {
		return ""
	}
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text)) // a buffer takes every write
	return "<" + element + ">" + b.String() + "</" + element + ">"
}

// WriteGeoJSON writes rows as GeoJSON (RFC 7946): for every row a line from its
// first to its last stake, cut where it crosses the meridian of 180° as section
// 3.1.9 asks, and a point for every stake. Longitude stands first, 9 decimals.
// A row without stakes is left out. The same rows give the same bytes.
func WriteGeoJSON(w io.Writer, rows []RowOut) error {
	type feature struct {
		Type       string         `json:"type"`
		ID         string         `json:"id"`
		Geometry   any            `json:"geometry"`
		Properties map[string]any `json:"properties"`
	}
	features := []feature{}
	for _, r := range rows {
		if len(r.Stakes) == 0 {
			continue
		}
		about := map[string]any{"row": r.Name, "stakes": len(r.Stakes), "position_source": nil}
		if r.Source != "" {
			about["position_source"] = r.Source
		}
		features = append(features, feature{"Feature", r.Name, lineOf(r.Stakes), about})
		for _, s := range r.Stakes {
			features = append(features, feature{"Feature", r.stakeName(s), geometry{"Point", lonLat(s.LatDeg, s.LonDeg)},
				map[string]any{"row": r.Name, "stake": s.Number, "along_m": s.AlongM}})
		}
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(struct {
		Type     string    `json:"type"`
		Features []feature `json:"features"`
	}{"FeatureCollection", features})
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

func lonLat(latDeg, lonDeg float64) [2]json.Number {
	return [2]json.Number{json.Number(nineDecimals(lonDeg)), json.Number(nineDecimals(latDeg))}
}

// lineOf is the line of a row: a point for a single stake, two lines where it
// crosses the meridian of 180°.
func lineOf(stakes []Stake) any {
	if len(stakes) == 1 {
		return geometry{"Point", lonLat(stakes[0].LatDeg, stakes[0].LonDeg)}
	}
	pieces := [][][2]json.Number{{}}
	add := func(latDeg, lonDeg float64) {
		pieces[len(pieces)-1] = append(pieces[len(pieces)-1], lonLat(latDeg, lonDeg))
	}
	for i, s := range stakes {
		if i > 0 && math.Abs(s.LonDeg-stakes[i-1].LonDeg) > 180 {
			a := stakes[i-1]
			edge := math.Copysign(180, a.LonDeg)
			step := math.Abs(math.Remainder(s.LonDeg-a.LonDeg, 360))
			lat := a.LatDeg
			if step > 0 {
				lat += (s.LatDeg - a.LatDeg) * (180 - math.Abs(a.LonDeg)) / step
			}
			add(lat, edge)
			pieces = append(pieces, nil)
			add(lat, -edge)
		}
		add(s.LatDeg, s.LonDeg)
	}
	if len(pieces) == 1 {
		return geometry{"LineString", pieces[0]}
	}
	return geometry{"MultiLineString", pieces}
}
