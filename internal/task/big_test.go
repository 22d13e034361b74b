package task

import (
	"flag"
	"os"
	"testing"
)

var writeBig = flag.String("write-big", "", "write the benchmark's 100,000 deployments to this CSV file")

// TestWriteBig writes the sheet of BenchmarkImport100k for timing the whole
// program on it: go test ./internal/task -run WriteBig -write-big big.csv
func TestWriteBig(t *testing.T) {
	sheet := bigSheet(10)
	if *writeBig != "" {
		sheet = bigSheet(100_000)
		if err := os.WriteFile(*writeBig, sheet, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if len(sheet) < 1000 {
		t.Errorf("a sheet of %d bytes holds no ten deployments", len(sheet))
	}
}
