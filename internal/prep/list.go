package prep

import (
	"math"

	"soakline/internal/assay"
)

// Ask is what quantities are asked for.
type Ask struct {
	Rows     int
	Protocol assay.Protocol
	Form     Form    // empty: the protocol's
	SizeMM   float64 // 0: the protocol's
	Helpers  int
	// SheetsEach is the number of leaves printed for one row.
	SheetsEach int
	// Past is what went short before, as shares by item, from the rows of a
	// logbook: stakes and the labels on them that did not come back, baits that
	// were wanting at setting. The spare is never less than it.
	Past map[string]float64
}

// Line is one thing to have.
type Line struct {
	Item  string  `json:"item"`
	Need  float64 `json:"need"`       // in the item's unit, what the rows use
	Spare float64 `json:"spare"`      // share on top
	From  string  `json:"spare_from"` // kit, or past: from what went short before
	Total float64 `json:"total"`      // with the spare, whole where the thing is
	Unit  string  `json:"unit"`       // "" for things, "m" for line and tape
	Pack  float64 `json:"pack"`       // units in a pack; 1 where it is sold singly
	Packs int     `json:"packs"`      // to buy
	Cost  float64 `json:"cost"`       // packs times price; 0 where no price is known
}

// List is what to have, and what one piece yields.
type List struct {
	Lines         []Line  `json:"items"`
	BaitsPerPiece int     `json:"baits_per_piece"`
	Form          Form    `json:"bait_form"`
	SizeMM        float64 `json:"bait_size_mm"`
	Cost          float64 `json:"cost"` // of the items with a price
	Priced        int     `json:"priced"`
}

// The bounds of an Ask.
const (
	MaxRows    = 10000
	MaxHelpers = 100
)

// Materials is what so many rows need. Errors: *Fault.
func Materials(k Kit, a Ask) (List, error) {
	switch {
	case a.Rows < 1 || a.Rows > MaxRows:
		return List{}, fault("rows-range", "n", a.Rows, "most", MaxRows)
	case a.Helpers < 1 || a.Helpers > MaxHelpers:
		return List{}, fault("helpers-range", "n", a.Helpers, "most", MaxHelpers)
	}
	l := List{Form: a.Form, SizeMM: a.SizeMM}
	if l.Form == "" {
		l.Form = Form(a.Protocol.BaitForm)
	}
	if l.SizeMM == 0 {
		l.SizeMM = a.Protocol.BaitSizeMM
	}
	if l.BaitsPerPiece = k.Piece.Yield(l.Form, l.SizeMM); l.BaitsPerPiece == 0 {
		return List{}, fault("none-fits", "size", l.SizeMM, "width", k.Piece.WidthMM, "midline", k.Piece.MidlineMM)
	}
	stakes := float64(a.Rows * a.Protocol.Baits)
	baits := up(stakes * (1 + max(k.Items["baits"].Spare, a.Past["baits"])))
	need := map[string]float64{
		"stakes": stakes, "baits": stakes, "pieces": up(baits / float64(l.BaitsPerPiece)),
		"line": stakes * k.Items["line"].EachMM / 1000, "tape": stakes * k.Items["tape"].EachMM / 1000,
		"labels": stakes + float64(a.Rows), "sheets": float64(a.Rows * a.SheetsEach), "blades": baits / k.Items["blades"].PerBaits,
		"needles": float64(a.Helpers) * k.Items["needles"].PerHelper, "bags": float64(a.Rows),
	}
	for _, name := range Names {
		i := k.Items[name]
		from := "kit"
		if past := a.Past[name]; past > i.Spare {
			i.Spare, from = past, "past"
		}
		l.add(name, i, need[name], from)
	}
	return l, nil
}

func (l *List) add(name string, i Item, need float64, from string) {
	x := Line{Item: name, Need: need, Spare: i.Spare, From: from, Total: need * (1 + i.Spare), Pack: i.Pack}
	switch name {
	case "line", "tape":
		x.Unit = "m"
		x.Total = up(x.Total*10) / 10 // to the next tenth of a metre
	case "blades":
		x.Need, x.Total = up(need), up(x.Total)
	default:
		x.Total = up(x.Total)
	}
	if x.Pack == 0 {
		x.Pack = 1
	}
	x.Packs = int(up(x.Total / x.Pack))
	if name == "baits" {
		x.Packs = 0 // cut from pieces, not bought
	}
	if i.Price > 0 {
		x.Cost = float64(x.Packs) * i.Price
		l.Cost += x.Cost
		l.Priced++
	}
	l.Lines = append(l.Lines, x)
}

// up rounds up, but not for what floating point adds: 25 × 1.1 is 28, not 29
// for 27.500000000000004, and 100 × 1.1 is 110, not 111.
func up(x float64) float64 { return math.Ceil(x - 1e-9*max(1, math.Abs(x))) }
