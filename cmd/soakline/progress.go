package main

import (
	"fmt"
	"strings"
	"time"
)

// progress sets a function that tells, on a terminal only, how far long work
// has come, at most five times a second; done wipes the line.
func (a *app) progress(to *func(done, of int), slug string) (done func()) {
	if !a.terminal {
		return func() {}
	}
	var last time.Time
	width := 0
	*to = func(n, of int) {
		if now := time.Now(); now.Sub(last) > 200*time.Millisecond || n == of {
			last = now
			text := a.say(slug, "n", n, "of", of)
			width = max(width, len(text))
			fmt.Fprintf(a.err, "\r%-*s", width, text)
		}
	}
	return func() {
		if width > 0 {
			fmt.Fprintf(a.err, "\r%s\r", strings.Repeat(" ", width))
		}
	}
}
