package assay

import "strings"

// BatchBetween stands between the two bait batches that one row may hold.
const BatchBetween = "; "

// BatchCodes parts the text of bait_batch into the codes of its batches: they
// stand apart by a semicolon, a comma or a plus sign. A code holds none of them.
func BatchCodes(text string) []string {
	var codes []string
	for _, c := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(";,+", r) }) {
		if c = strings.TrimSpace(c); c != "" {
			codes = append(codes, c)
		}
	}
	return codes
}
