// Command soakline is the whole program: every verb, and the desk.
//
// It reads arguments, opens what is asked for, calls package task, and prints.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"os/user"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // zones where the system has none

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"soakline/internal/words"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// app is what every verb works with.
type app struct {
	in       io.Reader
	out, err io.Writer
	lang     words.Language
	who      string
	terminal bool // stderr is one: progress may be shown
	colour   bool
	now      func() time.Time
}

// say is a sentence of the catalogue; pairs are names and values.
func (a *app) say(slug string, pairs ...any) string { return a.lang.Say(slug, with(pairs...)) }

func with(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}

// Exits of the program: done; findings that block, or a question or check not
// met; wrong usage or unreadable input; stopped by the person.
const (
	exitDone    = 0
	exitUnmet   = 1
	exitUsage   = 2
	exitStopped = 130
)

// exit ends the program with a code after all has been said.
type exit struct{ code int }

func (exit) Error() string { return "exit" }

func run(args []string, in io.Reader, out, errw io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{in: in, out: out, err: errw, now: time.Now, who: userName(), lang: words.Choose(localeName())}
	if f, ok := errw.(*os.File); ok {
		a.terminal = term.IsTerminal(int(f.Fd()))
	}
	if f, ok := out.(*os.File); ok {
		a.colour = term.IsTerminal(int(f.Fd())) && os.Getenv("NO_COLOR") == ""
	}
	// The language is needed before the arguments are read, for the help texts.
	for i, arg := range args {
		if v, ok := strings.CutPrefix(arg, "--lang="); ok {
			a.lang = words.Choose(v)
		} else if arg == "--lang" && i+1 < len(args) {
			a.lang = words.Choose(args[i+1])
		}
	}
	root := a.root(args...)
	root.SetOut(out)
	root.SetErr(errw)
	root.SetIn(in)
	root.SetArgs(guardNumbers(root, args))
	return a.end(ctx, root.ExecuteContext(ctx))
}

// end says what went wrong, if anything, and gives the exit code.
func (a *app) end(ctx context.Context, err error) int {
	var e exit
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &e):
		return e.code
	case errors.Is(err, context.Canceled) || ctx.Err() != nil:
		a.print(a.err, a.say("cmd.stopped"))
		return exitStopped
	}
	return a.explain(err)
}

func localeName() string {
	for _, name := range []string{"SOAKLINE_LANG", "LC_ALL", "LC_MESSAGES", "LANG"} {
		if v := os.Getenv(name); v != "" {
			return v
		}
	}
	return ""
}

func userName() string {
	if u, err := user.Current(); err == nil {
		if u.Name != "" {
			return strings.TrimRight(u.Name, ",")
		}
		return u.Username
	}
	return "?"
}

func (a *app) print(w io.Writer, s string) { _, _ = io.WriteString(w, s+"\n") }

// noArgs and the like are cobra's checks in the catalogue's words.
func (a *app) argCount(low, high int) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < low || (high >= 0 && len(args) > high) {
			return a.usage(c, "cmd.usage.args", "given", len(args), "use", c.UseLine())
		}
		return nil
	}
}

// usageError is a wrong call: what was wrong, and where help stands.
type usageError struct {
	text string
	path string
}

func (u *usageError) Error() string { return u.text }

func (a *app) usage(c *cobra.Command, slug string, pairs ...any) error {
	return &usageError{text: a.say(slug, pairs...), path: c.CommandPath()}
}
