package sqlite

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"

	"go.uber.org/goleak"
)

// The test program is also the other program of the tests: with this variable
// it does one of the jobs below instead of testing.
const childJob = "SOAKLINE_TEST_JOB"

func TestMain(m *testing.M) {
	if job := os.Getenv(childJob); job != "" {
		os.Exit(childMain(strings.Split(job, "\n")))
	}
	goleak.VerifyTestMain(m)
}

// childMain does a job and prints the slug of what stopped it.
func childMain(args []string) int {
	ctx := context.Background()
	path := args[1]
	var err error
	switch args[0] {
	case "import": // one import after another, until killed
		err = childImport(ctx, path, 0)
	case "import slowly":
		err = childImport(ctx, path, 20*time.Millisecond)
	case "hold": // holds a change open until it is told to go on
		err = childHold(ctx, path)
	case "add": // as many changes as said
		err = childAdd(ctx, path, args[2])
	case "try": // open, change, create: told apart by what stops it
		err = childTry(ctx, path)
	default:
		err = fmt.Errorf("no job %q", args[0])
	}
	if err != nil {
		fmt.Println("stopped", logbook.SlugOf(err), err)
		return 1
	}
	return 0
}

// recordsAnImport is how many records an import of the kill test makes: few,
// but more than the child's cache holds, so that some reach the file early.
const recordsAnImport = 40

func childImport(ctx context.Context, path string, pause time.Duration) error {
	book, err := Open(ctx, path, Options{cachePages: 5})
	if err != nil {
		return err
	}
	for n := 0; ; n++ {
		fmt.Println("begin", n)
		err := book.Change(ctx, func(tx *logbook.Tx) error {
			content := []byte(strings.Repeat(fmt.Sprint("line of import ", n, os.Getpid(), "\n"), 200))
			src, _, err := tx.AddSource(fmt.Sprint(n, ".csv"), content, stamp(""))
			if err != nil {
				return err
			}
			for i := range recordsAnImport {
				s := stamp("")
				s.Source, s.Line = src.ID, i+2
				v, err := tx.Put(logbook.Record{Kind: "deployment", Fields: map[string]string{
					"import": src.ID, "notes": strings.Repeat("x", 300), "line": strconv.Itoa(i)}}, s)
				if err != nil {
					return err
				}
				if _, err := tx.Correct(v.Record, map[string]string{"notes": "y"}, s); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		fmt.Println("kept", n)
		time.Sleep(pause)
	}
}

func childHold(ctx context.Context, path string) error {
	book, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	defer book.Close()
	return book.Change(ctx, func(tx *logbook.Tx) error {
		if _, err := tx.Put(logbook.Record{Kind: "site", Fields: map[string]string{"code": "held"}}, stamp("")); err != nil {
			return err
		}
		fmt.Println("holding")
		_, err := io.ReadAll(os.Stdin)
		return err
	})
}

func childAdd(ctx context.Context, path, times string) error {
	book, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	defer book.Close()
	n, err := strconv.Atoi(times)
	for i := 0; i < n && err == nil; i++ {
		err = book.Change(ctx, func(tx *logbook.Tx) error {
			_, err := tx.Put(logbook.Record{Kind: "note", Fields: map[string]string{"n": strconv.Itoa(i)}}, stamp(""))
			return err
		})
	}
	return err
}

// childTry prints what happens to a look, to an opening and to a creation.
func childTry(ctx context.Context, path string) error {
	for _, try := range []struct {
		name string
		do   func() (*logbook.Book, error)
	}{
		{"look", func() (*logbook.Book, error) { return Open(ctx, path, Options{ViewOnly: true}) }},
		{"open", func() (*logbook.Book, error) { return Open(ctx, path, Options{}) }},
		{"create", func() (*logbook.Book, error) { return Create(ctx, path+".new", made, Options{}) }},
	} {
		book, err := try.do()
		if err == nil {
			err = book.View(ctx, func(tx *logbook.Tx) error { _, err := tx.Kinds(); return err })
			book.Close()
		}
		fmt.Printf("%s:%s\n", try.name, logbook.SlugOf(err))
	}
	return nil
}

// child is another program at work.
type child struct {
	cmd *exec.Cmd
	in  io.Closer
	out *bufio.Scanner
}

// start starts another program with a job; prepare may change it before.
func start(t testing.TB, prepare func(*exec.Cmd), job ...string) *child {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childJob+"="+strings.Join(job, "\n"))
	cmd.Stderr = os.Stderr
	if prepare != nil {
		prepare(cmd)
	}
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	return &child{cmd: cmd, in: in, out: bufio.NewScanner(out)}
}

// line waits for the next line the child prints; "" at its end.
func (c *child) line() string {
	if c.out.Scan() {
		return c.out.Text()
	}
	return ""
}

// rest reads what the child still prints and waits for its end.
func (c *child) rest() (lines []string, err error) {
	for c.out.Scan() {
		lines = append(lines, c.out.Text())
	}
	return lines, c.cmd.Wait()
}

// waitUntil gives up on what does not happen within ten seconds.
func waitUntil(t *testing.T, what string, happened func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !happened(); {
		if time.Now().After(end) {
			t.Fatal("in vain: ", what)
		}
		time.Sleep(5 * time.Millisecond)
	}
}
