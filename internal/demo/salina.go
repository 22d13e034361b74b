package demo

import (
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/encoding/unicode"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// Salina's codes for habitats.
var salinaHabitats = map[string]string{seagrass: "SG", sand: "SA", reef: "RF"}

// Line 1 of each of Salina's files is the mark, line 2 the header.
const salinaFirst = 3

const salinaTime = "2006-01-02 15:04"

// salina writes four tab-separated tables in UTF-16: deployments, checks (one
// line each), the fate of every bait, and animals seen. NA and - mean missing.
func (s *Season) salina(c *crew, rows []*row) {
	deployments := newTable(filePrefix+"salina-deployments.txt", salinaFirst, "deployment_id", "programme", "team", "season", "site", "habitat", "latitude", "longitude",
		"set out", "baits", "bait_batch", "depth_min_m", "depth_max_m", "temperature_c", "control", "stakes_retrieved", "observers", "notes")
	checks := newTable(filePrefix+"salina-checks.txt", salinaFirst, "deployment_id", "check", "checked_at", "consumed", "lost", "unread")
	stakes := newTable(filePrefix+"salina-stakes.txt", salinaFirst, "deployment_id", "stake", "check", "fate", "how")
	sightings := newTable(filePrefix+"salina-sightings.txt", salinaFirst, "deployment_id", "from", "to", "method", "effort", "effort_unit", "taxon", "count", "took_bait", "absence_looked_for")
	for _, r := range rows {
		deployments.record(r, salinaCells(r))
		for _, k := range r.Checks {
			checks.record(r, map[string]string{"deployment_id": r.ID, "check": strconv.Itoa(k.Number), "checked_at": clock(k.At, salinaTime),
				"consumed": strconv.Itoa(k.Consumed.Or(0)), "lost": strconv.Itoa(k.Lost.Or(0)), "unread": strconv.Itoa(k.Unread.Or(0))})
		}
		for _, f := range r.Stakes {
			stakes.add(map[string]string{"deployment_id": r.ID, "stake": strconv.Itoa(f.Stake), "check": strconv.Itoa(f.Check), "fate": string(f.Fate), "how": missing(string(f.How))})
		}
		for _, v := range r.Sightings {
			sightings.add(map[string]string{"deployment_id": r.ID, "from": clock(v.From, salinaTime), "to": clock(v.To, salinaTime), "method": v.Method,
				"effort": number(v.Effort.Or(0)), "effort_unit": v.EffortUnit, "taxon": v.Taxon, "count": strconv.Itoa(v.Count.Or(0)),
				"took_bait": missing(yesNo(v.TookBait)), "absence_looked_for": missing(yesNo(v.AbsenceLooked))})
		}
	}
	s.habit(deployments, "", "tables-beside", ByReason)
	s.habit(deployments, "temperature_c", "missing-words", ByReason)
	s.habit(deployments, "habitat", "codes", ByQuestion)
	s.reply(deployments, "zone", c.zone, "zone")
	for _, h := range habitats {
		s.meant(deployments, "habitat", salinaHabitats[h], h)
	}
	s.salinaSlips(deployments, checks, stakes)
	checks.records = rows // each known by its last check now
	s.oddities(checks, "checked_at", "checked_at", "lost", "check")
	for _, t := range []*table{deployments, checks, stakes, sightings} {
		text := csvBytes(t, [][]string{{"# " + s.mark()}}, '\t')
		out, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().Bytes(text)
		if err != nil {
			panic("demo: " + err.Error())
		}
		s.file(t.file, out)
	}
}

func salinaCells(r *row) map[string]string {
	v := map[string]string{
		"deployment_id": r.ID, "programme": r.Programme, "team": r.Team, "season": r.Season, "site": r.Site, "habitat": salinaHabitats[r.Habitat],
		"latitude": number(r.Latitude.Or(0)), "longitude": number(r.Longitude.Or(0)), "set out": clock(r.SetOut, salinaTime), "baits": strconv.Itoa(r.Baits), "bait_batch": r.BaitBatch,
		"depth_min_m": number(r.DepthMinM.Or(0)), "depth_max_m": number(r.DepthMaxM.Or(0)), "temperature_c": "NA",
		"control": missing(string(r.Control)), "stakes_retrieved": strconv.Itoa(r.StakesRetrieved.Or(0)), "observers": r.Observers, "notes": r.Notes,
	}
	if c, ok := r.TemperatureC.Get(); ok {
		v["temperature_c"] = number(c)
	}
	return v
}

func missing(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

func yesNo(m assay.Maybe[bool]) string {
	b, ok := m.Get()
	switch {
	case !ok:
		return ""
	case b:
		return "yes"
	}
	return "no"
}

func (s *Season) salinaSlips(deployments, checks, stakes *table) {
	// A count that the fates of the stakes contradict: 1 and 2 change places or,
	// for a count of one figure, one too few.
	if r := deployments.pick(3, func(r *row) bool { return consumedBy(r, 2) >= 4 && consumedBy(r, 2)-consumedBy(r, 1) >= 2 }); r != nil {
		at := s.mistake(checks, r, "consumed", strconv.Itoa(consumedBy(r, 2)-2), "count-against-stakes", ByAsk)
		s.correct(at, "consumed_by_check2", at.Right, "count-against-stakes")
	}
	// A bait that was gone at the first check is there again at the second.
	if r := deployments.pick(8, func(r *row) bool { return consumedBy(r, 1) >= 2 }); r != nil {
		i := slices.IndexFunc(r.Stakes, func(f assay.StakeFate) bool { return f.Check == 1 && f.Fate == assay.Consumed })
		stakes.index[r] = stakes.find(r.ID, "2", strconv.Itoa(r.Stakes[i].Stake))
		at := s.mistake(stakes, r, "fate", string(assay.Present), "came-back", ByBlock)
		stakes.put(stakes.index[r], "how", "-")
		var second []assay.StakeFate
		for _, f := range r.Stakes {
			if f.Check == 2 {
				second = append(second, f)
			}
		}
		s.correct(at, "fates_at_check2", sheet.FormatFates(second), "came-back")
	}
}

// find is the index of the line of a deployment at a check, and of a stake when given.
func (t *table) find(id, check, stake string) int {
	for i := range t.lines {
		if t.get(i, "deployment_id") == id && t.get(i, "check") == check && (stake == "" || t.get(i, "stake") == stake) {
			return i
		}
	}
	panic("demo: no line of " + strings.Join([]string{id, check, stake}, " "))
}
