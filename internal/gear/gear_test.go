package gear

import (
	"math"
	"testing"
	"time"

	"soakline/internal/assay"
)

func at(s string) assay.Moment {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return assay.Moment{At: t}
}

// By hand, one row of 25 set on 1 July: 21 counted back, so 4 are missing; 2
// found in August, 1 written off: 1 is open. It is told until that one is settled.
func TestStillOutByHand(t *testing.T) {
	back := &assay.Deployment{Key: "a", ID: "D1", Baits: 25, SetOut: at("2026-07-01T09:00:00Z"), StakesRetrieved: assay.Some(21), RetrievedAt: at("2026-07-02T09:30:00Z"),
		Stakes: []assay.StakeFate{{Stake: 3, Check: 1, Fate: assay.Lost}, {Stake: 7, Check: 2, Fate: assay.Lost}, {Stake: 9, Check: 2, Fate: assay.Consumed, How: assay.StakeGone}}}
	due := &assay.Deployment{Key: "b", ID: "D2", Baits: 25, SetOut: at("2026-06-01T09:00:00Z"), Checks: []assay.Check{{Number: 1, At: at("2026-06-01T10:00:00Z"), Consumed: assay.Some(3)}}}
	whole := &assay.Deployment{Key: "c", ID: "D3", Baits: 25, SetOut: at("2026-07-01T09:00:00Z"), StakesRetrieved: assay.Some(25)}
	silent := &assay.Deployment{Key: "d", ID: "D4", Baits: 25, SetOut: at("2026-07-03T09:00:00Z")}
	later := &assay.Deployment{Key: "e", ID: "D5", Baits: 25, SetOut: at("2026-09-03T09:00:00Z")}
	planned := &assay.Deployment{Key: "f", ID: "D6", Baits: 25}
	rows := []Row{{due, true, time.Time{}}, {back, false, time.Time{}}, {whole, false, time.Time{}}, {silent, false, time.Time{}}, {later, true, time.Time{}}, {planned, true, time.Time{}}}
	settled := []Settled{{Record: "a", N: 2, Found: true}, {Record: "a", N: 1, Where: "rock", Why: "under a boulder"}, {Record: "x", N: 9, Found: true}}
	got := StillOut(rows, settled, at("2026-07-11T09:00:00Z").At)
	if len(got) != 3 || got[0].ID != "D1" || got[1].ID != "D4" || got[2].ID != "D2" {
		t.Fatalf("%+v", got)
	}
	o := got[0]
	if o.State != Missing || o.Open != 1 || o.Found != 2 || o.WrittenOff != 1 || o.OutH.Or(0) != 240 || len(o.Stakes) != 2 || o.Stakes[0] != 7 || !o.LastSeen.At.Equal(back.RetrievedAt.At) {
		t.Errorf("%+v", o)
	}
	if got[1].State != NotWritten || got[1].Open != 25 || got[2].State != VisitsDue || !got[2].LastSeen.At.Equal(due.Checks[0].At.At) {
		t.Errorf("%+v", got[1:])
	}
	// The visits of D2 should have been over on 3 June: it is out too long.
	rows[0].DueUntil = at("2026-06-03T11:00:00Z").At
	if late := StillOut(rows, settled, at("2026-07-11T09:00:00Z").At); late[0].ID != "D2" || late[0].State != NotWritten {
		t.Errorf("%+v", late[0])
	}
	rows[0].DueUntil = time.Time{}
	if r, s := Overdue(got); r != 2 || s != 26 {
		t.Errorf("%d rows, %d stakes overdue, want 2 and 1 + 25", r, s)
	}
	if got := StillOut(rows, append(settled, Settled{Record: "a", N: 1, Found: true}), time.Time{}); len(got) != 3 || got[0].ID != "D4" || got[0].OutH.Known() {
		t.Errorf("all four settled, no clock: %+v", got) // D4, then those with visits due: D2, D5
	}
}

// By hand: 12, 13, 14, 15 mm: mean 13.5, squares 2.25 + 0.25 + 0.25 + 2.25 = 5
// over 3, SD 1.29099. The protocol has 13 +- 1.5: 15 is outside. As squares (10
// mm) all four are; with no form written 15 is.
func TestSampleByHand(t *testing.T) {
	mm := []float64{12, 13, 14, 15}
	p := assay.Protocol{BaitForm: "disc", BaitSizeMM: 13, BaitSizeToleranceMM: 1.5, OtherForms: []assay.BaitForm{{Form: "square", SizeMM: 10}}}
	for form, want := range map[string]int{"disc": 1, "square": 4, "": 1} {
		s, ok := Summarise(mm, SizeOutside(Batch{Form: form}, p))
		if !ok || s.N != 4 || s.Mean != 13.5 || math.Abs(s.SD-1.29099) > 5e-6 || s.Min != 12 || s.Max != 15 || s.Outside != want {
			t.Errorf("%q: %+v", form, s)
		}
	}
	if s, _ := Summarise([]float64{8, 10, 10.5}, LineOutside); s.Outside != 1 {
		t.Errorf("%+v", s)
	}
	if _, ok := Summarise(nil, LineOutside); ok {
		t.Error("nothing was summed up")
	}
	b := Batch{PreparedOn: "2026-06-01", ExpiresOn: "2026-07-01"}
	for day, want := range map[string][2]bool{"2026-05-31": {true, false}, "2026-06-01": {}, "2026-07-01": {}, "2026-07-02": {false, true}, "x": {}} {
		if early, late := b.AgainstDay(day); early != want[0] || late != want[1] {
			t.Errorf("%s: %v %v", day, early, late)
		}
	}
}

// By hand, 12 baits of which 6 are consumed; a reader says consumed for 5 of
// these and for 1 of the others: 10 alike, po = 10/12. Each says consumed for 6
// of 12: pe = 1/4 + 1/4. Kappa = (10/12 - 1/2) / (1/2) = 2/3.
// And 4 of 4 against 1 of 4: po = 1/4, pe = 1*1/4 + 0 = 1/4, kappa 0; all alike
// and all yes: pe = 1, no kappa; each the other's opposite, half yes: kappa -1.
func TestKappaByHand(t *testing.T) {
	yes := func(s string) (out []bool) {
		for _, c := range s {
			out = append(out, c == '2')
		}
		return out
	}
	for _, c := range []struct {
		a, b  string
		same  int
		kappa assay.Maybe[float64]
	}{
		{"222222111111", "222221211111", 10, assay.Some(2.0 / 3)},
		{"2222", "2111", 1, assay.Some(0.0)},
		{"2222", "2222", 4, assay.None[float64]()},
		{"2211", "1122", 0, assay.Some(-1.0)},
		{"2211", "2211", 4, assay.Some(1.0)},
		{"", "", 0, assay.None[float64]()},
	} {
		g := Agree(yes(c.a), yes(c.b))
		if g.Same != c.same || g.Kappa.Known() != c.kappa.Known() || math.Abs(g.Kappa.Or(0)-c.kappa.Or(0)) > 1e-12 {
			t.Errorf("%s %s: %+v", c.a, c.b, g)
		}
	}
}
