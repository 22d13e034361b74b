// Package words is the catalogue of sentences: a slug and typed parameters go
// in, text for a person comes out, in English or Spanish. One pair of files for
// each room, en/ROOM.toml and es/ROOM.toml, hold `"slug" = "sentence"`.
//
// In a sentence {name} stands for a parameter, {n|one bait|{n} baits} for a
// choice by number (the first form for exactly 1), {x:2} for a number with that
// many decimals, {x:%} for a share written as a percentage, {x:p} for a p value,
// {x:P} for one with its sign ("= 0.0123", "< 0.0001"), and {{ }} for braces.
//
// Numbers keep the decimal point in every language, as the files do, so that
// what a person reads on a screen can be typed back in.
package words

import (
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/BurntSushi/toml"
)

//go:embed en/*.toml es/*.toml
var files embed.FS

// Language names a language of the catalogue.
type Language string

// The languages; Pseudo is English in brackets with accents, which shows
// strings that never went through the catalogue.
const (
	English Language = "en"
	Spanish Language = "es"
	Pseudo  Language = "xx"
)

// Languages a person may choose.
var Languages = []Language{English, Spanish}

// P are the parameters of a sentence: int, float64, string, time.Time, Ref,
// []string or anything with a String method.
type P map[string]any

// Ref is a parameter that is itself a sentence of the catalogue.
type Ref struct {
	Slug string
	With map[string]any
}

// In is the sentence in a language.
func (r Ref) In(l Language) string { return l.Say(r.Slug, r.With) }

// List is a parameter that is several values joined for reading.
type List []any

// catalogue is one language: its files' own text of each entry, and the
// sentences that were asked for.
type catalogue struct {
	entries map[string]string
	read    sync.Map // slug to []part
}

// catalogues are opened when a sentence of their language is first asked for: a
// verb that speaks one language does not wait for the other, nor for sentences
// that it does not say.
var catalogues = map[Language]func() (*catalogue, error){
	English: sync.OnceValues(func() (*catalogue, error) { return open(English) }),
	Spanish: sync.OnceValues(func() (*catalogue, error) { return open(Spanish) }),
}

func open(l Language) (*catalogue, error) {
	c := &catalogue{entries: make(map[string]string, 4096)}
	names, err := fs.Glob(files, string(l)+"/*.toml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		b, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		if err := c.cut(string(b)); err != nil {
			return nil, fmt.Errorf("words: %s: %w", path.Base(name), err)
		}
	}
	return c, nil
}

// cut takes a file apart into its entries, each beginning on a line of its own
// with its slug in quotes.
func (c *catalogue) cut(text string) error {
	for text != "" {
		line, rest, _ := strings.Cut(text, "\n")
		if line == "" || line[0] == '#' {
			text = rest
			continue
		}
		slug, value, ok := strings.Cut(strings.TrimPrefix(line, `"`), `" = `)
		if !ok || line[0] != '"' {
			return fmt.Errorf("%q is no entry", line)
		}
		entry := line
		if long, found := strings.CutPrefix(value, `"""`); found && !strings.Contains(long, `"""`) {
			_, after, closed := strings.Cut(rest, `"""`)
			if !closed {
				return fmt.Errorf("slug %s: a text without its end", slug)
			}
			entry = text[:len(text)-len(after)]
			_, rest, _ = strings.Cut(after, "\n")
		}
		if _, twice := c.entries[slug]; twice {
			return fmt.Errorf("slug %s stands in the catalogue twice", slug)
		}
		c.entries[slug] = entry
		text = rest
	}
	return nil
}

// sentence reads the sentence of a slug; nil and no error if there is none.
func (c *catalogue) sentence(slug string) ([]part, error) {
	if parts, ok := c.read.Load(slug); ok {
		return parts.([]part), nil
	}
	entry, ok := c.entries[slug]
	if !ok {
		return nil, nil
	}
	text, err := plain(slug, entry)
	if err != nil {
		return nil, err
	}
	parts, err := parse(text)
	if err != nil {
		return nil, err
	}
	if parts == nil {
		parts = []part{} // an empty sentence is one
	}
	c.read.Store(slug, parts)
	return parts, nil
}

// plain is the text of an entry. One on a line, without a backslash, says what
// stands between its quotes; any other is read as TOML.
func plain(slug, entry string) (string, error) {
	value := strings.TrimPrefix(entry, `"`+slug+`" = `)
	if n := len(value); n >= 2 && value[0] == '"' && value[n-1] == '"' && !strings.ContainsAny(value[1:n-1], `"\`) {
		return value[1 : n-1], nil
	}
	var read map[string]string
	err := toml.Unmarshal([]byte(entry), &read)
	return read[slug], err
}

// Check reports a fault in the catalogue's files: one that cannot be read, or a
// slug or a parameter that stands in one language only.
func Check() error {
	en, err := catalogues[English]()
	if err != nil {
		return err
	}
	es, err := catalogues[Spanish]()
	if err != nil {
		return err
	}
	var wrong []string
	for _, slug := range slices.Sorted(maps.Keys(en.entries)) {
		if _, ok := es.entries[slug]; !ok {
			wrong = append(wrong, slug+" has no Spanish")
			continue
		}
		one, err := en.sentence(slug)
		if err != nil {
			wrong = append(wrong, fmt.Sprintf("slug %s in English: %v", slug, err))
		}
		other, err := es.sentence(slug)
		if err != nil {
			wrong = append(wrong, fmt.Sprintf("slug %s in Spanish: %v", slug, err))
		}
		if a, b := params(one), params(other); !slices.Equal(a, b) {
			wrong = append(wrong, fmt.Sprintf("%s uses %v in English and %v in Spanish", slug, a, b))
		}
	}
	for _, slug := range slices.Sorted(maps.Keys(es.entries)) {
		if _, ok := en.entries[slug]; !ok {
			wrong = append(wrong, slug+" has no English")
		}
	}
	if wrong != nil {
		return fmt.Errorf("words: %s", strings.Join(wrong, "; "))
	}
	return nil
}

// Has says whether the catalogue holds slug.
func Has(slug string) bool {
	en, err := catalogues[English]()
	if err != nil {
		return false
	}
	_, ok := en.entries[slug]
	return ok
}

// Slugs lists every slug that begins with prefix, in byte order.
func Slugs(prefix string) []string {
	en, err := catalogues[English]()
	if err != nil {
		return nil
	}
	var found []string
	for slug := range en.entries {
		if strings.HasPrefix(slug, prefix) {
			found = append(found, slug)
		}
	}
	slices.Sort(found)
	return found
}

// Say is the sentence of slug in language l. A slug the catalogue lacks comes
// back in angle brackets, so that it is seen, never an empty string.
func (l Language) Say(slug string, with map[string]any) string {
	opened := catalogues[l]
	if opened == nil {
		opened = catalogues[English]
	}
	c, err := opened()
	if err != nil {
		return "⟨" + slug + ": " + err.Error() + "⟩"
	}
	parts, err := c.sentence(slug)
	if err != nil {
		return "⟨" + slug + ": " + err.Error() + "⟩"
	}
	if parts == nil {
		return "⟨" + slug + "⟩"
	}
	var b strings.Builder
	l.write(&b, parts, with)
	if l == Pseudo {
		return "⟦" + b.String() + "⟧"
	}
	return b.String()
}

// Choose takes the language from a BCP 47 tag or a locale name such as
// "es_MX.UTF-8"; English when it is none of ours.
func Choose(tag string) Language {
	head, _, _ := strings.Cut(strings.ToLower(strings.ReplaceAll(tag, "_", "-")), "-")
	switch Language(head) {
	case Spanish:
		return Spanish
	case Pseudo:
		return Pseudo
	}
	return English
}

func (l Language) write(b *strings.Builder, parts []part, with map[string]any) {
	for _, p := range parts {
		switch {
		case p.name == "" && l == Pseudo:
			b.WriteString(accent(p.text))
		case p.name == "":
			b.WriteString(p.text)
		case p.one != nil:
			if isOne(with[p.name]) {
				l.write(b, p.one, with)
			} else {
				l.write(b, p.many, with)
			}
		default:
			v, ok := with[p.name]
			if !ok {
				b.WriteString("⟨" + p.name + "⟩")
				continue
			}
			b.WriteString(l.value(v, p.format))
		}
	}
}

func isOne(v any) bool {
	switch n := v.(type) {
	case int:
		return n == 1
	case int64:
		return n == 1
	case float64:
		return n == 1
	}
	return false
}

func (l Language) value(v any, format string) string {
	switch x := v.(type) {
	case string:
		return x
	case int:
		return strconv.Itoa(x)
	case float64:
		return Number(x, format)
	case time.Time:
		return x.Format("2006-01-02 15:04 -07:00")
	case Ref:
		return strings.Trim(l.Say(x.Slug, x.With), "⟦⟧")
	case []string:
		return l.join(len(x), func(i int) string { return x[i] })
	case List:
		return l.join(len(x), func(i int) string { return l.value(x[i], format) })
	case fmt.Stringer:
		return x.String()
	}
	return fmt.Sprint(v)
}

func (l Language) join(n int, at func(int) string) string {
	and := " and "
	switch l {
	case Spanish:
		and = " y "
	case Pseudo:
		and = " ánd "
	}
	var b strings.Builder
	for i := range n {
		if i == n-1 && i > 0 {
			b.WriteString(and)
		} else if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(at(i))
	}
	return b.String()
}

// raised turns the digits of an exponent into raised ones.
var raised = strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹")

// Number writes x for reading: format is a number of decimals, "%" for a share
// as a percentage, "p" for a probability told to four decimals, "P" for one with
// its sign before it, or empty for four significant digits.
func Number(x float64, format string) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 1):
		return "∞"
	case math.IsInf(x, -1):
		return "−∞"
	}
	var s string
	switch {
	case format == "P" && x < 0.00005:
		return "< 0.0001"
	case format == "P":
		return "= " + strconv.FormatFloat(x, 'f', 4, 64)
	case format == "p" && x < 0.00005:
		return "<0.0001"
	case format == "p":
		s = strconv.FormatFloat(x, 'f', 4, 64)
	case format == "%":
		s = strconv.FormatFloat(100*x, 'f', 0, 64) + " %"
	case format != "":
		d, err := strconv.Atoi(format)
		if err != nil {
			d = 2
		}
		s = strconv.FormatFloat(x, 'f', d, 64)
	default:
		s = strconv.FormatFloat(x, 'g', 4, 64)
		if big := math.Abs(x); big >= 1000 && big < 1e7 {
			s = strconv.FormatFloat(x, 'f', 0, 64)
		} else if mantissa, exponent, far := strings.Cut(s, "e"); far {
			n, _ := strconv.Atoi(exponent)
			s = mantissa + "×10" + raised.Replace(strconv.Itoa(n))
		}
	}
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0. %") == "" {
			return s[1:]
		}
		return "−" + s[1:]
	}
	return s
}

// accent makes a text visibly not a language, of the same length or longer.
func accent(s string) string {
	return strings.NewReplacer("a", "á", "e", "ë", "i", "ï", "o", "ö", "u", "ü", "A", "Â", "E", "É", "O", "Ø", "I", "Ï", "U", "Ü").Replace(s)
}
