package paper

import (
	"fmt"

	"rsc.io/qr"

	"soakline/internal/figure"
)

// Of a printed code: white modules around it (ISO/IEC 18004 asks for 4), and
// the least width of a module that a phone reads on wet paper (common practice,
// no source).
const (
	codeQuiet    = 4
	codeModuleMM = 0.6
)

// NoCode is a text that no code holds.
type NoCode struct{ Text string }

func (e *NoCode) Error() string { return fmt.Sprintf("paper: %q does not go into a code", e.Text) }

// code draws the QR code of a text with its white edge inside the square of the
// given side with its top left at x, y.
func (p *page) code(text string, x, y, side float64) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		p.Fault(&NoCode{text})
		return
	}
	m := side / float64(c.Size+2*codeQuiet)
	if m < codeModuleMM-1e-9 {
		p.Fault(&NoCode{text})
		return
	}
	x, y = x+codeQuiet*m, y+codeQuiet*m
	// One path for all runs: drawn apart, neighbours would show a seam.
	var rings [][]figure.Point
	for j := range c.Size {
		for i := 0; i < c.Size; i++ {
			if !c.Black(i, j) {
				continue
			}
			from := i
			for i < c.Size && c.Black(i, j) {
				i++
			}
			a, b := x+float64(from)*m, x+float64(i)*m
			t, u := y+float64(j)*m, y+float64(j+1)*m
			rings = append(rings, []figure.Point{{X: a, Y: t}, {X: b, Y: t}, {X: b, Y: u}, {X: a, Y: u}})
		}
	}
	p.Area(rings, figure.Fill{Role: figure.Ink})
}

// codeSide is the least side of a text's code with its white edge, mm, no less
// than the side asked for.
func codeSide(text string, side float64) float64 {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return side
	}
	return max(side, float64(c.Size+2*codeQuiet)*codeModuleMM)
}
