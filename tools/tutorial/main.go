// Command tutorial runs every command of docs/tutorial.md, in order, in an empty
// folder, and puts what they print under them, so that the outputs in the
// tutorial are those of the program as it is. It is run by hand, on a system
// with a POSIX shell, and its result is committed:
//
//	go build -o soakline ./cmd/soakline
//	go run ./tools/tutorial ./soakline docs/tutorial.md
//
// A line of a console block that begins with "$ " is a command; every other line
// of the block is replaced. Findings that say the same of row after row stand
// once, with … for the others. With -check nothing is written, and a difference
// is an error.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// repeated are parts of findings of which one is enough to read.
var repeated = []string{"times without an offset from UTC"}

func main() {
	check := flag.Bool("check", false, "write nothing; fail when an output differs")
	flag.Parse()
	if flag.NArg() != 2 {
		fmt.Fprintln(os.Stderr, "usage: go run ./tools/tutorial [-check] SOAKLINE docs/tutorial.md")
		os.Exit(2)
	}
	if err := run(flag.Arg(0), flag.Arg(1), *check); err != nil {
		fmt.Fprintln(os.Stderr, "tutorial:", err)
		os.Exit(1)
	}
}

func run(program, document string, check bool) error {
	program, err := filepath.Abs(program)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(document)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "tutorial")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := os.Symlink(program, filepath.Join(dir, "soakline")); err != nil {
		return err
	}
	filled, err := fill(dir, string(text))
	if err != nil {
		return err
	}
	switch {
	case filled == string(text):
		return nil
	case check:
		return errors.New(document + " does not show what the program prints now; run this without -check and look at the difference")
	}
	return os.WriteFile(document, []byte(filled), 0o644)
}

// fill gives the document with every console block run in dir.
func fill(dir, text string) (string, error) {
	var out strings.Builder
	inside := false
	for line := range strings.Lines(text) {
		switch {
		case strings.HasPrefix(line, "```"):
			inside = strings.TrimSpace(line) == "```console"
		case inside && strings.HasPrefix(line, "$ "):
			printed, err := shell(dir, strings.TrimSpace(line[2:]))
			if err != nil {
				return "", err
			}
			out.WriteString(line + printed)
			continue
		case inside:
			continue
		}
		out.WriteString(line)
	}
	return out.String(), nil
}

// shell runs one command and gives what it prints. A command that ends with 1 or
// 2 has told something, which is part of the tutorial; others are errors.
func shell(dir, command string) (string, error) {
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stop()
	c := exec.CommandContext(ctx, "sh", "-c", command)
	c.Dir = dir
	c.Env = append(os.Environ(), "PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"), "LANG=C.UTF-8", "LC_ALL=")
	printed, err := c.CombinedOutput()
	var ended *exec.ExitError
	if err != nil && !(errors.As(err, &ended) && (ended.ExitCode() == 1 || ended.ExitCode() == 2)) {
		return "", fmt.Errorf("%s: %w: %s", command, err, printed)
	}
	return shorten(string(printed)), nil
}

// shorten takes blanks off the ends of lines and repetitions out.
func shorten(printed string) string {
	var out strings.Builder
	seen := map[string]int{}
	for line := range strings.Lines(printed) {
		line = strings.TrimRight(line, " \r\n")
		again := 0
		for _, part := range repeated {
			if strings.Contains(line, part) {
				seen[part]++
				again = seen[part]
			}
		}
		switch again {
		case 0, 1:
			out.WriteString(line + "\n")
		case 2:
			out.WriteString("…\n")
		}
	}
	return out.String()
}
