package desktop

import (
	"errors"
	"os"
	"os/exec"
	"runtime"
)

// browse starts the system's browser and does not wait for it.
func browse(address string) error {
	for _, c := range openers() {
		path, err := exec.LookPath(c[0])
		if err != nil {
			continue
		}
		cmd := exec.Command(path, append(c[1:], address)...)
		if err := cmd.Start(); err != nil {
			continue
		}
		go func() { _ = cmd.Wait() }() // leaves no dead child behind
		return nil
	}
	return errors.New("no program to open it with")
}

// openers are the commands that open an address, by system.
func openers() [][]string {
	switch runtime.GOOS {
	case "windows":
		return [][]string{{"rundll32", "url.dll,FileProtocolHandler"}}
	case "darwin":
		return [][]string{{"open"}}
	}
	if os.Getenv("DISPLAY") == "" && os.Getenv("WAYLAND_DISPLAY") == "" {
		return nil // no screen: the address is printed instead
	}
	return [][]string{{"xdg-open"}, {"gio", "open"}, {"sensible-browser"}, {"x-www-browser"}, {"www-browser"}}
}
