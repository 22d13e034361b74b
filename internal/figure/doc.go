// Package figure answers: how do these numbers look? It draws the row (stakes
// in a line, one line per check), curves of baits left over time, rates and
// ratios with every deployment behind them, and a map of the sites.
//
// Every drawing is a function of a plain struct of numbers and texts and gives
// a Drawing: marks and words laid out once, in millimetres, origin top left, y
// downwards. Three pens put the same Drawing on three media: SVG (with title
// and description for people who cannot see it), PNG, and vector PDF on a page
// of its own or on a page somebody else has begun. The same struct gives the
// same bytes on every run: nothing here knows a clock, a random source or the
// order of a map.
//
// Words come from the caller, already in the reader's language; the room has
// no sentences of its own. Every string passes Clean: composed (NFC), and a
// rune without a glyph in the embedded font becomes □ and is listed in
// Drawing.Missing. Right-to-left text is not reordered.
//
// Meaning never rests on colour alone: each fate has a shape, each group of a
// curve a mark and a label at its line's end. Texts do not overlap by the
// metrics of the embedded font, Source Sans 3; where a page shows the SVG with
// another font, textLength holds each text to the width that was laid out.
//
// The SVG carries classes (for a style sheet) beside presentation attributes
// (so that it stands alone), no style attribute and no script, so that a page
// with a strict content policy can hold it: class figure on the svg, f-ROLE on
// what is filled (texts too) and s-ROLE on what is stroked, ROLE being ink,
// mute, hair, paper, sea, warm, bait, gone, no-news, land, shore, series-0 to
// series-6; halo on texts with an edge of paper. All ids begin with Frame.ID,
// which therefore must differ between drawings of one page.
//
// It leaves out: statistics (numbers arrive computed), tagged PDF (the pages
// and the SVG are the accessible form), kerning, rotated text.
package figure
