// Package paper answers: what does a team carry to the water, and how does it
// come back readable? It prints field sheets for pencil on waterproof paper
// (one row a page or several, counts or every stake), a guide of one page, a
// practice card, and labels for stakes and bags, as PDF in A4 and US Letter.
//
// Every page is a figure.Drawing of the page's size, in millimetres from its
// top left, so that what a test measures is what is printed. Codes are QR codes
// (ISO/IEC 18004), level M, that hold the row's identifier and nothing else; it
// always stands beside them in letters. The same input gives the same bytes: no
// clock is read.
//
// A letter the embedded font lacks is an error (NoGlyph), not a box on the
// paper; what does not fit a page goes on the next, and what fits none is an
// error (NoRoom).
//
// It leaves out: tagged PDF (the desk's pages are the accessible form), and
// judgement of what was written on the sheet (packages intake and quality).
package paper
