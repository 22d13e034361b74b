// Package outside finds the programs outside Go that some tests need: a
// browser, R, a schema checker. Only tests import it.
package outside

import (
	"os"
	"os/exec"
	"testing"
)

// Need returns the path of the first of the programs that is installed. Where
// none is, a test fails when everything is to be run (CI=true, or
// SOAKLINE_ALL=1, which `make test` sets once it has installed what the suites
// need) and is otherwise skipped by name.
func Need(t testing.TB, programs ...string) string {
	t.Helper()
	for _, p := range programs {
		if path, err := exec.LookPath(p); err == nil {
			return path
		}
	}
	if os.Getenv("CI") == "true" || os.Getenv("SOAKLINE_ALL") == "1" {
		t.Fatalf("needs %v, which is not installed; on Debian `make test` as root installs it", programs)
	}
	t.Skipf("not run: needs %v", programs)
	return ""
}

// Browser returns the path of a Chromium.
func Browser(t testing.TB) string { return Need(t, "chromium", "chromium-browser", "google-chrome") }
