package quality

import "soakline/internal/assay"

func countExamples() []example {
	some, none := assay.Some[int], assay.None[int]()
	unwritten := func(s *season) {
		s.check(1).Lost, s.check(2).Lost = none, none
	}
	return []example{
		{"baits-missing", "baits_deployed", "not written", func(s *season) { s.d().Baits = 0 }, func(s *season) { s.d().Baits = 1 }},
		{"count-negative", "consumed_by_check1", "-1 is below 0",
			func(s *season) { s.check(1).Consumed = some(-1) }, func(s *season) { s.check(1).Consumed = some(0) }},
		{"consumed-over-deployed", "consumed_by_check1", "26 baits consumed of 25 deployed; ",
			func(s *season) { s.check(1).Consumed = some(26) }, func(s *season) { s.check(1).Consumed = some(25) }},
		{"lost-over-deployed", "lost_by_check2", "26 baits lost of 25 deployed; ",
			func(s *season) { s.check(2).Lost = some(26) }, func(s *season) { s.check(2).Lost = some(25) }},
		{"consumed-and-lost-over-deployed", "lost_by_check2", "12 baits consumed and 14 lost make 26 of 25",
			func(s *season) { s.check(2).Lost = some(14) }, func(s *season) { s.check(2).Lost = some(13) }},
		{"unread-over-left", "unread_at_check1", "17 baits not read where 16 were left",
			func(s *season) { s.check(1).Unread = some(17) }, func(s *season) { s.check(1).Unread = some(16) }},
		{"consumed-falls", "consumed_by_check2", "8 baits consumed by check 2 and 9 by check 1",
			func(s *season) { s.check(2).Consumed = some(8) }, func(s *season) { s.check(2).Consumed = some(9) }},
		{"lost-falls", "lost_by_check2", "one bait lost by check 2 and 2 by check 1",
			func(s *season) { s.check(1).Lost = some(2) }, func(s *season) { s.check(1).Lost = some(1) }},
		{"retrieved-over-deployed", "stakes_retrieved", "26 stakes retrieved of 25",
			func(s *season) { s.d().StakesRetrieved = some(26) }, func(s *season) { s.d().StakesRetrieved = some(25) }},
		{"check-twice", "check", "check 1 is there twice",
			func(s *season) { s.check(2).Number = 1 }, func(s *season) {}},
		{"counts-without-time", "check2_at", "no time of check 2, at which 12 baits were",
			func(s *season) { s.check(2).At = assay.Moment{} },
			func(s *season) { *s.check(2) = assay.Check{Number: 2, WhyNot: "weather"} }},
		{"time-without-counts", "consumed_by_check2", "2026-07-02 09:00 +01:00 but has no counts",
			func(s *season) { s.check(2).Consumed = none },
			func(s *season) { s.check(2).Consumed = none; s.check(2).WhyNot = "weather" }},
		{"counts-and-reason", "why_no_check2", "(weather)",
			func(s *season) { s.check(2).WhyNot = "weather" },
			func(s *season) { s.check(2).Consumed = none; s.check(2).WhyNot = "weather" }},
		{"lost-without-consumed", "consumed_by_check2", "1 lost by check 2",
			func(s *season) { s.check(2).Consumed = none },
			func(s *season) { s.check(2).Consumed, s.check(2).Lost = none, none }},
		{"never-read", "consumed_by_check1", "no check of this row has counts",
			func(s *season) { s.d().Checks = nil },
			func(s *season) {
				s.d().Checks = []assay.Check{{Number: 1, WhyNot: "access"}, {Number: 2, WhyNot: "access"}}
			}},
		{"unread-at-last-check", "unread_at_check2", "2 baits not read at the last check",
			func(s *season) { s.check(2).Unread = some(2) }, func(s *season) { s.check(1).Unread = some(2) }},
		{"all-left-lost", "lost_by_check2", "every bait left (16) is written as lost at check 2",
			func(s *season) { s.check(2).Consumed, s.check(2).Lost = some(9), some(16) },
			func(s *season) { s.check(2).Consumed, s.check(2).Lost = some(10), some(15) }},
		// 8 of 25 is 0.32, 7 of 25 is 0.28; the protocol asks above 0.3.
		{"lost-share-high", "lost_by_check2", "8 of 25 baits lost (32 %, asked above 30 %)",
			func(s *season) { s.check(2).Lost = some(8) }, func(s *season) { s.check(2).Lost = some(7) }},
		{"stakes-left-behind", "stakes_retrieved", "23 of 25 stakes retrieved and 1 lost, one is not",
			func(s *season) { s.d().StakesRetrieved = some(23) }, func(s *season) { s.d().StakesRetrieved = some(24) }},
		{"lost-gap", "lost_by_check2", "0 is carried forward",
			func(s *season) { s.check(2).Lost, s.d().StakesRetrieved = none, none },
			func(s *season) { s.check(2).Lost = some(0) }},
		// min(25 − 24, 25 − 12) = 1: docs/methods/rates.md, "Risk sets".
		{"lost-from-retrieved", "lost_by_check2", "1 taken as lost by the last check",
			unwritten, func(s *season) { unwritten(s); s.d().StakesRetrieved = none }},
		{"lost-not-written", "lost_by_check2", "none of the 25 is taken as lost",
			func(s *season) { unwritten(s); s.d().StakesRetrieved = none }, unwritten},
	}
}
