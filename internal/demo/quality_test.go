package demo

import (
	"slices"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/quality"
	"soakline/internal/sheet"
)

func judge(ds []assay.Deployment) []assay.Finding {
	p, _ := sheet.Protocols()
	return quality.Judge(ds, quality.Context{Protocols: p, Default: sheet.DefaultProtocol, Now: time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)})
}

// TestCleanIsClean: of the true records nothing is found to be wrong but what
// is listed as true and odd.
func TestCleanIsClean(t *testing.T) {
	for seed := range uint64(20) {
		s := Make(seed)
		found := judge(s.Clean())
		for _, f := range found {
			listed := slices.ContainsFunc(s.Planted(), func(p Planted) bool {
				return p.Kind == True && p.DeploymentID == f.DeploymentID && p.Finding == f.Slug
			})
			if !listed && (f.Severity != assay.Note || f.Slug != "zone-assumed") {
				t.Errorf("seed %d, row %s check %d: %s %s, not listed", seed, f.DeploymentID, f.Check, f.Severity, f.Slug)
			}
		}
		for _, p := range s.Planted() {
			if p.Kind == True && p.Finding != "" && !slices.ContainsFunc(found, func(f assay.Finding) bool {
				return f.DeploymentID == p.DeploymentID && f.Slug == p.Finding && (p.FoundBy == ByAsk) == (f.Severity == assay.Ask)
			}) {
				t.Errorf("seed %d: %s of row %s is not found as %s %s", seed, p.What, p.DeploymentID, p.FoundBy, p.Finding)
			}
		}
	}
}
