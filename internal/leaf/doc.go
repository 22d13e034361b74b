// Package leaf answers: how do words and drawings stand on a printed page, and
// where does a page end? It sets texts in the embedded font, breaks them into
// lines, lets them flow over pages (flow.go), and writes pages as one PDF.
//
// Every page is a figure.Drawing of the page's size, in millimetres from its
// top left, so that what a test measures is what is printed. Type sizes are mm
// of the em. The same input gives the same bytes: no clock is read.
//
// A letter the embedded font lacks is an error (NoGlyph), not a box on the
// paper; what fits no page is an error (NoRoom).
//
// It leaves out: hyphenation, kerning, right-to-left writing, tagged PDF (the
// HTML pages are the accessible form). It has no sentences of its own.
package leaf
