package compare

import (
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// protocolOf is the protocol of a deployment.
func (f *frame) protocolOf(d *assay.Deployment) assay.Protocol {
	if p, ok := f.o.Protocols[d.Protocol]; ok {
		return p
	}
	if p, ok := f.o.Protocols[f.o.Default]; ok {
		return p
	}
	return sheet.Standard()
}

// nominalSoaks are the protocol's; where the records' checks do not fit them
// (more checks than it has, or a median soak under half or over twice its
// nominal one), the median soak of each check number stands in.
func (f *frame) nominalSoaks() {
	if len(f.rows) == 0 {
		return
	}
	count := map[string]int{}
	for _, r := range f.rows {
		var b strings.Builder
		for _, c := range f.protocolOf(r.d).Checks {
			b.WriteString(sheet.FormatNumber(c.SoakH) + " ")
		}
		count[b.String()]++
	}
	commonest := ""
	for _, k := range slices.Sorted(maps.Keys(count)) {
		if commonest == "" || count[k] > count[commonest] {
			commonest = k
		}
	}
	if len(count) > 1 {
		f.say("several-schedules", "n", len(count), "soaks", strings.Fields(commonest))
	}
	for _, s := range strings.Fields(commonest) {
		x, _ := strconv.ParseFloat(s, 64)
		f.soaksH = append(f.soaksH, x)
	}
	medians, last := f.medianSoaks()
	fits := last <= len(f.soaksH)
	for k := 1; fits && k <= last; k++ {
		m := medians[k]
		fits = math.IsNaN(m) || m > f.soaksH[k-1]/2 && m < 2*f.soaksH[k-1]
	}
	if fits {
		f.soaksH = f.soaksH[:last]
		return
	}
	f.soaksH = nil
	var told []string
	for k := 1; k <= last; k++ {
		if m := medians[k]; !math.IsNaN(m) && (len(f.soaksH) == 0 || m > f.soaksH[len(f.soaksH)-1]) {
			f.soaksH = append(f.soaksH, m)
			told = append(told, words.Number(m, ""))
		}
	}
	f.say("nominal-soaks-from-records", "soaks", told)
}

// medianSoaks gives the median soak of each check number and the last number.
func (f *frame) medianSoaks() (map[int]float64, int) {
	all := map[int][]float64{}
	last := 0
	for _, r := range f.rows {
		for _, c := range r.d.Checks {
			if soak, ok := r.d.SoakH(c); ok && c.Read() && soak > 0 {
				all[c.Number] = append(all[c.Number], soak)
				last = max(last, c.Number)
			}
		}
	}
	medians := map[int]float64{}
	for k := 1; k <= last; k++ {
		s := all[k]
		if len(s) == 0 {
			medians[k] = math.NaN()
			continue
		}
		sort.Float64s(s)
		medians[k] = (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	}
	return medians, last
}

// chooseBands cuts time at the nominal soaks and keeps the bands that some
// span touches; with one effect for each check a band is a check number.
func (f *frame) chooseBands() {
	touched := map[int]bool{}
	if f.byCheck() {
		for _, s := range f.spans {
			touched[s.check] = true
		}
	} else {
		f.bandEndH = slices.Clone(f.soaksH)
		if f.o.Check > 0 {
			f.bandEndH = nil // one check: one stretch
		}
		for _, s := range f.spans {
			for _, h := range s.stretches() {
				for b := range f.nBands() {
					if f.overlapH(b, h.fromH, h.toH) > 0 {
						touched[b+1] = true
					}
				}
			}
		}
	}
	if f.o.Check > 0 {
		touched = map[int]bool{1: true}
	}
	f.bands = slices.Sorted(maps.Keys(touched))
}

// nameTerms names the columns of the design.
func (f *frame) nameTerms() {
	f.terms = []string{"baseline"}
	for _, b := range f.bands[min(1, len(f.bands)):] {
		f.terms = append(f.terms, "interval"+strconv.Itoa(b))
	}
	for _, l := range f.levels[min(1, len(f.levels)):] {
		f.terms = append(f.terms, f.o.By+"="+l)
	}
	for _, c := range f.extra {
		f.terms = append(f.terms, c.term)
	}
	if f.hasControls() {
		f.terms = append(f.terms, "control")
		for _, b := range f.bands[min(1, len(f.bands)):] {
			f.terms = append(f.terms, "control-interval"+strconv.Itoa(b))
		}
	}
}

// byCheck says whether there is one effect for each check number.
func (f *frame) byCheck() bool { return f.o.Bands == "checks" || f.o.Link == "logit" }

func (f *frame) nBands() int { return max(1, len(f.bandEndH)) }

// overlapH is the part of a stretch of soak that lies in band b (from 0); the
// last band has no end.
func (f *frame) overlapH(b int, fromH, toH float64) float64 {
	lo, hi := 0.0, math.Inf(1)
	if b > 0 {
		lo = f.bandEndH[b-1]
	}
	if b < len(f.bandEndH)-1 {
		hi = f.bandEndH[b]
	}
	return math.Max(0, math.Min(hi, toH)-math.Max(lo, fromH))
}
