package sqlite

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"

	"soakline/internal/logbook"
)

// fieldsOf are the fields of a deployment as wide as the datasheet's usual one.
func fieldsOf(i int) map[string]string {
	return map[string]string{
		"programme": "invented", "team": "north", "season": "2026", "site": "dock" + strconv.Itoa(i%40),
		"deployment_id": "D" + strconv.Itoa(i), "habitat": "sand", "latitude": "36.9512", "longitude": "-8.2034",
		"deployed_at": "2026-07-01T09:00:00Z", "baits_deployed": "25",
		"check1_at": "2026-07-01T10:02:00Z", "consumed_by_check1": "9", "lost_by_check1": "0",
		"check2_at": "2026-07-02T09:03:00Z", "consumed_by_check2": "21", "lost_by_check2": "1",
		"observers": "Ada Example, Bo Example", "depth_min_m": "1.5", "depth_max_m": "2.0", "temperature_c": "18.4",
	}
}

func importMany(book *logbook.Book, n int) error {
	return book.Change(context.Background(), func(tx *logbook.Tx) error {
		src, _, err := tx.AddSource("many.csv", []byte("x"), stamp(""))
		if err != nil {
			return err
		}
		for i := range n {
			s := stamp("")
			s.Source, s.Line = src.ID, i+2
			v, err := tx.Put(logbook.Record{Kind: "deployment", Fields: fieldsOf(i)}, s)
			if err != nil {
				return err
			}
			if err := tx.AddAlias(logbook.Alias{Record: v.Record, Source: "many.csv", Earlier: "D" + strconv.Itoa(i), Line: i + 2}); err != nil {
				return err
			}
		}
		return nil
	})
}

// many is how many deployments the benchmarks hold.
const many = 100_000

// BenchmarkImport puts 100,000 deployments of 20 fields in one transaction.
func BenchmarkImport(b *testing.B) {
	for i := range b.N {
		book, err := Create(context.Background(), filepath.Join(b.TempDir(), fmt.Sprint(i)), made, Options{})
		if err != nil {
			b.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		b.ResetTimer()
		if err := importMany(book, many); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		runtime.GC()
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.HeapSys)/1e6, "heap-MB")
		b.ReportMetric(float64(b.Elapsed().Microseconds())/many, "µs/record")
		book.Close()
	}
}

// The other benchmarks share one logbook of 100,000 deployments.
func bigBook(b *testing.B) (*logbook.Book, string) {
	path := filepath.Join(b.TempDir(), "big.logbook")
	book, err := Create(context.Background(), path, made, Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { book.Close() })
	if err := importMany(book, many); err != nil {
		b.Fatal(err)
	}
	return book, path
}

func BenchmarkBig(b *testing.B) {
	book, path := bigBook(b)
	ctx := context.Background()
	b.Run("records", func(b *testing.B) {
		for range b.N {
			n := 0
			err := book.View(ctx, func(tx *logbook.Tx) error {
				for _, err := range tx.Records("deployment") {
					if err != nil {
						return err
					}
					n++
				}
				return nil
			})
			if err != nil || n != many {
				b.Fatal(n, err)
			}
		}
	})
	b.Run("put the same", func(b *testing.B) {
		for range b.N {
			err := book.Change(ctx, func(tx *logbook.Tx) error {
				for r, err := range tx.Records("deployment") {
					if err != nil {
						return err
					}
					if v, err := tx.Put(r, stamp("again")); err != nil || v.Happened() {
						return fmt.Errorf("%v %w", v, err)
					}
				}
				return nil
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("verify", func(b *testing.B) {
		for range b.N {
			if faults, err := book.Verify(ctx); err != nil || len(faults) > 0 {
				b.Fatal(faults, err)
			}
		}
	})
	b.Run("backup", func(b *testing.B) {
		for i := range b.N {
			if err := Backup(ctx, book, fmt.Sprint(path, ".backup", i)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("open", func(b *testing.B) {
		for range b.N {
			other, err := Open(ctx, path, Options{ViewOnly: true})
			if err != nil {
				b.Fatal(err)
			}
			other.Close()
		}
	})
	b.Run("correct", func(b *testing.B) {
		for i := range b.N {
			err := book.Change(ctx, func(tx *logbook.Tx) error {
				r, found, err := tx.FindIdentity("deployment", logbook.IdentityOf("deployment", fieldsOf(i%many)))
				if err != nil || !found {
					return fmt.Errorf("%v %w", found, err)
				}
				_, err = tx.Correct(r.Key, map[string]string{"notes": strconv.Itoa(i)}, stamp("corrected"))
				return err
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
}
