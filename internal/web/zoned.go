package web

import (
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// putZone writes every time of a form that has no offset as the instant of a
// zone's clock. A reading that came twice or never when the clock was changed
// cannot be guessed, nor a time without any zone.
func putZone(values map[string]string, zone string) error {
	var faults []*sheet.Fault
	for name, text := range values {
		c, _, ok := sheet.Find(sheet.Wide, name)
		if !ok || c.Kind != sheet.Instant || text == "" {
			continue
		}
		t, hasOffset, ok := sheet.ParseTime(text)
		if !ok || hasOffset {
			continue // Add and Correct say what is wrong with it
		}
		loc, err := time.LoadLocation(zone)
		if zone == "" || err != nil {
			faults = append(faults, zoneFault(name, "web.time.no-zone", words.P{"text": text}))
			continue
		}
		switch at := sheet.InZone(t, loc); len(at) {
		case 1:
			values[name] = sheet.FormatMoment(at[0])
		default:
			faults = append(faults, zoneFault(name, "web.time.clock-changed", words.P{"text": text, "zone": zone}))
		}
	}
	if len(faults) > 0 {
		return &task.FaultyValues{Faults: faults}
	}
	return nil
}

func zoneFault(column, slug string, with words.P) *sheet.Fault {
	return &sheet.Fault{Column: column, Wrong: assay.Said{Slug: slug, With: with}, Do: assay.Said{Slug: slug + "-do", With: with}}
}

// missing says which required fields of a new record are empty, all in one.
func missing(values map[string]string) error {
	var faults []*sheet.Fault
	for _, c := range sheet.Columns(sheet.Wide) {
		if c.Required && c.Name != "deployment_id" && values[c.Name] == "" {
			faults = append(faults, zoneFault(c.Name, "web.form.missing", nil))
		}
	}
	if len(faults) > 0 {
		return &task.FaultyValues{Faults: faults}
	}
	return nil
}

// loadZone finds a time zone by its IANA name; "Local" is none.
func loadZone(name string) (*time.Location, error) {
	if name == "Local" {
		name = "-"
	}
	return time.LoadLocation(name)
}
