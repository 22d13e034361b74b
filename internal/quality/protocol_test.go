package quality

import (
	"time"

	"soakline/internal/assay"
	"soakline/internal/gear"
	"soakline/internal/sheet"
)

// soak moves check k so that its soak is h hours, by the midpoints that good
// rows have: setting takes 20 minutes and reading 10, so the first bait is read
// five minutes later than soak hours after the first was set.
func soak(s *season, k int, h float64) {
	c := s.check(k)
	c.At = later(s.d().SetOut, time.Duration(h*float64(time.Hour))+5*time.Minute)
	c.Until = later(c.At, 10*time.Minute)
	s.d().RetrievedAt = assay.Moment{}
}

func soakExamples() []example {
	return []example{
		{"soak-fits-other-check", "check1_at", "after 24.0 h, the soak of check 2",
			func(s *season) { s.d().Checks = s.d().Checks[:1]; soak(s, 1, 24) },
			func(s *season) { s.d().Checks = s.d().Checks[:1]; soak(s, 1, 12) }},
		// Four tolerances of 2 h are 8 h.
		{"soak-far-off", "check2_at", "after 33.0 h, nominal 24 h ± 2 h",
			func(s *season) { soak(s, 2, 33) }, func(s *season) { soak(s, 2, 32) }},
		{"soak-off-nominal", "check2_at", "after 19.00 h, nominal 24 h ± 2 h",
			func(s *season) { soak(s, 2, 19) }, func(s *season) { soak(s, 2, 22) }},
		{"missed-without-reason", "consumed_by_check2", "no check 2 (nominal 24 h)",
			func(s *season) { s.d().Checks = s.d().Checks[:1] },
			func(s *season) { s.d().Checks = s.d().Checks[:1]; s.ctx.Now = later(s.d().SetOut, 26*time.Hour).At }},
	}
}

func protocolExamples() []example {
	num := assay.Some[float64]
	other := func(change func(*assay.Protocol)) func(*season) {
		return func(s *season) {
			all, _ := sheet.Protocols()
			p := all["standard 1"]
			p.Name = "half"
			change(&p)
			all["half 1"] = p
			s.ctx.Protocols, s.d().Protocol = all, "half 1"
		}
	}
	same := other(func(*assay.Protocol) {})
	return []example{
		{"depth-ends-crossed", "depth_min_m", "shallow end at 1.6 m is deeper than the deep end at 1.5 m",
			func(s *season) { s.d().DepthMinM = num(1.6) }, func(s *season) { s.d().DepthMinM = num(1.5) }},
		{"protocol-unknown", "protocol", "shore 9 is no protocol known here, judged by standard 1",
			func(s *season) { s.d().Protocol = "shore 9" }, func(s *season) { s.d().Protocol = "" }},
		{"baits-unlike-protocol", "baits_deployed", "24 baits deployed, 25 in the protocol",
			func(s *season) { s.d().Baits = 24 }, func(s *season) { s.d().Baits = 25 }},
		{"form-unlike-protocol", "bait_form", "bait form strip, the protocol allows disc and square",
			func(s *season) { s.d().BaitForm = "strip" },
			func(s *season) { s.d().BaitForm, s.d().BaitSizeMM = "square", num(10) }},
		// A square of 13 mm is off, a disc of 14.5 mm is not (13 ± 1.5).
		{"size-unlike-protocol", "bait_size_mm", "bait of 13 mm, 10 ± 1.5 mm in the protocol",
			func(s *season) { s.d().BaitForm = "square" }, func(s *season) { s.d().BaitSizeMM = num(14.5) }},
		{"spacing-unlike-protocol", "spacing_m", "stakes 2.6 m apart, 2 ± 0.5 m",
			func(s *season) { s.d().SpacingM = num(2.6) }, func(s *season) { s.d().SpacingM = num(2.5) }},
		{"depth-change-large", "depth_max_m", "changes by 2.1 m along the row",
			func(s *season) { s.d().DepthMaxM = num(3.1) }, func(s *season) { s.d().DepthMaxM = num(3) }},
		{"other-habitat-near", "near_other_habitat", "another habitat is close to this row in sand",
			func(s *season) { s.d().NearOtherHabitat = assay.Some(true) },
			func(s *season) { s.d().NearOtherHabitat = assay.Some(false) }},
		{"checks-unlike-protocol", "consumed_by_check3", "check 3 is there, the protocol has 2 checks",
			func(s *season) {
				s.d().Checks = append(s.d().Checks, assay.Check{Number: 3, At: later(s.d().SetOut, 48*time.Hour), Consumed: assay.Some(20)})
			},
			func(s *season) { s.d().Checks = append(s.d().Checks, assay.Check{Number: 3, WhyNot: "weather"}) }},
		{"threshold-unlike-default", "protocol", "more than 20 % is gone, 50 % in standard 1",
			other(func(p *assay.Protocol) { p.ConsumedFraction = 0.2 }), same},
		{"consumed-means-unlike-default", "protocol", "consumed means bait gone, in standard 1 bait gone and tether gone",
			other(func(p *assay.Protocol) { p.CountsAsConsumed = []assay.How{assay.BaitGone} }), same},
	}
}

func conditionExamples() []example {
	num := assay.Some[float64]
	return []example{
		{"temperature-unlikely", "temperature_c", "70 °C is outside -2 to 40 °C",
			func(s *season) { s.d().TemperatureC = num(70) }, func(s *season) { s.d().TemperatureC = num(40) }},
		{"salinity-unlikely", "salinity", "360 is outside 0 to 45",
			func(s *season) { s.d().Salinity = num(360) }, func(s *season) { s.d().Salinity = num(45) }},
		{"depth-unlikely", "depth_max_m", "150 m is outside -20 to 40 m",
			func(s *season) { s.d().DepthMaxM = num(150) }, func(s *season) { s.d().DepthMaxM = num(40) }},
		{"measure-unlikely", "row_bearing_deg", "361 ° is outside 0 to 360 °",
			func(s *season) { s.d().RowBearingDeg = num(361) }, func(s *season) { s.d().RowBearingDeg = num(360) }},
		{"habitat-names-control", "habitat", "called Control, but",
			func(s *season) { s.d().Habitat = "Control" },
			func(s *season) { s.d().Habitat, s.d().Control = "Control", assay.Shielded }},
	}
}

// batch is a list of one batch, B1.
func batch(b gear.Batch) []gear.Batch {
	b.Code = "B1"
	return []gear.Batch{b}
}

func measured(mm ...float64) gear.Batch {
	return gear.Batch{Form: "disc", Samples: []gear.Sample{{SizesMM: mm}}}
}

func peopleExamples() []example {
	return []example{
		{"required-missing", "habitat", "habitat is not written",
			func(s *season) { s.d().Habitat = " " }, func(s *season) {}},
		{"observers-missing", "observers", "no observers",
			func(s *season) { s.d().Observers = "" }, func(s *season) {}},
		{"people-not-back", "people_back_at_check2", "3 people went in at check 2 and 2 were counted back; make sure that everybody is ashore",
			func(s *season) { s.check(2).PeopleOut, s.check(2).PeopleBack = assay.Some(3), assay.Some(2) }, func(s *season) { s.check(2).PeopleOut, s.check(2).PeopleBack = assay.Some(3), assay.Some(3) }},
		{"people-more-back", "people_back", "3 people were counted back at setting out, and 2 went in",
			func(s *season) { s.d().PeopleOut, s.d().PeopleBack = assay.Some(2), assay.Some(3) }, func(s *season) { s.d().PeopleBack = assay.Some(3) }},
		{"people-back-not-written", "people_back_at_check1", "2 people went in at check 1 and nobody wrote",
			func(s *season) { s.check(1).PeopleOut = assay.Some(2) }, func(s *season) { s.check(1).PeopleOut, s.check(1).PeopleBack = assay.Some(2), assay.Some(2) }},
		{"batch-missing", "bait_batch", "no bait batch",
			func(s *season) { s.d().BaitBatch = "" }, func(s *season) {}},
		{"batch-unknown", "bait_batch", "no batch B7 in the list",
			func(s *season) { s.ctx.Batches, s.d().BaitBatch = batch(gear.Batch{}), "B1 + B7" }, func(s *season) { s.ctx.Batches = batch(gear.Batch{}) }},
		{"batch-expired", "bait_batch", "batch B1 expired on 2026-06-30",
			func(s *season) { s.ctx.Batches = batch(gear.Batch{ExpiresOn: "2026-06-30"}) }, func(s *season) { s.ctx.Batches = batch(gear.Batch{ExpiresOn: "2026-07-01"}) }},
		{"batch-before-prepared", "bait_batch", "batch B1 was prepared on 2026-07-02",
			func(s *season) { s.ctx.Batches = batch(gear.Batch{PreparedOn: "2026-07-02"}) }, func(s *season) { s.ctx.Batches = batch(gear.Batch{PreparedOn: "2026-07-01"}) }},
		// Of ten baits two are outside 13 ± 1.5 mm; one of ten is let pass.
		{"batch-unlike-protocol", "bait_batch", "2 of 10 baits measured of batch B1",
			func(s *season) { s.ctx.Batches = batch(measured(13, 13, 13, 13, 13, 13, 13, 13, 15, 11)) }, func(s *season) { s.ctx.Batches = batch(measured(13, 13, 13, 13, 13, 13, 13, 13, 14.5, 11)) }},
	}
}
