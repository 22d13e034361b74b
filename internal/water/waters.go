package water

import (
	"strings"
	"time"

	"soakline/internal/tide"
)

// Waters reads the lines of a local table of high and low waters. Times must say
// their clock, in the file or by clock: a table an hour off is a row that falls
// dry.
//
// It returns a *Faulty for cells that cannot be read, and a *tide.Refusal where
// the clock is not stated.
func Waters(name string, data []byte, clock *time.Location) ([]tide.Water, []tide.Message, error) {
	f, err := read(name, data)
	if err != nil {
		return nil, nil, err
	}
	times, err := timesOf(f, clock)
	if err != nil {
		return nil, nil, err
	}
	col, toM := f.length(true, "height", "level", "water_level", "altura")
	if col < 0 {
		return nil, nil, f.needs("height_m", "height_m", "height_ft")
	}
	kind := f.column("kind", "water", "tide", "high_low", "type")
	var list []tide.Water
	for i := range f.Len() {
		at, ok := times.read(i)
		h := f.number(i, col) * toM
		if text, _ := f.Cell(i, col); text == "" {
			f.fault(i, col, "tide.not-a-number", "text", text)
		}
		w := tide.Water{At: at, HeightM: h}
		if kind >= 0 {
			w.Kind = f.turnKind(i, kind)
		}
		if ok {
			list = append(list, w)
		}
	}
	if err := f.refused(); err != nil {
		return nil, nil, err
	}
	if times.bare && times.zone == nil {
		return nil, nil, refuse("tide.table-needs-clock", "file", name)
	}
	var messages []tide.Message
	if times.bare {
		messages = append(messages, tide.Message{Slug: "tide.table-clock", With: with("clock", times.zone.String())})
	}
	return list, messages, nil
}

// turnKind is "high", "low", or "" where the cell is empty.
func (f *file) turnKind(i, col int) string {
	text, _ := f.Cell(i, col)
	switch strings.ToLower(text) {
	case "":
	case "high", "h", "hw", "high water", "pleamar":
		return "high"
	case "low", "l", "lw", "low water", "bajamar":
		return "low"
	default:
		f.fault(i, col, "tide.table-word", "text", text)
	}
	return ""
}
