// Command studies answers: do the methods hold the rates they state? It draws
// seasons from known truths, runs the program's own estimators on them, counts
// how often limits hold the truth and tests find what is not there, and writes
// the tables of docs/methods/studies.md.
//
//	go run ./tools/studies [-only NAME,…] [-times X] [-again]
//
// Every draw has a random stream of its own, mixed from the study, the line of
// the table and the number of the draw, so the tables do not depend on the
// machine's cores, on the order, or on how often the run was broken off: sums are
// kept in results/NAME.json after every few draws, and the next run goes on from
// there. The seasons are drawn here, bait by bait, without the code under test.
package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"hash/fnv"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// study is one table: its lines are truths, its columns what is measured.
type study struct {
	name, title, about string
	columns            []column
	lines              []line
}

// column is one measured quantity: the mean over draws.
type column struct {
	name string
	kind kind
	// limit of kind: share of limits that should hold the truth (atLeast), of
	// false alarms (atMost), or the two ends of a range (within).
	low, high float64
	// told is the message that the program must give where the limit is missed.
	told string
}

type kind int

const (
	plain   kind = iota // a mean, told as it is
	share               // a share, in per cent, told as it is
	atLeast             // a share that should not be under low
	atMost              // a share that should not be over high
	within              // a mean that should lie in low..high
	said                // the share of draws in which the message was given; not a column of its own
)

// line is one truth: draw gives one number a column, NaN where a draw tells
// nothing about it.
type line struct {
	name  string
	draws int
	draw  func(rng *rand.Rand, seed uint64) []float64
}

// tally is what is kept of one line: draws made, and n, Σx, Σx² by column.
type tally struct {
	Draws int          `json:"draws"`
	Sums  [][3]float64 `json:"sums"`
}

func (t *tally) mean(k int) float64 { return t.Sums[k][1] / t.Sums[k][0] }

// se is the Monte Carlo standard error of a mean; for a share of none or all,
// that of the nearest share that a single draw would have made (never zero).
func (t *tally) se(k int) float64 {
	n, s, q := t.Sums[k][0], t.Sums[k][1], t.Sums[k][2]
	v := math.Max(0, q/n-s*s/(n*n))
	if v == 0 {
		p := 1 / (n + 1)
		v = p * (1 - p)
	}
	return math.Sqrt(v / n)
}

const seed = 20260501

// stream is the random source of one draw.
func stream(study, line string, draw int) (*rand.Rand, uint64) {
	h := fnv.New64a()
	fmt.Fprintf(h, "%d\x1f%s\x1f%s\x1f%d", seed, study, line, draw)
	a := h.Sum64()
	fmt.Fprint(h, "\x1fsecond")
	return rand.New(rand.NewPCG(a, h.Sum64())), a % (1 << 53)
}

func load(dir, name string) (map[string]*tally, error) {
	kept := map[string]*tally{}
	b, err := os.ReadFile(filepath.Join(dir, name+".json"))
	if errors.Is(err, fs.ErrNotExist) {
		return kept, nil
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(b, &kept); err != nil {
		return nil, fmt.Errorf("results of %s: %w; delete the file to begin again", name, err)
	}
	return kept, nil
}

func save(dir, name string, kept map[string]*tally) error {
	b, err := json.MarshalIndent(kept, "", " ")
	if err != nil {
		return err
	}
	temp := filepath.Join(dir, name+".json.part")
	if err := os.WriteFile(temp, append(b, '\n'), 0o644); err != nil {
		return err
	}
	return os.Rename(temp, filepath.Join(dir, name+".json"))
}

// run makes the draws that are missing, a batch of each line in turn, so that a
// run that is broken off has something of every line.
func (s study) run(dir string, times float64) error {
	kept, err := load(dir, s.name)
	if err != nil {
		return err
	}
	began := time.Now()
	for more := true; more; {
		more = false
		for _, l := range s.lines {
			t := kept[l.name]
			if t == nil || len(t.Sums) != len(s.columns) {
				t = &tally{Sums: make([][3]float64, len(s.columns))}
				kept[l.name] = t
			}
			want := int(math.Ceil(float64(l.draws) * times))
			batch := min(want-t.Draws, max(1, l.draws/20))
			for range max(0, batch) {
				rng, seed := stream(s.name, l.name, t.Draws)
				for k, x := range l.draw(rng, seed) {
					if !math.IsNaN(x) {
						t.Sums[k][0]++
						t.Sums[k][1] += x
						t.Sums[k][2] += x * x
					}
				}
				t.Draws++
			}
			if batch > 0 {
				if err := save(dir, s.name, kept); err != nil {
					return err
				}
				fmt.Fprintf(os.Stderr, "%s: %s: %d of %d draws (%.0f s)\n", s.name, l.name, t.Draws, want, time.Since(began).Seconds())
			}
			more = more || t.Draws < want
		}
	}
	return nil
}

func main() {
	only := flag.String("only", "", "names of studies, separated by commas; all without it")
	times := flag.Float64("times", 1, "so many times the draws that the tables state")
	again := flag.Bool("again", false, "forget earlier draws")
	dir := flag.String("results", "tools/studies/results", "folder of the sums")
	page := flag.String("page", "docs/methods/studies.md", "page to write")
	flag.Parse()
	if err := all(*only, *times, *again, *dir, *page); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
}

func all(only string, times float64, again bool, dir, page string) error {
	studies := everyStudy()
	var names []string
	for _, s := range studies {
		names = append(names, s.name)
	}
	chosen := names
	if only != "" {
		chosen = strings.Split(only, ",")
	}
	for _, c := range chosen {
		i := slices.Index(names, c)
		if i < 0 {
			return fmt.Errorf("there is no study %q; there are %s", c, strings.Join(names, ", "))
		}
		if again {
			if err := os.Remove(filepath.Join(dir, c+".json")); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		if err := studies[i].run(dir, times); err != nil {
			return err
		}
	}
	text, err := render(studies, dir)
	if err != nil {
		return err
	}
	fmt.Print(text)
	return os.WriteFile(page, []byte(text), 0o644)
}
