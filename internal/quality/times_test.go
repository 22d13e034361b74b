package quality

import (
	"time"
	_ "time/tzdata"

	"soakline/internal/assay"
)

func timeExamples() []example {
	set := good(0).SetOut
	zoned := func(m assay.Moment, zone string) assay.Moment { m.Zone = zone; return m }
	return []example{
		{"set-out-missing", "deployed_at", "setting out is not written",
			func(s *season) { s.d().SetOut = assay.Moment{} }, func(s *season) {}},
		{"check-not-after-setting-out", "check1_at", "check 1 at 2026-07-01 09:00 +01:00 is not after",
			func(s *season) { s.check(1).At = set }, func(s *season) { s.check(1).At = later(set, 10*time.Minute) }},
		{"checks-out-of-order", "check2_at", "comes before check 1",
			func(s *season) { s.check(2).At = later(set, 59*time.Minute) },
			func(s *season) {
				s.check(2).At, s.check(2).Until = later(set, 61*time.Minute), later(set, 71*time.Minute)
			}},
		{"checks-at-same-time", "check2_at", "same time as check 1",
			func(s *season) { s.check(2).At = s.check(1).At }, func(s *season) { s.check(2).At = later(s.check(1).At, time.Minute) }},
		{"span-negative", "deployed_until", "is before the begin",
			func(s *season) { s.d().SetOutUntil = later(set, -time.Minute) }, func(s *season) { s.d().SetOutUntil = set }},
		{"span-too-long", "check2_until", "more than 2.0 h",
			func(s *season) { s.check(2).Until = later(s.check(2).At, 121*time.Minute) },
			func(s *season) { s.check(2).Until = later(s.check(2).At, 2*time.Hour) }},
		{"retrieved-too-early", "retrieved_at", "still in the water at 2026-07-02 09:00 +01:00 (check 2)",
			func(s *season) { s.d().RetrievedAt = later(s.check(2).At, -time.Minute) },
			func(s *season) { s.d().RetrievedAt = s.check(2).At }},
		{"abandoned-too-early", "abandoned_at", "still looked after at 2026-07-02 09:00 +01:00 (check 2)",
			func(s *season) { s.d().AbandonedAt = later(s.check(2).At, -time.Minute) },
			func(s *season) { s.d().AbandonedAt = s.check(2).At }},
		{"end-without-start", "check2_at", "check 2 has an end",
			func(s *season) { s.check(2).At, s.check(2).Consumed = assay.Moment{}, assay.None[int]() },
			func(s *season) {
				*s.check(2) = assay.Check{Number: 2, WhyNot: "weather"}
			}},
		{"check-during-setting", "check1_at", "before the row was wholly set out",
			func(s *season) { s.d().SetOutUntil = later(set, 61*time.Minute) },
			func(s *season) { s.d().SetOutUntil = later(set, 60*time.Minute) }},
		{"in-future", "deployed_at", "lies in the future",
			func(s *season) { s.ctx.Now = set.At.Add(-time.Second) }, func(s *season) { s.ctx.Now = s.d().RetrievedAt.At }},
		{"long-ago", "deployed_at", "before 1950",
			func(s *season) { s.d().SetOut = at("1949-12-31T09:00Z") }, func(s *season) { s.d().SetOut = at("1950-01-01T09:00Z") }},
		{"year-unlike-others", "deployed_at", "2026-07-01 09:00 +01:00 would fit",
			func(s *season) { s.add(4); s.d().SetOut = at("2025-07-01T09:00+01:00") },
			func(s *season) { s.add(4); s.d().SetOut = at("2026-02-01T09:00+01:00") }},
		// Lisbon put its clocks back at 01:00 UTC on 2026-10-25 (Directive
		// 2000/84/EC): 01:30 came at 00:30Z and at 01:30Z, 02:30 only at 02:30Z.
		{"clock-put-back", "deployed_at", "showed 2026-10-25 01:30 twice",
			func(s *season) { s.d().SetOut = zoned(at("2026-10-25T01:30+01:00"), "Europe/Lisbon") },
			func(s *season) { s.d().SetOut = zoned(at("2026-10-25T02:30Z"), "Europe/Lisbon") }},
		{"zone-assumed", "deployed_at", "one time without an offset from UTC, read by the clock of Europe/Lisbon",
			func(s *season) { s.d().SetOut = zoned(set, "Europe/Lisbon") }, func(s *season) {}},
	}
}
