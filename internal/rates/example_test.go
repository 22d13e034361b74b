package rates

import (
	"testing"
	"time"

	"soakline/internal/assay"
)

// start is when every deployment of the tests was set out.
var start = time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)

// known is a value for tests; missing counts are written −1.
func known(v int) assay.Maybe[int] {
	if v < 0 {
		return assay.None[int]()
	}
	return assay.Some(v)
}

func moment(h float64) assay.Moment {
	return assay.Moment{At: start.Add(time.Duration(h * float64(time.Hour)))}
}

// row is a deployment with checks at the soaks (h), and cumulative counts; −1 is missing.
func row(id string, n int, soaks []float64, consumed, lost, unread []int) assay.Deployment {
	d := assay.Deployment{ID: id, Site: "s-" + id, Habitat: "sand", Baits: n, SetOut: moment(0)}
	for k, h := range soaks {
		c := assay.Check{Number: k + 1, At: moment(h), Consumed: known(consumed[k])}
		if lost != nil {
			c.Lost = known(lost[k])
		}
		if unread != nil {
			c.Unread = known(unread[k])
		}
		d.Checks = append(d.Checks, c)
	}
	return d
}

func compute(t *testing.T, o Options, ds ...assay.Deployment) *Result {
	t.Helper()
	res, err := Compute(t.Context(), ds, o)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

type assayRow = assay.Deployment
