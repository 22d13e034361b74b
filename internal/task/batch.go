package task

import (
	"context"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/paper"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// Batches lists the bait batches of a logbook by code, with their samples.
func Batches(tx *logbook.Tx) ([]gear.Batch, error) {
	var list []gear.Batch
	err := live(tx, kindBatch, func(r logbook.Record) error {
		f := r.Fields
		b := gear.Batch{Code: f["code"], Kind: f["kind"], Source: f["source"], Form: f["form"], PreparedOn: f["prepared_on"], By: f["prepared_by"],
			Stored: f["stored"], ExpiresOn: f["expires_on"], Notes: f["notes"]}
		b.SizeMM, _ = sheet.ParseNumber("size_mm", f["size_mm"])
		b.ThicknessMM, _ = sheet.ParseNumber("thickness_mm", f["thickness_mm"])
		list = append(list, b)
		return nil
	})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	sort.Slice(list, func(i, j int) bool { return list[i].Code < list[j].Code })
	err = live(tx, kindSample, func(r logbook.Record) error {
		for i := range list {
			if list[i].Code == r.Fields["batch"] {
				s := gear.Sample{On: r.Fields["on"], By: r.Fields["by"]}
				s.SizesMM, _ = lengths(r.Fields["sizes_mm"])
				s.TethersMM, _ = lengths(r.Fields["lines_mm"])
				list[i].Samples = append(list[i].Samples, s)
			}
		}
		return nil
	})
	return list, err
}

// lengths reads numbers parted by blanks, commas or semicolons.
func lengths(text string) (mm []float64, ok bool) {
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,;\t\n", r) }) {
		x, f := sheet.ParseNumber("", w)
		v, known := x.Get()
		if f != nil || !known || !(v >= 0 && v <= 1000) {
			return nil, false
		}
		mm = append(mm, v)
	}
	return mm, true
}

// BatchFields are the fields of a batch beside its code, as they are written.
var BatchFields = []string{"kind", "source", "form", "size_mm", "thickness_mm", "prepared_on", "prepared_by", "stored", "expires_on", "notes"}

// SaveBatch makes a batch, or changes one that is there when change is set; of a
// change only the fields given are touched.
func SaveBatch(ctx context.Context, book *logbook.Book, code string, fields map[string]string, change bool, by By) error {
	code = strings.TrimSpace(code)
	switch {
	case code == "":
		return refuse("batch-nameless")
	case len(assay.BatchCodes(code)) != 1 || assay.BatchCodes(code)[0] != code:
		return refuse("batch-code", "code", code)
	}
	for name, text := range fields {
		text = strings.TrimSpace(text)
		if !contains(BatchFields, name) {
			return refuse("no-field", "field", name)
		}
		if text == "" {
			continue
		}
		switch {
		case name == "form" && text != "disc" && text != "square":
			return refuse("batch-form", "given", text)
		case strings.HasSuffix(name, "_mm"):
			if x, f := sheet.ParseNumber(name, text); f != nil || !(x.Or(0) > 0 && x.Or(0) <= 200) {
				return refuse("batch-mm", "field", name, "given", text)
			}
		case strings.HasSuffix(name, "_on"):
			if _, ok := gear.Day(text); !ok {
				return refuse("batch-day", "field", name, "given", text)
			}
		}
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		old, there, err := findCode(tx, kindBatch, code)
		switch {
		case err != nil:
			return err
		case there && !change:
			return refuse("batch-there", "code", code)
		case !there && change:
			return refuse("no-batch", "code", code)
		}
		all := map[string]string{}
		for _, name := range BatchFields {
			all[name] = old.Fields[name]
			if text, given := fields[name]; given {
				all[name] = strings.TrimSpace(text)
			}
		}
		if p, ok := gear.Day(all["prepared_on"]); ok {
			if e, ok := gear.Day(all["expires_on"]); ok && e.Before(p) {
				return refuse("batch-expires-first", "prepared", all["prepared_on"], "expires", all["expires_on"])
			}
		}
		return putCode(tx, kindBatch, code, all, by.stamp())
	})
}

// BatchTexts are a batch's fields as they are written.
func BatchTexts(b gear.Batch) map[string]string {
	mm := func(m assay.Maybe[float64]) string {
		if x, ok := m.Get(); ok {
			return sheet.FormatNumber(x)
		}
		return ""
	}
	return map[string]string{"kind": b.Kind, "source": b.Source, "form": b.Form, "size_mm": mm(b.SizeMM), "thickness_mm": mm(b.ThicknessMM), "prepared_on": b.PreparedOn,
		"prepared_by": b.By, "stored": b.Stored, "expires_on": b.ExpiresOn, "notes": b.Notes}
}

// CheckBatch keeps a sample of measured baits with its batch: sizes, free lines,
// or both, in mm as they were written.
func CheckBatch(ctx context.Context, book *logbook.Book, code, on, sizes, lines string, by By) (b gear.Batch, err error) {
	s, okS := lengths(sizes)
	t, okT := lengths(lines)
	switch {
	case !okS || !okT:
		return b, refuse("batch-lengths")
	case len(s)+len(t) == 0:
		return b, refuse("batch-no-lengths")
	}
	if on = strings.TrimSpace(on); on == "" {
		on = by.When.Format("2006-01-02")
	} else if _, ok := gear.Day(on); !ok {
		return b, refuse("batch-day", "field", "on", "given", on)
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		if _, there, err := findCode(tx, kindBatch, strings.TrimSpace(code)); err != nil || !there {
			if err == nil {
				err = refuse("no-batch", "code", code)
			}
			return err
		}
		fields := map[string]string{"batch": strings.TrimSpace(code), "on": on, "by": by.Who, "sizes_mm": writeLengths(s), "lines_mm": writeLengths(t)}
		if _, err := tx.Put(logbook.Record{Kind: kindSample, Fields: fields}, by.stamp()); err != nil {
			return err
		}
		b, err = BatchOf(tx, code)
		return err
	})
	return b, err
}

func writeLengths(mm []float64) string {
	out := make([]string, len(mm))
	for i, x := range mm {
		out[i] = sheet.FormatNumber(x)
	}
	return strings.Join(out, " ")
}

// BatchOf is the batch with this code.
func BatchOf(tx *logbook.Tx, code string) (gear.Batch, error) {
	all, err := Batches(tx)
	if err != nil {
		return gear.Batch{}, err
	}
	for _, b := range all {
		if b.Code == strings.TrimSpace(code) {
			return b, nil
		}
	}
	return gear.Batch{}, refuse("no-batch", "code", code)
}

// RowsOfBatch counts the rows of a season that name a batch.
func RowsOfBatch(s *Season, code string) (n int) {
	for i := range s.Deployments {
		if text := s.Deployments[i].BaitBatch; text == code || contains(assay.BatchCodes(text), code) {
			n++
		}
	}
	return n
}

// Usual is the protocol of records that name none.
func (s *Season) Usual() assay.Protocol { return s.usual() }

// BatchLabels are labels for the bags of batches: code large and as a code to
// scan, with what is in it; so many of each.
func BatchLabels(list []gear.Batch, copies int, l words.Language) []paper.Label {
	var out []paper.Label
	for _, b := range list {
		var small []string
		for _, t := range []string{b.Kind, formWords(b, l)} {
			if t != "" {
				small = append(small, t)
			}
		}
		if b.PreparedOn != "" {
			small = append(small, l.Say("task.label-prepared", words.P{"day": b.PreparedOn}))
		}
		if b.ExpiresOn != "" {
			small = append(small, l.Say("task.label-expires", words.P{"day": b.ExpiresOn}))
		}
		for range copies {
			out = append(out, paper.Label{Large: b.Code, Small: strings.Join(small, " · "), Code: b.Code})
		}
	}
	return out
}

func formWords(b gear.Batch, l words.Language) string {
	form := ""
	if b.Form != "" {
		form = l.Say("word."+b.Form, nil)
	}
	if x, ok := b.SizeMM.Get(); ok {
		form = strings.TrimSpace(form + " " + strconv.FormatFloat(x, 'f', -1, 64) + " mm")
	}
	return form
}

// BatchJSON is one batch in the answers of `soakline batch`.
type BatchJSON struct {
	Code        string               `json:"batch"`
	Kind        string               `json:"kind"`
	Source      string               `json:"source"`
	Form        string               `json:"form"`
	SizeMM      assay.Maybe[float64] `json:"size_mm"`
	ThicknessMM assay.Maybe[float64] `json:"thickness_mm"`
	PreparedOn  string               `json:"prepared_on"`
	PreparedBy  string               `json:"prepared_by"`
	Stored      string               `json:"stored"`
	ExpiresOn   string               `json:"expires_on"`
	Notes       string               `json:"notes"`
	Rows        int                  `json:"rows"`
	Samples     int                  `json:"samples"`
	Sizes       *SummaryJSON         `json:"sizes"`
	Lines       *SummaryJSON         `json:"free_lines"`
}

// SummaryJSON sums measured lengths up.
type SummaryJSON struct {
	N       int     `json:"n"`
	MeanMM  float64 `json:"mean_mm"`
	SDMM    float64 `json:"sd_mm"`
	MinMM   float64 `json:"min_mm"`
	MaxMM   float64 `json:"max_mm"`
	Outside int     `json:"outside"`
}

// BatchAsJSON tells a batch, judged by a season's usual protocol.
func BatchAsJSON(b gear.Batch, s *Season) BatchJSON {
	out := BatchJSON{b.Code, b.Kind, b.Source, b.Form, b.SizeMM, b.ThicknessMM, b.PreparedOn, b.By, b.Stored, b.ExpiresOn, b.Notes, RowsOfBatch(s, b.Code), len(b.Samples), nil, nil}
	sum := func(mm []float64, outside func(float64) bool) *SummaryJSON {
		x, ok := gear.Summarise(mm, outside)
		if !ok {
			return nil
		}
		return &SummaryJSON{x.N, x.Mean, x.SD, x.Min, x.Max, x.Outside}
	}
	out.Sizes, out.Lines = sum(b.Sizes(), gear.SizeOutside(b, s.usual())), sum(b.Lines(), gear.LineOutside)
	return out
}
