package words

import (
	"errors"
	"maps"
	"slices"
	"strings"
)

// part is a piece of a sentence: text, a parameter, or a choice by number.
type part struct {
	text      string
	name      string
	format    string
	one, many []part
}

// parse reads a sentence; see the package comment for its notation.
func parse(s string) ([]part, error) {
	var parts []part
	var text strings.Builder
	flush := func() {
		if text.Len() > 0 {
			parts = append(parts, part{text: text.String()})
			text.Reset()
		}
	}
	for i := 0; i < len(s); i++ {
		switch {
		case strings.HasPrefix(s[i:], "{{"), strings.HasPrefix(s[i:], "}}"):
			text.WriteByte(s[i])
			i++
		case s[i] == '{':
			end := closing(s, i)
			if end < 0 {
				return nil, errors.New("a { without its }")
			}
			p, err := parameter(s[i+1 : end])
			if err != nil {
				return nil, err
			}
			flush()
			parts = append(parts, p)
			i = end
		case s[i] == '}':
			return nil, errors.New("a } without its {")
		default:
			text.WriteByte(s[i])
		}
	}
	flush()
	return parts, nil
}

func closing(s string, open int) int {
	depth := 0
	for i := open; i < len(s); i++ {
		switch s[i] {
		case '{':
			depth++
		case '}':
			depth--
			if depth == 0 {
				return i
			}
		}
	}
	return -1
}

func parameter(s string) (part, error) {
	choices := splitTop(s)
	name, format, _ := strings.Cut(choices[0], ":")
	if name == "" {
		return part{}, errors.New("a parameter without a name")
	}
	p := part{name: name, format: format}
	switch len(choices) {
	case 1:
		return p, nil
	case 3:
		var err error
		if p.one, err = parse(choices[1]); err != nil {
			return part{}, err
		}
		if p.one == nil {
			p.one = []part{{}}
		}
		p.many, err = parse(choices[2])
		return p, err
	}
	return part{}, errors.New("a choice needs two forms: {n|one bait|{n} baits}")
}

// splitTop cuts at each | outside inner braces.
func splitTop(s string) []string {
	var out []string
	depth, from := 0, 0
	for i := range len(s) {
		switch s[i] {
		case '{':
			depth++
		case '}':
			depth--
		case '|':
			if depth == 0 {
				out = append(out, s[from:i])
				from = i + 1
			}
		}
	}
	return append(out, s[from:])
}

// params lists the parameters of a sentence, sorted, each once.
func params(parts []part) []string {
	seen := map[string]bool{}
	var walk func([]part)
	walk = func(ps []part) {
		for _, p := range ps {
			if p.name != "" {
				seen[p.name] = true
			}
			walk(p.one)
			walk(p.many)
		}
	}
	walk(parts)
	return slices.Sorted(maps.Keys(seen))
}
