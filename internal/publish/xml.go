package publish

import (
	"bytes"
	"encoding/xml"
	"strings"
)

// doc writes XML with two spaces for each level. Attributes are written as
// given, so that prefixes stay what they are.
type doc struct {
	b     bytes.Buffer
	stack []string
}

func newDoc() *doc {
	d := &doc{}
	d.b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	return d
}

func escape(s string) string {
	var b bytes.Buffer
	// EscapeText gives an error only when the writer does.
	_ = xml.EscapeText(&b, []byte(normal(s)))
	return b.String()
}

func (d *doc) indent() { d.b.WriteString(strings.Repeat("  ", len(d.stack))) }

// attributes come as pairs of name and value.
func attributes(pairs []string) string {
	var b strings.Builder
	for i := 0; i+1 < len(pairs); i += 2 {
		b.WriteString(" " + pairs[i] + `="` + escape(pairs[i+1]) + `"`)
	}
	return b.String()
}

func (d *doc) open(name string, pairs ...string) {
	d.indent()
	d.b.WriteString("<" + name + attributes(pairs) + ">\n")
	d.stack = append(d.stack, name)
}

func (d *doc) close() {
	name := d.stack[len(d.stack)-1]
	d.stack = d.stack[:len(d.stack)-1]
	d.indent()
	d.b.WriteString("</" + name + ">\n")
}

// inside opens an element, does something and closes it.
func (d *doc) inside(name string, do func(), pairs ...string) {
	d.open(name, pairs...)
	do()
	d.close()
}

// text writes an element with a text; nothing when the text is empty.
func (d *doc) text(name, text string, pairs ...string) {
	if text == "" {
		return
	}
	d.indent()
	d.b.WriteString("<" + name + attributes(pairs) + ">" + escape(text) + "</" + name + ">\n")
}

func (d *doc) empty(name string, pairs ...string) {
	d.indent()
	d.b.WriteString("<" + name + attributes(pairs) + "/>\n")
}

func (d *doc) bytes() []byte { return d.b.Bytes() }
