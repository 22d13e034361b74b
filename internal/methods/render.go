package methods

import (
	"strings"
	"unicode/utf8"

	"soakline/internal/words"
)

// Markdown is the document as Markdown.
func (d Document) Markdown(l words.Language) []byte {
	var b strings.Builder
	b.WriteString("# " + guard(d.Title) + "\n\n")
	if d.Invented != "" {
		b.WriteString("**" + d.Invented + "**\n\n")
	}
	for _, s := range d.Sections {
		b.WriteString("## " + s.Title + "\n\n")
		if s.Slug == "remarks" {
			for _, p := range s.Paragraphs {
				b.WriteString("- " + guard(p) + "\n")
			}
			b.WriteByte('\n')
			continue
		}
		b.WriteString(guard(strings.Join(s.Paragraphs, " ")) + "\n\n")
		for _, f := range s.Symbols {
			b.WriteString("    " + f + "\n")
		}
		if len(s.Symbols) > 0 {
			b.WriteByte('\n')
		}
	}
	b.WriteString("## " + l.Say("methods.h-references", nil) + "\n\n")
	for _, r := range d.References {
		b.WriteString("- " + guard(r.Text()) + "\n")
	}
	return []byte(b.String())
}

// guard keeps what a person wrote from being taken for Markdown.
func guard(s string) string {
	// An underscore inside a word is only itself (CommonMark, 6.2).
	return strings.NewReplacer("\\", "\\\\", "*", "\\*", " _", " \\_", "_ ", "\\_ ", "`", "\\`", "<", "\\<", "[", "\\[", "#", "\\#", "\n", " ").Replace(s)
}

// Plain is the document as text, lines of 80 characters.
func (d Document) Plain(l words.Language) []byte {
	var b strings.Builder
	head := func(s, line string) {
		b.WriteString(s + "\n" + strings.Repeat(line, utf8.RuneCountInString(s)) + "\n\n")
	}
	head(d.Title, "=")
	if d.Invented != "" {
		b.WriteString(d.Invented + "\n\n")
	}
	for _, s := range d.Sections {
		head(s.Title, "-")
		if s.Slug == "remarks" {
			for _, p := range s.Paragraphs {
				wrap(&b, "- "+p, "  ")
			}
			b.WriteByte('\n')
			continue
		}
		wrap(&b, strings.Join(s.Paragraphs, " "), "")
		b.WriteByte('\n')
		for _, f := range s.Symbols {
			b.WriteString("    " + f + "\n")
		}
		if len(s.Symbols) > 0 {
			b.WriteByte('\n')
		}
	}
	head(l.Say("methods.h-references", nil), "-")
	for _, r := range d.References {
		wrap(&b, r.Text(), "    ")
	}
	return []byte(b.String())
}

// wrap writes a paragraph in lines of at most 80 characters, later ones indented.
func wrap(b *strings.Builder, text, indent string) {
	n := 0
	for i, w := range strings.Fields(text) {
		length := utf8.RuneCountInString(w)
		switch {
		case i == 0:
		case n+1+length > 80:
			b.WriteString("\n" + indent)
			n = utf8.RuneCountInString(indent)
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(w)
		n += length
	}
	b.WriteByte('\n')
}
