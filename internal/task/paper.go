package task

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"soakline/internal/assay"
	"soakline/internal/paper"
	"soakline/internal/sheet"
)

// BlankRows are rows of which only the identifier is known: prefix and number,
// from first on; without a prefix there is a line to write it on.
func BlankRows(n, first int, prefix string, p assay.Protocol) []paper.Row {
	rows := make([]paper.Row, n)
	for i := range rows {
		rows[i].Baits = p.Baits
		if prefix != "" {
			rows[i].ID = prefix + strconv.Itoa(first+i)
		}
	}
	return rows
}

// SheetRows, with what the site book tells (nil for nothing), are the rows of a season for which sheets are printed, in the
// season's order: those not read yet at every check, or all of them. Known
// values come along; due times follow from the time of setting.
func SheetRows(s *Season, k *SheetSites, all bool) []paper.Row {
	var rows []paper.Row
	for i := range s.Deployments {
		d := &s.Deployments[i]
		p := s.protocolOf(d)
		if !all && readThrough(d, p) {
			continue
		}
		rows = append(rows, sheetRow(d, p, k))
	}
	return rows
}

// protocolOf is the protocol of a row.
func (s *Season) protocolOf(d *assay.Deployment) assay.Protocol {
	if p, ok := s.Protocols[d.Protocol]; ok {
		return p
	}
	return s.usual()
}

// readThrough says whether nothing is left to visit: every check of the
// protocol was read or is known not to have been made, or the row was given up.
func readThrough(d *assay.Deployment, p assay.Protocol) bool {
	if d.AbandonedAt.Known() {
		return true
	}
	done := map[int]bool{}
	for _, c := range d.Checks {
		done[c.Number] = c.Read() || c.WhyNot != ""
	}
	for k := range p.Checks {
		if !done[k+1] {
			return false
		}
	}
	return true
}

func sheetRow(d *assay.Deployment, p assay.Protocol, k *SheetSites) paper.Row {
	r := paper.Row{
		ID: d.ID, Site: d.Site, Habitat: d.Habitat, Team: d.Team, Season: d.Season, Names: d.Observers,
		BaitBatch: d.BaitBatch, Baits: d.Baits, Control: d.IsControl(), Practice: d.IsPractice(),
	}
	if lat, ok := d.Latitude.Get(); ok {
		if lon, ok := d.Longitude.Get(); ok {
			n := max(d.PositionDecimals.Or(5), 4)
			r.FirstPosition = strconv.FormatFloat(lat, 'f', n, 64) + ", " + strconv.FormatFloat(lon, 'f', n, 64)
		}
	}
	if b, ok := d.RowBearingDeg.Get(); ok {
		r.Bearing = sheet.FormatNumber(b) + "°"
	}
	site := k.of(d)
	if !d.SetOut.Known() {
		k.fill(&r, site, time.Time{})
		return r
	}
	local := d.SetOut.Local()
	r.Zone = zoneWords(local)
	r.Date = local.Format(time.DateOnly)
	if len(d.Checks) == 0 && !d.SetOutUntil.Known() {
		r.Setting.At = local.Format("15:04") // a plan: when it really was is written on the sheet
		k.tell(&r.Setting, site, local)
	} else {
		r.SetOut = local.Format("15:04")
	}
	if d.SetOutUntil.Known() {
		r.SetOutUntil = d.SetOutUntil.Local().Format("15:04")
	}
	k.fill(&r, site, local)
	for _, c := range p.Checks {
		after := func(h float64) time.Time { return local.Add(time.Duration(h * float64(time.Hour))) }
		at := after(c.SoakH)
		due := paper.Due{At: dueTime(local, at), From: dueTime(at, after(c.SoakH-c.ToleranceH)), To: dueTime(at, after(c.SoakH+c.ToleranceH))}
		k.tell(&due, site, at)
		r.Due = append(r.Due, due)
	}
	return r
}

// zoneWords names the clock of a time: its abbreviation and its offset.
func zoneWords(t time.Time) string {
	name, _ := t.Zone()
	offset := "UTC" + t.Format("-07:00")
	if strings.IndexFunc(name, unicode.IsLetter) != 0 || name == offset { // a bare number, as of many zones
		return offset
	}
	return name + ", " + offset
}

// dueTime is a time of day, with the date where it is another day than the one
// the reader has in mind.
func dueTime(known, t time.Time) string {
	if t.Format(time.DateOnly) == known.Format(time.DateOnly) {
		return t.Format("15:04")
	}
	return t.Format("2006-01-02 15:04")
}

// Guide prints the method on one page.
func Guide(o paper.GuideOptions) ([]byte, error) {
	b, err := paper.Guide(o)
	return b, paperRefusal(err)
}

// Practice prints a practice card and its answers.
func Practice(o paper.CardOptions) ([]byte, error) {
	b, err := paper.Practice(o)
	return b, paperRefusal(err)
}

// Labels prints labels.
func Labels(o paper.LabelOptions) ([]byte, error) {
	b, err := paper.Labels(o)
	return b, paperRefusal(err)
}

// Sheets prints field sheets.
func Sheets(o paper.SheetOptions) ([]byte, error) {
	b, err := paper.Sheets(o)
	return b, paperRefusal(err)
}

// paperRefusal tells what cannot be printed in the catalogue's words.
func paperRefusal(err error) error {
	var glyph *paper.NoGlyph
	var code *paper.NoCode
	var room *paper.NoRoom
	switch {
	case errors.As(err, &glyph):
		slug, with := "paper.no-glyph", map[string]any{"letters": letters(glyph.Runes), "text": glyph.Text}
		if glyph.Record != "" {
			slug, with["id"] = "paper.no-glyph-row", glyph.Record
		}
		return &Refused{Slug: slug, With: with}
	case errors.As(err, &code):
		return &Refused{Slug: "paper.no-code", With: map[string]any{"text": code.Text}}
	case errors.As(err, &room):
		return &Refused{Slug: "paper.no-room", With: map[string]any{"what": room.What}}
	}
	return err
}

// letters writes letters with their numbers, since a screen may not show them.
func letters(rs []rune) []string {
	out := make([]string, len(rs))
	for i, r := range rs {
		out[i] = fmt.Sprintf("%c (U+%04X)", r, r)
	}
	return out
}

// ToVisit says whether a row still has a check to be read.
func ToVisit(s *Season, d *assay.Deployment) bool { return !readThrough(d, s.protocolOf(d)) }
