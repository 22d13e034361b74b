//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// stopped runs the program as a process of its own, waits until it is at work,
// presses Ctrl-C, and gives the exit code and what it said.
func stopped(t *testing.T, after time.Duration, args ...string) (int, string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, args...)
	cmd.Args[0] = "soakline" // the test binary is the program under this name
	cmd.Env = append(os.Environ(), "SOAKLINE_LANG=en")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(after)
	if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	select {
	case <-done:
	case <-time.After(30 * time.Second):
		_ = cmd.Process.Kill()
		t.Fatal("Ctrl-C did not stop it within 30 s")
	}
	return cmd.ProcessState.ExitCode(), errs.String()
}

// Ctrl-C in a long bootstrap ends the program with 130, says that nothing was
// left half done, and that is so.
func TestCtrlC(t *testing.T) {
	t.Chdir(t.TempDir())
	if code, _, errs := call(t, "demo", "--out", "d"); code != 0 {
		t.Fatal(errs)
	}
	book := "d/invented-season.logbook"
	before, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"compare", book, "--bootstrap", "100000", "--out", "c.csv"},
		{"report", book, "--bootstrap", "100000", "--out", "r.html"},
	} {
		code, said := stopped(t, 3*time.Second, args...)
		if code != exitStopped || !strings.Contains(said, "Stopped. Nothing was left half done.") {
			t.Errorf("%v: exit %d, %s", args[0], code, said)
		}
	}
	for _, f := range []string{"c.csv", "r.html"} {
		if _, err := os.Stat(f); err == nil {
			t.Errorf("%s is there", f)
		}
	}
	after, err := os.ReadFile(book)
	if err != nil || !bytes.Equal(before, after) {
		t.Error("the logbook is not what it was")
	}
	left, err := os.ReadDir("d")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range left {
		if strings.Contains(e.Name(), "journal") || strings.Contains(e.Name(), "lock") || strings.HasSuffix(e.Name(), ".tmp") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

// Ctrl-C in a large import leaves the logbook as it was, whole and not locked.
func TestCtrlCInImport(t *testing.T) {
	t.Chdir(t.TempDir())
	put(t, "many.csv", manyRows(40000))
	if code, _, errs := call(t, "new", "s.logbook"); code != 0 {
		t.Fatal(errs)
	}
	code, said := stopped(t, 1500*time.Millisecond, "import", "s.logbook", "many.csv")
	if code != exitStopped {
		t.Errorf("exit %d, %s", code, said)
	}
	if code, out, errs := call(t, "verify", "s.logbook"); code != 0 {
		t.Errorf("verify: exit %d, %s%s", code, out, errs)
	}
	if _, out, _ := call(t, "rates", "s.logbook", "--json"); !strings.Contains(out, `"set_out": 0`) {
		t.Error("some of the rows came in")
	}
}

func manyRows(n int) string {
	head, lines, _ := strings.Cut(plain, "\n")
	first, _, _ := strings.Cut(lines, "\n")
	var b strings.Builder
	b.WriteString(head + "\n")
	for i := range n {
		b.WriteString(strings.Replace(first, "D1", "D"+strconv.Itoa(i), 1) + "\n")
	}
	return b.String()
}
