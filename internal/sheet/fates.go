package sheet

import (
	"encoding/json"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
)

// Stake-level fates of one check are kept in one text of a logbook's record:
// a token per stake, its number, the fate's letter and, when said, the letter
// of the way: "1P 2Cb 3U 4L 5Cs".
var (
	fateLetters = map[assay.Fate]string{assay.Present: "P", assay.Consumed: "C", assay.Unread: "U", assay.Lost: "L"}
	howLetters  = map[assay.How]string{assay.BaitGone: "b", assay.TetherGone: "t", assay.StakeGone: "s"}
	letterFates = map[byte]assay.Fate{'P': assay.Present, 'C': assay.Consumed, 'U': assay.Unread, 'L': assay.Lost}
	letterHows  = map[string]assay.How{"": "", "b": assay.BaitGone, "t": assay.TetherGone, "s": assay.StakeGone}
)

// FormatFates writes the fates of one check.
func FormatFates(fates []assay.StakeFate) string {
	sorted := append([]assay.StakeFate(nil), fates...)
	sort.SliceStable(sorted, func(i, j int) bool { return sorted[i].Stake < sorted[j].Stake })
	tokens := make([]string, len(sorted))
	for i, f := range sorted {
		tokens[i] = strconv.Itoa(f.Stake) + fateLetters[f.Fate] + howLetters[f.How]
	}
	return strings.Join(tokens, " ")
}

// ParseFates reads what FormatFates wrote.
func ParseFates(column, s string, check int) ([]assay.StakeFate, *Fault) {
	var out []assay.StakeFate
	for _, token := range strings.Fields(s) {
		digits := strings.TrimRight(token, "PCULbts")
		rest := token[len(digits):]
		stake, err := strconv.Atoi(digits)
		if err != nil || rest == "" {
			return nil, fault(column, s, "fates", nil)
		}
		fate, okFate := letterFates[rest[0]]
		how, okHow := letterHows[rest[1:]]
		if !okFate || !okHow {
			return nil, fault(column, s, "fates", nil)
		}
		out = append(out, assay.StakeFate{Stake: stake, Check: check, Fate: fate, How: how})
	}
	return out, nil
}

// sighting is the kept form of an assay.Sighting: canonical texts by column.
type sighting map[string]string

// FormatSightings writes sightings as one text.
func FormatSightings(list []assay.Sighting) string {
	if len(list) == 0 {
		return ""
	}
	out := make([]sighting, len(list))
	for i, s := range list {
		v := sighting{}
		put := func(name, text string) {
			if text != "" {
				v[name] = text
			}
		}
		put("from", FormatMoment(s.From))
		put("to", FormatMoment(s.To))
		put("method", s.Method)
		put("effort", formatMaybeNumber(s.Effort))
		put("effort_unit", s.EffortUnit)
		put("taxon", s.Taxon)
		put("count", formatMaybeCount(s.Count))
		put("took_bait", formatMaybeFlag(s.TookBait))
		put("absence_looked_for", formatMaybeFlag(s.AbsenceLooked))
		out[i] = v
	}
	b, err := json.Marshal(out)
	if err != nil {
		panic("sheet: sightings of texts cannot be written: " + err.Error())
	}
	return string(b)
}

// ParseSightings reads what FormatSightings wrote.
func ParseSightings(column, s string) ([]assay.Sighting, []*Fault) {
	if s == "" {
		return nil, nil
	}
	var texts []sighting
	if err := json.Unmarshal([]byte(s), &texts); err != nil {
		return nil, []*Fault{fault(column, s, "sightings", nil)}
	}
	var out []assay.Sighting
	var faults []*Fault
	for _, v := range texts {
		one, f := Sighting(v)
		out = append(out, one)
		faults = append(faults, f...)
	}
	return out, faults
}

// Sighting reads the canonical texts of one line of a sightings table.
func Sighting(v map[string]string) (assay.Sighting, []*Fault) {
	r := reader{values: v, table: Sightings}
	s := assay.Sighting{
		From: r.moment("from"), To: r.moment("to"), Method: r.word("method"),
		Effort: r.number("effort"), EffortUnit: v["effort_unit"], Taxon: v["taxon"],
		Count: r.count("count"), TookBait: r.flag("took_bait"), AbsenceLooked: r.flag("absence_looked_for"),
	}
	return s, r.faults
}
