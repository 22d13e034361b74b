package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// guardNumbers lets a word that begins with a minus sign and a digit be an
// argument, never a flag: "place between -33.9 151.2 …" would otherwise end in
// an unknown flag. Such words, and the bare words after the first of them, go
// behind "--"; a flag keeps the value that follows it.
func guardNumbers(root *cobra.Command, args []string) []string {
	if !anyNegative(args) {
		return args
	}
	cmd, rest, err := root.Find(args)
	if err != nil || cmd == nil {
		return args
	}
	head := args[:len(args)-len(rest)]
	var flags, bare []string
	for i := 0; i < len(rest); i++ {
		w := rest[i]
		switch {
		case w == "--":
			bare = append(bare, rest[i+1:]...)
			i = len(rest)
		case negative(w) || !strings.HasPrefix(w, "-") || w == "-":
			bare = append(bare, w)
		case takesValue(cmd, w) && i+1 < len(rest):
			flags = append(flags, w+"="+rest[i+1])
			i++
		default:
			flags = append(flags, w)
		}
	}
	out := append([]string{}, head...)
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
