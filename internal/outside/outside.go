// Package outside finds the programs outside Go that some tests need: a
// browser, R, a schema checker. Only tests import it.
package outside

import (
	"fmt"
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
	missing(t, fmt.Sprint(programs))
	return ""
}

// Browser returns the path of a Chromium.
func Browser(t testing.TB) string { return Need(t, "chromium", "chromium-browser", "google-chrome") }

// R returns the path of Rscript, with one of R's packages installed beside it;
// without it a test fails or is skipped as by Need.
func R(t testing.TB, pkg string) string {
	t.Helper()
	rscript := Need(t, "Rscript")
	if exec.Command(rscript, "--vanilla", "-e", "quit(status = !nzchar(system.file(package = '"+pkg+"')))").Run() != nil {
		missing(t, "R's package "+pkg)
	}
	return rscript
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" || os.Getenv("SOAKLINE_ALL") == "1" {
		t.Fatalf("needs %s, which is not installed; on Debian `make test` as root installs it", what)
	}
	t.Skipf("not run: needs %s", what)
}
