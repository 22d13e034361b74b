package publish

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// BenchmarkWrite publishes a season of a hundred thousand rows with two checks
// each. It reports the largest heap seen beside the records themselves.
func BenchmarkWrite(b *testing.B) {
	const rows = 100_000
	from := small(b)[0]
	from.Sightings, from.Notes = nil, ""
	ds := make([]assay.Deployment, rows)
	for i := range ds {
		ds[i] = from
		ds[i].ID = fmt.Sprintf("D-%06d", i)
		ds[i].Site = fmt.Sprintf("site %d", i%500)
		ds[i].SetOut.At = from.SetOut.At.AddDate(0, 0, i%2000)
		ds[i].RetrievedAt = assay.Moment{}
		ds[i].Checks = []assay.Check{from.Checks[0], from.Checks[1]}
		for k := range ds[i].Checks {
			ds[i].Checks[k].At.At = ds[i].Checks[k].At.At.AddDate(0, 0, i%2000)
		}
	}
	protocols, _ := sheet.Protocols()
	for b.Loop() {
		dir := filepath.Join(b.TempDir(), "out")
		stop, peak := make(chan bool), make(chan uint64)
		go func() {
			var most uint64
			for {
				select {
				case <-stop:
					peak <- most
					return
				case <-time.After(100 * time.Millisecond):
					var m runtime.MemStats
					runtime.ReadMemStats(&m)
					most = max(most, m.Sys)
				}
			}
		}()
		in := Input{Deployments: ds, Protocols: protocols, Usual: sheet.DefaultProtocol, Metadata: metadata()}
		if _, err := Write(context.Background(), dir, in); err != nil {
			b.Fatal(err)
		}
		close(stop)
		b.ReportMetric(float64(<-peak)/1e6, "MB-from-system")
		os.RemoveAll(dir)
	}
}
