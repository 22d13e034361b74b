package quality

import "soakline/internal/assay"

// fated gives the good row the fates of its 25 stakes that its counts say: 9
// consumed at check 1, 12 by check 2, stake 25 lost at check 2.
func fated(s *season) {
	for k, eaten := range []int{9, 12} {
		check := k + 1
		for stake := 1; stake <= 25; stake++ {
			f := assay.StakeFate{Stake: stake, Check: check, Fate: assay.Present}
			switch {
			case stake <= eaten:
				f.Fate = assay.Consumed
			case stake == 25 && check == 2:
				f.Fate = assay.Lost
			}
			s.d().Stakes = append(s.d().Stakes, f)
		}
	}
}

// fate is that of one stake at one check.
func (s *season) fate(stake, check int) *assay.StakeFate {
	for i := range s.d().Stakes {
		if f := &s.d().Stakes[i]; f.Stake == stake && f.Check == check {
			return f
		}
	}
	return nil
}

func stakeExamples() []example {
	with := func(change func(*season)) func(*season) {
		return func(s *season) { fated(s); change(s) }
	}
	good := with(func(*season) {})
	more := func(f assay.StakeFate) func(*season) {
		return with(func(s *season) { s.d().Stakes = append(s.d().Stakes, f) })
	}
	return []example{
		{"stake-outside-row", "fates_at_check1", "stake 26 at check 1, in a row of 25",
			more(assay.StakeFate{Stake: 26, Check: 1, Fate: assay.Present}), good},
		{"stake-twice", "fates_at_check1", "stake 3 listed twice at check 1",
			more(assay.StakeFate{Stake: 3, Check: 1, Fate: assay.Present}), good},
		{"consumed-present-again", "fates_at_check2", "stake 1 present at check 2, consumed at an earlier one",
			with(func(s *season) { s.fate(1, 2).Fate = assay.Present }), with(func(s *season) { s.fate(1, 2).Fate = assay.Lost })},
		{"lost-seen-again", "fates_at_check2", "stake 20 seen at check 2, lost at an earlier one",
			with(func(s *season) { s.fate(20, 1).Fate = assay.Lost }), with(func(s *season) { s.fate(20, 1).Fate = assay.Unread })},
		{"fates-unlike-counts", "consumed_by_check2", "12 consumed and 1 lost by the counts of check 2, 13 and 1 by the fates",
			with(func(s *season) { s.fate(13, 2).Fate = assay.Consumed }), good},
		{"fates-incomplete", "fates_at_check1", "24 of 25 stakes have a fate at check 1",
			with(func(s *season) { s.d().Stakes = s.d().Stakes[1:] }), good},
		{"fates-without-check", "fates_at_check3", "fates of stake 4 at check 3",
			more(assay.StakeFate{Stake: 4, Check: 3, Fate: assay.Present}), good},
		{"how-unlike-protocol", "fates_at_check1", "stake 2 at check 1: by the way the bait went",
			with(func(s *season) { s.fate(2, 1).How = assay.StakeGone }), with(func(s *season) { s.fate(2, 1).How = assay.TetherGone })},
	}
}

func sightingExamples() []example {
	one := func(change func(*assay.Sighting)) func(*season) {
		return func(s *season) {
			from := s.d().SetOut
			x := assay.Sighting{From: from, To: later(from, 1800e9), Method: "video", Effort: assay.Some(30.0), EffortUnit: "min",
				Taxon: "Diplodus sargus", Count: assay.Some(3), TookBait: assay.Some(true)}
			change(&x)
			s.d().Sightings = []assay.Sighting{x}
		}
	}
	good := one(func(*assay.Sighting) {})
	none := func(x *assay.Sighting) {
		x.Count, x.TookBait, x.AbsenceLooked = assay.Some(0), assay.Some(false), assay.Some(true)
	}
	return []example{
		{"absence-without-effort", "effort", "absence looked for and no effort (Diplodus sargus)",
			one(func(x *assay.Sighting) { none(x); x.Effort = assay.None[float64]() }), one(none)},
		{"zero-without-absence", "absence_looked_for", "none seen of Diplodus sargus",
			one(func(x *assay.Sighting) { none(x); x.AbsenceLooked = assay.None[bool]() }), one(none)},
		{"seen-and-absent", "count", "counted and also marked as absence",
			one(func(x *assay.Sighting) { x.AbsenceLooked = assay.Some(true) }), good},
		{"took-bait-unseen", "took_bait", "took a bait with a count of 0",
			one(func(x *assay.Sighting) { x.Count = assay.Some(0) }), good},
		{"sighting-negative", "count", "below 0",
			one(func(x *assay.Sighting) { x.Count = assay.Some(-1) }), good},
		{"sighting-ends-early", "to", "ends before it begins",
			one(func(x *assay.Sighting) { x.To = later(x.From, -1) }), one(func(x *assay.Sighting) { x.To = x.From })},
		{"taxon-missing", "taxon", "a sighting without a name",
			one(func(x *assay.Sighting) { x.Taxon = "" }), good},
		{"effort-without-unit", "effort_unit", "effort without a unit",
			one(func(x *assay.Sighting) { x.EffortUnit = "" }), good},
	}
}
