package prep

import (
	_ "embed"
	"fmt"
	"strings"

	"github.com/BurntSushi/toml"
)

// Kit is what quantities and times are reckoned with.
type Kit struct {
	Piece Piece           `toml:"piece"`
	Items map[string]Item `toml:"item"`
	Steps []Step          `toml:"step"`
	Take  []Take          `toml:"take"`
}

// Item is one thing to buy, as a kit has it.
type Item struct {
	Spare     float64 `toml:"spare"`      // share on top of the need
	Pack      float64 `toml:"pack"`       // units sold together; 0 for singly
	Price     float64 `toml:"price"`      // of one pack; 0 for not known
	EachMM    float64 `toml:"each_mm"`    // of line and tape: for one bait or stake
	PerBaits  float64 `toml:"per_baits"`  // of blades: baits that one lasts
	PerHelper float64 `toml:"per_helper"` // of needles
}

// Step is one step of the production line.
type Step struct {
	Name    string  `toml:"name"`
	Seconds float64 `toml:"seconds"` // for one bait or stake
}

// Names of the items, in the order of lists.
var Names = []string{"stakes", "baits", "pieces", "line", "tape", "labels", "sheets", "blades", "needles", "bags"}

//go:embed kit.toml
var kitText string

// KitText is the default kit as a file, a beginning for one's own.
func KitText() string { return kitText }

// Fault is a kit that cannot be: a slug of the catalogue and its parameters.
type Fault struct {
	Slug string
	With map[string]any
}

func (f *Fault) Error() string { return f.Slug + " " + fmt.Sprint(f.With) }

func fault(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Fault{"prep." + slug, with}
}

// ReadKit reads a kit; what the text leaves out is as in the default one, and a
// misspelt field is refused. Errors: *Fault.
func ReadKit(text string) (Kit, error) {
	var k, given Kit
	if _, err := toml.Decode(kitText, &k); err != nil {
		return k, err
	}
	md, err := toml.Decode(text, &given)
	if err != nil {
		return k, fault("kit-broken", "said", strings.TrimPrefix(err.Error(), "toml: "))
	}
	if extra := md.Undecoded(); len(extra) > 0 {
		return k, fault("kit-field", "field", extra[0].String())
	}
	if md.IsDefined("step") {
		k.Steps = given.Steps
	}
	if md.IsDefined("take") {
		k.Take = given.Take
	}
	p := &k.Piece
	for name, to := range map[string]*float64{"length_mm": &p.LengthMM, "width_mm": &p.WidthMM, "tail_mm": &p.TailMM, "midline_mm": &p.MidlineMM, "gap_mm": &p.GapMM} {
		if md.IsDefined("piece", name) {
			*to = map[string]float64{"length_mm": given.Piece.LengthMM, "width_mm": given.Piece.WidthMM, "tail_mm": given.Piece.TailMM, "midline_mm": given.Piece.MidlineMM, "gap_mm": given.Piece.GapMM}[name]
		}
	}
	for name, g := range given.Items {
		i, ok := k.Items[name]
		if !ok {
			return k, fault("kit-item", "item", name, "items", Names)
		}
		for field, pair := range map[string][2]*float64{
			"spare": {&i.Spare, &g.Spare}, "pack": {&i.Pack, &g.Pack}, "price": {&i.Price, &g.Price},
			"each_mm": {&i.EachMM, &g.EachMM}, "per_baits": {&i.PerBaits, &g.PerBaits}, "per_helper": {&i.PerHelper, &g.PerHelper},
		} {
			if md.IsDefined("item", name, field) {
				*pair[0] = *pair[1]
			}
		}
		k.Items[name] = i
	}
	return k, k.check()
}

// most bounds every number of a kit: more is a slip.
const most = 1e6

func (k Kit) check() error {
	in := func(where string, x float64, zero bool) error {
		if x >= 0 && x <= most && (zero || x > 0) {
			return nil
		}
		return fault("kit-number", "field", where, "value", x)
	}
	p := k.Piece
	for _, f := range []struct {
		name string
		x    float64
		zero bool
	}{{"piece.length_mm", p.LengthMM, false}, {"piece.width_mm", p.WidthMM, false}, {"piece.tail_mm", p.TailMM, false}, {"piece.midline_mm", p.MidlineMM, true}, {"piece.gap_mm", p.GapMM, true}} {
		if err := in(f.name, f.x, f.zero); err != nil {
			return err
		}
	}
	for _, name := range Names {
		i := k.Items[name]
		for _, f := range []struct {
			name string
			x    float64
			zero bool
		}{
			{"spare", i.Spare, true}, {"pack", i.Pack, true}, {"price", i.Price, true}, {"each_mm", i.EachMM, name != "line" && name != "tape"},
			{"per_baits", i.PerBaits, name != "blades"}, {"per_helper", i.PerHelper, name != "needles"},
		} {
			if err := in("item."+name+"."+f.name, f.x, f.zero); err != nil {
				return err
			}
		}
	}
	for _, t := range k.Take {
		if _, known := (Day{}).count(t.Per); !known || t.Name == "" {
			return fault("kit-take", "name", t.Name, "per", t.Per, "words", []string{"team", "person", "row", "row-out", "row-in", "stake", "stake-in"})
		}
		if err := in("take "+t.Name+" n", t.N, false); err != nil {
			return err
		}
		if err := in("take "+t.Name+" spare", t.Spare, true); err != nil {
			return err
		}
	}
	for _, s := range k.Steps {
		if err := in("step "+s.Name, s.Seconds, false); err != nil {
			return err
		}
	}
	return nil
}
