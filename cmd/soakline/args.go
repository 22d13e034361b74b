package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// textVerb marks a verb whose arguments are a person's text, in which any word
// may begin with a minus: no word of it is a flag but the verb's own flags.
const textVerb = "text"

// guardNumbers lets a word that begins with a minus sign and a digit be an
// argument, never a flag: "place between -33.9 151.2 …" would otherwise end in
// an unknown flag; and so for every word of a verb that takes text. The verb's
// flags come first, each with its value, and all else goes behind "--".
func guardNumbers(root *cobra.Command, args []string) []string {
	cmd, rest, err := root.Find(args)
	if err != nil || cmd == nil || cmd == root {
		return args
	}
	text := cmd.Annotations[textVerb] != ""
	if !text && !anyNegative(args) {
		return args
	}
	var flags, bare []string
	for i := 0; i < len(rest); i++ {
		w := rest[i]
		switch {
		case w == "--":
			bare = append(bare, rest[i+1:]...)
			i = len(rest)
		case negative(w) || !strings.HasPrefix(w, "-") || w == "-" || text && !looksLikeFlag(cmd, w):
			bare = append(bare, w)
		case takesValue(cmd, w) && i+1 < len(rest):
			flags = append(flags, w+"="+rest[i+1])
			i++
		default:
			flags = append(flags, w)
		}
	}
	// The verb by its names, since flags may have stood before and between them.
	out := strings.Fields(cmd.CommandPath())[1:]
	out = append(out, flags...)
	out = append(out, "--")
	return append(out, bare...)
}

func anyNegative(args []string) bool {
	for _, w := range args {
		if negative(w) {
			return true
		}
	}
	return false
}

func negative(w string) bool {
	return len(w) >= 2 && w[0] == '-' && (w[1] >= '0' && w[1] <= '9' || w[1] == '.' && len(w) > 2)
}

// looksLikeFlag tells a flag, or a mistyped one, from a word of a text: -W8.2,
// -- 36.9, --36.9 are words.
func looksLikeFlag(cmd *cobra.Command, w string) bool {
	name, isLong := strings.CutPrefix(w, "--")
	if !isLong {
		return len(w) == 2 && (w == "-h" || cmd.Flags().ShorthandLookup(w[1:]) != nil || cmd.InheritedFlags().ShorthandLookup(w[1:]) != nil)
	}
	name, _, _ = strings.Cut(name, "=")
	if name == "" {
		return false
	}
	for _, c := range name {
		if (c < 'a' || c > 'z') && c != '-' {
			return false
		}
	}
	return true
}

// takesValue says whether the next word belongs to this flag.
func takesValue(cmd *cobra.Command, w string) bool {
	name, isLong := strings.CutPrefix(w, "--")
	if !isLong || strings.Contains(name, "=") {
		return false
	}
	f := cmd.Flags().Lookup(name)
	if f == nil {
		f = cmd.InheritedFlags().Lookup(name)
	}
	return f != nil && f.NoOptDefVal == ""
}
