package fitness

import (
	"soakline/internal/assay"
	"soakline/internal/compare"
)

// WithoutSite is one pair's ratio with one site left out; Site is empty for the
// ratio of the whole season.
type WithoutSite struct {
	Site  string               `json:"site"`
	A     string               `json:"a"`
	B     string               `json:"b"`
	Ratio assay.Maybe[float64] `json:"ratio"` // of rates, or of odds with the logit link
	Lower assay.Maybe[float64] `json:"lower"`
	Upper assay.Maybe[float64] `json:"upper"`
	P     assay.Maybe[float64] `json:"p"` // of the likelihood-ratio test of all levels
	Turns bool                 `json:"turns"`
}

// LeaveOut writes down what the repetitions without one site say; other
// variants are passed over.
func (r *Result) LeaveOut(whole *compare.Result, variants []compare.Variant) {
	r.WithoutSite = []WithoutSite{}
	add := func(site string, k *compare.Result, turns bool) {
		for _, c := range k.Contrasts {
			ratio := c.RateRatio
			if !ratio.Known() {
				ratio = c.OddsRatio
			}
			r.WithoutSite = append(r.WithoutSite, WithoutSite{Site: site, A: c.A, B: c.B, Ratio: ratio, Lower: c.Lower, Upper: c.Upper, P: k.Test.P, Turns: turns})
		}
	}
	any := false
	for _, v := range variants {
		any = any || v.Slug == "without-site"
	}
	if !any || whole == nil {
		return
	}
	add("", whole, false)
	for _, v := range variants {
		if v.Slug == "without-site" {
			add(v.Site, v.Result, compare.Turns(whole, v.Result))
		}
	}
}
