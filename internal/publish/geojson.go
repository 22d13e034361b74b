package publish

import (
	"encoding/json"
	"io"

	"soakline/internal/sheet"
)

// feature is one row on the map.
type feature struct {
	Type       string     `json:"type"`
	ID         string     `json:"id"`
	Geometry   *point     `json:"geometry"`
	Properties properties `json:"properties"`
}

type point struct {
	Type        string         `json:"type"`
	Coordinates [2]json.Number `json:"coordinates"`
}

type properties struct {
	DeploymentID string      `json:"deployment_id"`
	Site         string      `json:"site"`
	Habitat      string      `json:"habitat"`
	Programme    string      `json:"programme"`
	Season       string      `json:"season"`
	Team         string      `json:"team"`
	DeployedAt   string      `json:"deployed_at"`
	Baits        int         `json:"baits_deployed"`
	Control      string      `json:"control"`
	LastCheck    *lastCheck  `json:"last_check"`
	UncertaintyM json.Number `json:"coordinate_uncertainty_m,omitempty"`
	Generalised  string      `json:"position_generalised"`
	Invented     bool        `json:"invented,omitempty"`
	Licence      string      `json:"licence"`
}

type lastCheck struct {
	SoakH      json.Number `json:"soak_h"`
	Consumed   int         `json:"consumed"`
	Proportion json.Number `json:"proportion,omitempty"`
}

// writeGeoJSON writes one feature for each row (RFC 7946), longitude first.
func (r *release) writeGeoJSON(w io.Writer, lv *levels) error {
	head := "{\"type\":\"FeatureCollection\","
	if lv.all.box.any {
		west, s, east, n := lv.all.box.bounds()
		head += "\"bbox\":[" + number(west, 9) + "," + number(s, 9) + "," + number(east, 9) + "," + number(n, 9) + "],"
	}
	if _, err := io.WriteString(w, head+"\"features\":[\n"); err != nil {
		return err
	}
	first := true
	err := r.each(func(d row) error {
		b, err := json.Marshal(r.feature(d))
		if err != nil {
			return err
		}
		if !first {
			b = append([]byte(",\n"), b...)
		}
		first = false
		_, err = w.Write(b)
		return err
	})
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, "\n]}\n")
	return err
}

func (r *release) feature(d row) feature {
	f := feature{Type: "Feature", ID: d.Event, Properties: properties{
		DeploymentID: d.ID, Site: d.Site, Habitat: d.Habitat, Programme: d.Programme, Season: d.Season, Team: d.Team,
		DeployedAt: stamp(d.SetOut.Local()), Baits: d.Baits, Control: string(d.Control), Generalised: d.Generalised, Invented: r.in.Invented, Licence: r.licence.ID,
	}}
	if f.Properties.Control == "" {
		f.Properties.Control = "none"
	}
	lat, ok1 := d.Latitude.Get()
	lon, ok2 := d.Longitude.Get()
	if ok1 && ok2 {
		f.Geometry = &point{"Point", [2]json.Number{json.Number(sheet.FormatNumber(lon)), json.Number(sheet.FormatNumber(lat))}}
	}
	if u, ok := radiusOf(d).Get(); ok {
		f.Properties.UncertaintyM = json.Number(number(u, 1))
	}
	if c, ok := d.LastRead(); ok {
		h, _ := d.SoakH(c)
		f.Properties.LastCheck = &lastCheck{SoakH: json.Number(number(h, 4)), Consumed: c.Consumed.Or(0), Proportion: json.Number(r.shares(d)[c.Number])}
	}
	return f
}
