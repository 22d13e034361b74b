package sheet

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"strconv"
	"strings"
	"sync"

	"github.com/BurntSushi/toml"

	"soakline/internal/assay"
)

//go:embed protocols/*.toml
var protocolFiles embed.FS

// DefaultProtocol is the name and version of the protocol that stands where a
// record names none.
const DefaultProtocol = "standard 1"

// ProtocolName is how a deployment names a protocol: "standard 1".
func ProtocolName(p assay.Protocol) string { return p.Name + " " + strconv.Itoa(p.Version) }

type protocolSet struct {
	all   map[string]assay.Protocol
	texts map[string]string
}

var ownProtocols = sync.OnceValue(func() protocolSet {
	names, err := fs.Glob(protocolFiles, "protocols/*.toml")
	if err != nil {
		panic("sheet: " + err.Error())
	}
	set := protocolSet{map[string]assay.Protocol{}, map[string]string{}}
	for _, name := range names {
		b, err := protocolFiles.ReadFile(name)
		if err != nil {
			panic("sheet: " + err.Error())
		}
		p, err := ReadProtocol(string(b))
		if err != nil {
			panic("sheet: " + name + ": " + err.Error())
		}
		set.all[ProtocolName(p)], set.texts[ProtocolName(p)] = p, string(b)
	}
	return set
})

// Protocols are those the program brings, by name and version, and the text of
// each. The maps are the caller's to add to.
func Protocols() (map[string]assay.Protocol, map[string]string) {
	set := ownProtocols()
	return maps.Clone(set.all), maps.Clone(set.texts)
}

// Standard is the default protocol.
func Standard() assay.Protocol { return ownProtocols().all[DefaultProtocol] }

// ReadProtocol reads the TOML text of a protocol. Fields it leaves out are
// those of the standard protocol; a misspelt field is refused.
func ReadProtocol(text string) (assay.Protocol, error) {
	p := assay.Protocol{}
	base, err := protocolFiles.ReadFile("protocols/standard-1.toml")
	if err != nil {
		return p, err
	}
	if _, err := toml.Decode(string(base), &p); err != nil {
		return p, err
	}
	p.Name, p.Version, p.Title = "", 0, ""
	var given assay.Protocol
	md, err := toml.Decode(text, &given)
	if err != nil {
		return p, protocolError(err)
	}
	if extra := md.Undecoded(); len(extra) > 0 {
		return p, fmt.Errorf("the protocol has no field %s; look at `soakline protocol show %q` for the fields there are", extra[0], DefaultProtocol)
	}
	if md.IsDefined("check") {
		p.Checks = nil
	}
	if md.IsDefined("other_form") {
		p.OtherForms = nil
	}
	if md.IsDefined("way") {
		p.Ways = nil
	}
	if md.IsDefined("counts_as_consumed") {
		p.CountsAsConsumed = nil
	}
	if _, err := toml.Decode(text, &p); err != nil {
		return p, protocolError(err)
	}
	return p, checkProtocol(p)
}

func protocolError(err error) error {
	var pe toml.ParseError
	if errors.As(err, &pe) {
		return fmt.Errorf("line %d of the protocol cannot be read: %s; write it as name = value", pe.Position.Line, pe.Message)
	}
	return err
}

func checkProtocol(p assay.Protocol) error {
	switch {
	case strings.TrimSpace(p.Name) == "" || p.Version < 1:
		return errors.New(`the protocol needs a name and a version of 1 or more: name = "shore" and version = 1`)
	case p.Baits < 1:
		return errors.New("the protocol needs baits = a number of 1 or more")
	case p.ConsumedFraction <= 0 || p.ConsumedFraction >= 1:
		return errors.New("consumed_fraction must lie between 0 and 1")
	case len(p.Checks) == 0:
		return errors.New("the protocol needs at least one [[check]] with its soak_h")
	}
	last := 0.0
	for i, c := range p.Checks {
		if c.SoakH <= last {
			return fmt.Errorf("check %d has soak_h = %g; soaks must grow from check to check and be above 0", i+1, c.SoakH)
		}
		if c.ToleranceH < 0 {
			return fmt.Errorf("check %d has a negative tolerance_h", i+1)
		}
		last = c.SoakH
	}
	for _, h := range p.CountsAsConsumed {
		if h != assay.BaitGone && h != assay.TetherGone && h != assay.StakeGone {
			return fmt.Errorf("counts_as_consumed holds %q; it may hold %q, %q and %q", h, assay.BaitGone, assay.TetherGone, assay.StakeGone)
		}
	}
	return checkWays(p.Ways)
}

// checkWays refuses a way of working without a name or depths, or one named twice.
func checkWays(ways []assay.Way) error {
	seen := map[string]bool{}
	for i, w := range ways {
		switch {
		case strings.TrimSpace(w.Name) == "":
			return fmt.Errorf("way %d has no name; give it one, as name = \"wading\"", i+1)
		case seen[w.Name]:
			return fmt.Errorf("the way %q stands twice; keep one of them", w.Name)
		case !(w.DepthMinM >= 0 && w.DepthMaxM > w.DepthMinM):
			return fmt.Errorf("the way %q has depths of %g to %g m; give depth_min_m of 0 or more and a greater depth_max_m", w.Name, w.DepthMinM, w.DepthMaxM)
		}
		seen[w.Name] = true
	}
	return nil
}
