package entry

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/rates"
	"soakline/internal/sheet"
)

// reader reads one typed sheet.
type reader struct {
	typed map[string]string
	s     Setting
	out   Reading
	set   time.Time // first bait in; zero where not known
	last  time.Time // the latest time read so far
}

// Read reads a typed sheet. Every field of Columns comes out, empty where
// nothing was typed; an empty text of an earlier record is thereby taken away.
func Read(typed map[string]string, s Setting) Reading {
	r := &reader{typed: map[string]string{}, s: s, out: Reading{Values: map[string]string{}}}
	for name, text := range typed {
		r.typed[name] = strings.TrimSpace(text)
	}
	r.plain()
	r.position(Position, "latitude", "longitude")
	r.position(Last, "last_latitude", "last_longitude")
	r.setting()
	for k := range s.Protocol.Checks {
		r.check(k + 1)
	}
	r.put("retrieved_at", r.forward("retrieved_at"))
	if s.Stakes {
		r.fromStakes()
	}
	r.heads(0)
	for k := range s.Protocol.Checks {
		r.sum(k + 1)
		r.heads(k + 1)
	}
	return r.out
}

func (r *reader) put(name, text string) { r.out.Values[name] = text }

func (r *reader) wrong(column, value, slug string, with map[string]any) {
	all := map[string]any{"value": value}
	for k, v := range with {
		all[k] = v
	}
	r.out.Faults = append(r.out.Faults, &sheet.Fault{Column: column, Value: value,
		Wrong: assay.Said{Slug: "entry." + slug + ".wrong", With: all}, Do: assay.Said{Slug: "entry." + slug + ".do", With: all}})
}

// plain are the fields that need no other: texts, counts, numbers, choices.
func (r *reader) plain() {
	for _, name := range []string{"deployment_id", "watch_against", "stakes_left", "landmarks", "notes"} {
		r.put(name, r.typed[name])
	}
	for _, name := range []string{"site", "habitat", "observers"} {
		r.put(name, r.listed(name, r.s.Lists[name]))
	}
	r.put("bait_batch", r.batches())
	for _, name := range []string{"baits_deployed", "stakes_retrieved", "people_out", "people_back"} {
		r.put(name, r.count(name))
	}
	for _, name := range []string{"depth_min_m", "depth_max_m", "row_bearing_deg", "temperature_c", "visibility_m"} {
		r.put(name, r.number(name))
	}
	r.put("first_stake_side", r.word("first_stake_side", Sides))
	switch t := r.typed["near_other_habitat"]; t {
	case "1", "yes":
		r.put("near_other_habitat", "yes")
	case "2", "0", "no":
		r.put("near_other_habitat", "no")
	case "":
		r.put("near_other_habitat", "")
	default:
		r.wrong("near_other_habitat", t, "yes-no", nil)
	}
}

// listed takes an entry of a list by its number; a name that is typed out, or
// that is itself such a number, stands.
func (r *reader) listed(name string, list []string) string {
	t := r.typed[name]
	n, err := strconv.Atoi(t)
	if err != nil || slices.Contains(list, t) || len(list) == 0 {
		return t
	}
	if n < 1 || n > len(list) {
		r.wrong(name, t, "number-of-list", map[string]any{"n": len(list)})
		return t
	}
	return list[n-1]
}

// batches reads one or two bait batches, by name or by number in the list.
func (r *reader) batches() string {
	list := r.s.Lists["bait_batch"]
	if slices.Contains(list, r.typed["bait_batch"]) {
		return r.typed["bait_batch"]
	}
	whole := r.typed["bait_batch"]
	var names []string
	for _, part := range assay.BatchCodes(whole) {
		r.typed["bait_batch"] = part
		names = append(names, r.listed("bait_batch", list))
	}
	r.typed["bait_batch"] = whole
	return strings.Join(names, assay.BatchBetween)
}

func (r *reader) count(name string) string {
	t := r.typed[name]
	if t == "" {
		return ""
	}
	n, err := strconv.Atoi(t)
	if err != nil || n < 0 || n > 1000 {
		r.wrong(name, t, "count", nil)
		return ""
	}
	return strconv.Itoa(n)
}

func (r *reader) number(name string) string {
	t := strings.Replace(r.typed[name], ",", ".", 1)
	if t == "" {
		return ""
	}
	if _, f := sheet.ParseNumber(name, t); f != nil {
		r.wrong(name, r.typed[name], "number", nil)
		return ""
	}
	return t
}

// word reads one of a few words, by its number or as it is.
func (r *reader) word(name string, list []string) string {
	t := r.typed[name]
	if t == "" || slices.Contains(list, t) {
		return t
	}
	if n, err := strconv.Atoi(t); err == nil && n >= 1 && n <= len(list) {
		return list[n-1]
	}
	r.wrong(name, t, "number-of-list", map[string]any{"n": len(list)})
	return ""
}

// position reads where an end of the row stood. Two plain decimal numbers stay as
// they are written, so that their digits tell how finely they were read.
func (r *reader) position(field, latitude, longitude string) {
	t := r.typed[field]
	r.put(latitude, "")
	r.put(longitude, "")
	if t == "" {
		return
	}
	got, err := place.Read(t, place.Options{})
	if err != nil || len(got.Questions) > 0 || math.IsNaN(got.LatDeg) {
		r.wrong(latitude, t, "position", nil)
		return
	}
	lat, lon := sheet.FormatNumber(round(got.LatDeg, 6)), sheet.FormatNumber(round(got.LonDeg, 6))
	if parts := strings.FieldsFunc(t, func(c rune) bool { return c == ' ' || c == ',' || c == ';' }); len(parts) == 2 {
		a, errA := strconv.ParseFloat(parts[0], 64)
		b, errB := strconv.ParseFloat(parts[1], 64)
		if errA == nil && errB == nil && a == got.LatDeg && b == got.LonDeg {
			lat, lon = parts[0], parts[1]
		}
	}
	r.put(latitude, strings.TrimPrefix(lat, "+"))
	r.put(longitude, strings.TrimPrefix(lon, "+"))
}

func round(x float64, digits int) float64 {
	p := math.Pow(10, float64(digits))
	return math.Round(x*p) / p
}

// setting reads the day and the times of setting out.
func (r *reader) setting() {
	date, hasDate := time.Time{}, false
	if t := r.typed[Date]; t != "" {
		if date, hasDate = readDate(t); !hasDate {
			r.wrong("deployed_at", t, "date", nil)
		}
	}
	r.put("deployed_at", "")
	if t := r.typed["deployed_at"]; t != "" {
		m, day, ok := clock(t)
		switch {
		case !ok:
			r.wrong("deployed_at", t, "clock", nil)
		case day.IsZero() && !hasDate:
			r.wrong("deployed_at", t, "no-date", nil)
		default:
			if day.IsZero() {
				day = date
			}
			r.set = day.Add(time.Duration(m) * time.Minute)
			r.last = r.set
			r.put("deployed_at", r.set.Format(local))
		}
	} else if hasDate {
		r.wrong("deployed_at", r.typed[Date], "no-clock", nil)
	}
	r.put("watch_read_at", r.forwardFrom("watch_read_at", date)) // on the day of setting out
	r.put("deployed_until", r.forward("deployed_until"))
	r.put("depth_at", r.forwardFrom("depth_at", r.set))
}

// forward puts a time of day on the first day on which it is not before the
// latest time read so far.
func (r *reader) forward(name string) string {
	t := r.forwardFrom(name, r.last)
	if at, err := time.Parse(local, t); err == nil && at.After(r.last) {
		r.last = at
	}
	return t
}

func (r *reader) forwardFrom(name string, from time.Time) string {
	t := r.typed[name]
	if t == "" || name == "depth_at" && t == "datum" {
		return t
	}
	m, day, ok := clock(t)
	switch {
	case !ok:
		r.wrong(name, t, "clock", nil)
		return ""
	case day.IsZero() && from.IsZero():
		r.wrong(name, t, "no-date", nil)
		return ""
	case day.IsZero():
		day = from.Truncate(24 * time.Hour)
		if day.Add(time.Duration(m) * time.Minute).Before(from) {
			day = day.Add(24 * time.Hour)
		}
	}
	return day.Add(time.Duration(m) * time.Minute).Format(local)
}

// check reads the times, reader, reason and counts of one check.
func (r *reader) check(k int) {
	n := strconv.Itoa(k)
	at := r.nearest("check"+n+"_at", r.s.Protocol.Checks[k-1].SoakH)
	r.put("check"+n+"_at", at)
	from := r.set
	if t, err := time.Parse(local, at); err == nil {
		from = t
		if t.After(r.last) {
			r.last = t
		}
	}
	r.put("check"+n+"_until", r.forwardFrom("check"+n+"_until", from))
	for _, name := range []string{"consumed_by_check", "lost_by_check", "unread_at_check", "people_out_at_check", "people_back_at_check"} {
		r.put(name+n, r.count(name+n))
	}
	r.put("reader_of_check"+n, r.listed("reader_of_check"+n, r.s.Lists["observers"]))
	why := "why_no_check" + n
	r.put(why, "")
	if t := r.typed[why]; t != "" {
		i, err := strconv.Atoi(t)
		switch {
		case err == nil && i >= 1 && i <= len(WhyNot):
			r.put(why, WhyNot[i-1])
		case slices.Contains(WhyNot, t):
			r.put(why, t)
		default:
			r.wrong(why, t, "why", map[string]any{"n": len(WhyNot)})
		}
	}
	if r.s.Stakes {
		r.put("fates_at_check"+n, r.fates(k))
	}
}

// nearest puts a time of day on the day that brings it nearest to a soak after
// the setting out.
func (r *reader) nearest(name string, soakH float64) string {
	t := r.typed[name]
	if t == "" {
		return ""
	}
	m, day, ok := clock(t)
	switch {
	case !ok:
		r.wrong(name, t, "clock", nil)
		return ""
	case day.IsZero() && r.set.IsZero():
		r.wrong(name, t, "no-date", nil)
		return ""
	case day.IsZero():
		due := r.set.Add(time.Duration(soakH * float64(time.Hour)))
		best := time.Time{}
		for d := -1; d <= 1; d++ {
			x := due.Truncate(24*time.Hour).AddDate(0, 0, d).Add(time.Duration(m) * time.Minute)
			if x.Before(r.set) {
				continue
			}
			if best.IsZero() || x.Sub(due).Abs() < best.Sub(due).Abs() {
				best = x
			}
		}
		return best.Format(local)
	}
	return day.Add(time.Duration(m) * time.Minute).Format(local)
}

// baits is the number of stakes that the sheet is for.
func (r *reader) baits() int {
	if n, err := strconv.Atoi(r.out.Values["baits_deployed"]); err == nil {
		return n
	}
	return 0
}

// fates reads the boxes of one check.
func (r *reader) fates(k int) string {
	var tokens []assay.StakeFate
	for i := 1; i <= min(max(r.baits(), r.s.Protocol.Baits), MaxStakes); i++ {
		t := r.typed[FateAt(k, i)]
		if t == "" {
			continue
		}
		at := slices.IndexFunc(Keys, func(x Key) bool { return x.Figure == t })
		if at < 0 {
			r.wrong("fates_at_check"+strconv.Itoa(k), t, "fate", map[string]any{"stake": i})
			continue
		}
		tokens = append(tokens, assay.StakeFate{Stake: i, Check: k, Fate: Keys[at].Fate})
	}
	return sheet.FormatFates(tokens)
}

// fromStakes writes the counts that the boxes say where the sheet states none.
func (r *reader) fromStakes() {
	d := assay.Deployment{Baits: r.baits()}
	for k := range r.s.Protocol.Checks {
		name := "fates_at_check" + strconv.Itoa(k+1)
		fates, f := sheet.ParseFates(name, r.out.Values[name], k+1)
		if f != nil || len(fates) == 0 {
			continue
		}
		d.Checks = append(d.Checks, assay.Check{Number: k + 1})
		d.Stakes = append(d.Stakes, fates...)
	}
	checks, _, _ := rates.FromStakes(&d, r.s.Protocol.CountsAsConsumed...)
	for _, c := range checks {
		n := strconv.Itoa(c.Number)
		stated := r.out.Values["consumed_by_check"+n] != "" || r.out.Values["lost_by_check"+n] != "" || r.out.Values["unread_at_check"+n] != ""
		for name, count := range map[string]assay.Maybe[int]{"consumed_by_check": c.Consumed, "lost_by_check": c.Lost, "unread_at_check": c.Unread} {
			if x, ok := count.Get(); ok && !stated {
				r.put(name+n, strconv.Itoa(x))
			}
		}
		if stated && r.out.Values["consumed_by_check"+n] != "" && r.out.Values["consumed_by_check"+n] != fmt.Sprint(c.Consumed.Or(0)) {
			r.out.Doubts = append(r.out.Doubts, Doubt{"entry.boxes-unlike-count", map[string]any{"check": c.Number,
				"boxes": c.Consumed.Or(0), "count": atoi(r.out.Values["consumed_by_check"+n])}})
		}
	}
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

// sum looks whether the counts of a check add up to the stakes set, where the
// sheet states how many were present.
func (r *reader) sum(k int) {
	n := strconv.Itoa(k)
	present := r.count(PresentAt(k))
	if present == "" || r.baits() == 0 {
		return
	}
	all := atoi(present)
	for _, name := range []string{"consumed_by_check", "lost_by_check", "unread_at_check"} {
		all += atoi(r.out.Values[name+n])
	}
	if all != r.baits() {
		r.out.Doubts = append(r.out.Doubts, Doubt{"entry.sum", map[string]any{"check": k, "sum": all, "baits": r.baits()}})
	}
}

// heads looks whether as many people came back from a visit as went in; 0 is
// setting out. It is the first doubt to be told: whoever types it may be the
// first to see it.
func (r *reader) heads(check int) {
	out, back, slug := "people_out", "people_back", "entry.heads-set"
	if check > 0 {
		n := strconv.Itoa(check)
		out, back, slug = out+"_at_check"+n, back+"_at_check"+n, "entry.heads-check"
	}
	a, b := r.out.Values[out], r.out.Values[back]
	if a == "" || b == "" || atoi(b) >= atoi(a) {
		return
	}
	doubt := Doubt{slug, map[string]any{"check": check, "out": atoi(a), "back": atoi(b)}}
	at := slices.IndexFunc(r.out.Doubts, func(d Doubt) bool { return !strings.HasPrefix(d.Slug, "entry.heads") })
	if at < 0 {
		at = len(r.out.Doubts)
	}
	r.out.Doubts = slices.Insert(r.out.Doubts, at, doubt)
}
