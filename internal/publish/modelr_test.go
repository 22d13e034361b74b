package publish

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/demo"
	"soakline/internal/outside"
)

// season is the invented season without its practice rows; it holds checks that
// were not made and baits unread at one check.
func season(t testing.TB) []assay.Deployment { return demo.Make(demo.DefaultSeed).Clean() }

// The intervals that model.R fits are those of the published fit: as many rows,
// as many intervals.
func TestModelUsesTheSameIntervals(t *testing.T) {
	in := input(t, season(t), metadata())
	in.NoFit, in.LeaveOutBlocked = false, true
	r, err := prepare(&in)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.fit(context.Background()); err != nil {
		t.Fatal(err)
	}
	rows, intervals, out := map[string]bool{}, 0, 0
	table := r.intervalTable()
	err = table.each(func(cells []string) error {
		if cells[len(cells)-1] == "yes" {
			rows[cells[0]] = true
			intervals++
		} else {
			out++
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != r.fitted.Result.Deployments || intervals != r.fitted.Result.Intervals {
		t.Errorf("model.R uses %d rows and %d intervals, the published fit %d and %d", len(rows), intervals, r.fitted.Result.Deployments, r.fitted.Result.Intervals)
	}
	if out == 0 {
		t.Error("the season has no interval that stays out, so this test tells nothing")
	}
}

// glmmTMB, an independent program, finds the published log-likelihood again.
func TestModelRefits(t *testing.T) {
	rscript := outside.R(t, "glmmTMB")
	in := input(t, season(t), metadata())
	in.NoFit, in.LeaveOutBlocked = false, true
	dir, _ := published(t, in)
	var said bytes.Buffer
	c := exec.Command(rscript, filepath.Join(dir, "model.R"))
	c.Stdout, c.Stderr = &said, &said
	if err := c.Run(); err != nil {
		t.Fatalf("%v\n%s", err, said.String())
	}
	// The script itself holds every number to its tolerance (methods/model.R).
	if !strings.Contains(said.String(), "log-likelihood ") || !strings.Contains(said.String(), "All within tolerance.") {
		t.Errorf("model.R sets nothing beside the published numbers:\n%s", said.String())
	}
	t.Log(said.String())
}
