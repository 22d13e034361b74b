package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/desktop"
)

// openDesk opens the desk on a logbook, or on its start page, and stays until
// it is closed.
func (a *app) openDesk(c *cobra.Command, file string, noBrowser bool) error {
	return desktop.Open(c.Context(), desktop.Options{
		File: file, NoBrowser: noBrowser, Lang: a.lang, Who: a.who, Version: Version, Out: a.out, Now: a.now,
	})
}
