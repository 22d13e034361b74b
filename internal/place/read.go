package place

import "strings"

// Read reads a position written in any usual notation: decimal degrees,
// degrees and minutes, degrees, minutes and seconds (marked or not, hemisphere
// letters or words in English, Spanish and their neighbours, before or after),
// decimal comma, UTM, military grid. Nothing is guessed silently: what could be
// meant otherwise comes back as a question, and where no reading may be
// preferred the position is NaN.
// It returns a *Refusal for what cannot be read.
func Read(text string, o Options) (Reading, error) {
	if strings.TrimSpace(text) == "" {
		return Reading{}, refuse("empty")
	}
	if r, bad, is := readGrid(text, o); is {
		return r, orNil(bad)
	}
	tokens, bad := lex(text)
	if bad != nil {
		return Reading{}, bad
	}
	r, bad := readTokens(text, commasAsPoints(tokens), o)
	if bad != nil && hasComma(tokens) {
		// 36,8 is no position with a decimal comma; with a separator it is one.
		if other, bad2 := readTokens(text, tokens, o); bad2 == nil && !other.has("place.compact") {
			return other, nil
		}
	}
	if bad != nil && gridLengths(tokens) > 1 {
		bad = refuse("grid-without-zone", "text", clip(text))
	}
	return r, orNil(bad)
}

func gridLengths(tokens []token) (n int) {
	for _, t := range tokens {
		if t.kind == kNumber && t.sign == 0 && isGridLength(t.text) {
			n++
		}
	}
	return n
}

func hasComma(tokens []token) bool {
	for _, t := range tokens {
		if t.kind == kComma {
			return true
		}
	}
	return false
}

// has reports whether a reading carries a question.
func (r Reading) has(slug string) bool {
	for _, q := range r.Questions {
		if q.Slug == slug {
			return true
		}
	}
	return false
}

// ReadPair reads the two fields of a sheet: latitude in one, longitude in the
// other. Letters or labels in the fields win over the columns they stand in,
// with a question. A whole position in the first field, with the second empty,
// is read as by Read.
// It returns a *Refusal for what cannot be read.
func ReadPair(latText, lonText string, o Options) (Reading, error) {
	lat, lon := strings.TrimSpace(latText), strings.TrimSpace(lonText)
	switch {
	case lat == "" && lon == "":
		return Reading{}, refuse("empty")
	case lon == "":
		return Read(lat, o)
	case lat == "":
		return Read(lon, o)
	}
	p := &pairing{text: lat + " | " + lon, o: o, fields: true}
	for i, field := range []string{lat, lon} {
		tokens, bad := lex(field)
		if bad != nil {
			return Reading{}, bad
		}
		w, bad := assemble(field, commasAsPoints(tokens), 1)
		if bad != nil {
			return Reading{}, bad
		}
		p.c[i] = w.parts[0]
		if p.a[i], bad = p.c[i].measure(field); bad != nil {
			if isGridLength(lat) && isGridLength(lon) {
				bad = refuse("grid-without-zone", "text", clip(lat+" "+lon))
			}
			return Reading{}, bad
		}
		if w.datum != "" {
			p.doubts = append(p.doubts, ask("datum", "datum", w.datum))
		}
	}
	r, bad := p.read()
	return r, orNil(bad)
}

// isGridLength tells metres of a grid, six or seven digits before the decimals
// and no sign, from degrees that lost their decimal point.
func isGridLength(s string) bool {
	return s != "" && s[0] >= '0' && s[0] <= '9' && len(wholeDigits(s)) >= 6
}

func wholeDigits(s string) string {
	s = strings.TrimLeft(s, "+-− ")
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i]
}

// orNil keeps a nil *Refusal from becoming an error that is not nil.
func orNil(bad *Refusal) error {
	if bad == nil {
		return nil
	}
	return bad
}

// readTokens reads a position once it is settled what its commas mean.
func readTokens(text string, tokens []token, o Options) (Reading, *Refusal) {
	w, bad := assemble(text, tokens, 2)
	if bad != nil {
		return Reading{}, bad
	}
	p := &pairing{text: text, o: o, xFirst: w.xFirst}
	for i, c := range w.parts {
		p.c[i] = c
		if p.a[i], bad = c.measure(text); bad != nil {
			return Reading{}, bad
		}
	}
	if w.height != "" {
		p.doubts = append(p.doubts, ask("third-number", "piece", w.height))
	}
	if w.datum != "" {
		p.doubts = append(p.doubts, ask("datum", "datum", w.datum))
	}
	if w.comma && !strings.Contains(text, ".") {
		p.doubts = append(p.doubts, ask("decimal-comma", "text", clip(text)))
	}
	if w.spaced {
		p.doubts = append(p.doubts, ask("degrees-or-minutes", "text", clip(text)))
	}
	return p.read()
}

// commasAsPoints joins digits, comma, digits to one number. Where that cannot
// be (two commas in one number, a decimal point already) the comma stays, a
// separator: where any number has a decimal point no comma is a decimal sign.
func commasAsPoints(tokens []token) []token {
	for _, t := range tokens {
		if t.kind == kNumber && strings.Contains(t.text, ".") {
			return tokens
		}
	}
	var out []token
	for i := 0; i < len(tokens); i++ {
		n := len(out)
		if tokens[i].kind == kComma && n > 0 && i+1 < len(tokens) && out[n-1].kind == kNumber && tokens[i+1].kind == kNumber && !strings.Contains(out[n-1].text, ".") {
			out[n-1].text += "." + tokens[i+1].text
			i++
			continue
		}
		out = append(out, tokens[i])
	}
	return out
}
