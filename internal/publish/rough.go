package publish

import (
	"slices"

	"soakline/internal/assay"
)

// Rough is records as everything but an archive may tell them: the report, its
// figures and map, results in tables. Sensitive places are told by the one rule
// that the archives follow (see hidden).
type Rough struct {
	Deployments []assay.Deployment
	Hidden      []bool // which of them are told roughly
	h           *hidden
}

// Roughly tells records by the rule about sensitive places. It gives nil where
// none of them lies in one.
func Roughly(ds []assay.Deployment, places []Sensitive) *Rough {
	in := Input{Deployments: ds}
	for _, p := range places {
		if slices.ContainsFunc(ds, func(d assay.Deployment) bool { return d.Site == p.Site }) {
			in.Metadata.Sensitive = append(in.Metadata.Sensitive, p)
		}
	}
	if len(in.Metadata.Sensitive) == 0 {
		return nil
	}
	h, err := newHidden(&in)
	if err != nil {
		panic("publish: a site that has rows has none: " + err.Error())
	}
	out := &Rough{Deployments: make([]assay.Deployment, len(ds)), Hidden: make([]bool, len(ds)), h: h}
	for i := range ds {
		d := ds[i]
		d.Checks = slices.Clone(d.Checks)
		out.Hidden[i] = h.is(&d)
		if out.Hidden[i] {
			d.ID, d.GlobalID = h.rowName(&ds[i]), ""
			d.Where, d.ColumnsAsWritten = assay.Place{}, nil
		}
		one := row{Deployment: &d}
		h.apply(&d, &one)
		out.Deployments[i] = d
	}
	return out
}

// Tells says whether a text tells a sensitive place.
func (r *Rough) Tells(text string) bool { return r.h.spills(text) }
