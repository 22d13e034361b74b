// Package pattern holds regular expressions that are compiled when they are
// first used: a program that can read fifty shapes of text starts without
// compiling those it will not meet. That each compiles is held by a test.
package pattern

import (
	"regexp"
	"sync"
)

// Pattern is a regular expression in the syntax of package regexp.
type Pattern struct{ compiled func() *regexp.Regexp }

// New returns the pattern of a text. It panics when the pattern is first used
// if the text is none.
func New(text string) Pattern {
	return Pattern{sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })}
}

// MatchString reports whether s holds a match.
func (p Pattern) MatchString(s string) bool { return p.compiled().MatchString(s) }

// FindStringSubmatch returns the leftmost match and its groups, or nil.
func (p Pattern) FindStringSubmatch(s string) []string { return p.compiled().FindStringSubmatch(s) }

// FindStringSubmatchIndex returns where these begin and end in s, or nil.
func (p Pattern) FindStringSubmatchIndex(s string) []int {
	return p.compiled().FindStringSubmatchIndex(s)
}

// ReplaceAllString replaces every match.
func (p Pattern) ReplaceAllString(s, by string) string { return p.compiled().ReplaceAllString(s, by) }

// Split cuts s at every match; n as in package regexp.
func (p Pattern) Split(s string, n int) []string { return p.compiled().Split(s, n) }
