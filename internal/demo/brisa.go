package demo

import (
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// brisa writes a clean canonical CSV with four slips of the hand.
func (s *Season) brisa(rows []*row) {
	all := make([]assay.Deployment, len(rows))
	for i, r := range rows {
		all[i] = r.Deployment
	}
	t := newTable(filePrefix+"brisa.csv", 3, canonicalColumns(all)...) // line 1 the mark, line 2 the header
	for _, r := range rows {
		t.record(r, sheet.Values(&r.Deployment))
	}
	s.brisaSlips(t)
	s.oddities(t, "why_no_check1", "check2_at", "lost_by_check2", "baits_deployed")
	s.file(t.file, csvBytes(t, [][]string{{"# " + s.mark()}}, ','))
}

func (s *Season) brisaSlips(t *table) {
	if r := t.pick(4, anyRow); r != nil {
		i := t.index[r]
		lat, lon := t.get(i, "latitude"), t.get(i, "longitude")
		at := s.mistake(t, r, "latitude", lon, "swapped", ByAsk)
		t.put(i, "longitude", lat)
		s.correct(at, "latitude", lat, "swapped")
		s.correct(at, "longitude", lon, "swapped")
	}
	if r := t.pick(9, func(r *row) bool { return r.site.name == "Quelvira" }); r != nil {
		at := s.mistake(t, r, "longitude", t.get(t.index[r], "longitude")[1:], "sign", ByAsk)
		s.correct(at, "longitude", at.Right, "sign")
	}
	// A 3 for a 2: only a count of 20 to 25 becomes impossible by it.
	if r := t.pick(12, func(r *row) bool { return consumedBy(r, 2) >= 20 }); r != nil {
		at := s.mistake(t, r, "consumed_by_check2", strconv.Itoa(consumedBy(r, 2)+10), "above-deployed", ByBlock)
		s.correct(at, "consumed_by_check2", at.Right, "above-deployed")
	}
	// The identifier of the row above, at the same site in the same season.
	if r := t.pick(18, func(r *row) bool {
		above := t.records[t.index[r]-1]
		return above.site == r.site && above.Season == r.Season && ordinary(above) && !above.marked
	}); r != nil {
		above := t.records[t.index[r]-1]
		above.marked = true
		at := s.mistake(t, r, "deployment_id", above.ID, "id-twice", ByBlock)
		// A logbook asks about the second line, and names its row with -2 behind.
		s.reply(t, "twice:"+above.ID+":"+strconv.Itoa(at.Line), "another", "id-twice")
		at.DeploymentID += "-2"
		s.correct(at, "deployment_id", r.ID, "id-twice")
	}
}
