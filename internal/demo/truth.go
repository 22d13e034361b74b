package demo

// Truth is what the season was drawn from, written beside it.
type Truth struct {
	Invented    string     `json:"invented"`
	Seed        uint64     `json:"seed"`
	Model       Model      `json:"model"`
	Ratios      []Ratio    `json:"rate_ratios"`
	Sites       []SiteTrue `json:"sites"`
	Deployments []RowTrue  `json:"deployments"`
}

// Ratio is the true rate of habitat A over that of B.
type Ratio struct {
	A         string  `json:"a"`
	B         string  `json:"b"`
	RateRatio float64 `json:"rate_ratio"`
}

// SiteTrue is what was drawn for a site, on the log rate.
type SiteTrue struct {
	Team          string             `json:"team"`
	Site          string             `json:"site"`
	Effect        float64            `json:"effect"`
	HabitatEffect map[string]float64 `json:"site_habitat_effect"`
}

// RowTrue is what was drawn for a row.
type RowTrue struct {
	Team          string  `json:"team"`
	DeploymentID  string  `json:"deployment_id"`
	Season        string  `json:"season"`
	Site          string  `json:"site"`
	Habitat       string  `json:"habitat"`
	Effect        float64 `json:"effect"`
	FirstRatePerH float64 `json:"first_rate_per_h"`
	LaterRatePerH float64 `json:"later_rate_per_h"`
}

func (t *Truth) add(r *row) {
	t.Deployments = append(t.Deployments, RowTrue{Team: r.Team, DeploymentID: r.ID, Season: r.Season, Site: r.Site, Habitat: r.Habitat,
		Effect: round(r.effect), FirstRatePerH: round(r.ratePerH), LaterRatePerH: round(r.ratePerH * r.later)})
}

func (t *Truth) close(s *Season) {
	for _, pair := range [][2]string{{reef, sand}, {seagrass, sand}, {reef, seagrass}} {
		t.Ratios = append(t.Ratios, Ratio{pair[0], pair[1], round(t.Model.rate(pair[0]) / t.Model.rate(pair[1]))})
	}
	for _, c := range s.teams {
		for _, p := range c.sites {
			one := SiteTrue{Team: c.name, Site: p.name, Effect: round(p.effect), HabitatEffect: map[string]float64{}}
			for _, h := range p.habitats {
				one.HabitatEffect[h] = round(p.effectInHabitat[h])
			}
			t.Sites = append(t.Sites, one)
		}
	}
}
