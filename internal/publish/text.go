package publish

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// normal is text in composed form (NFC) with control characters as spaces.
func normal(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, norm.NFC.String(s))
}
