package main

import "github.com/spf13/cobra"

func (a *app) openDesk(c *cobra.Command, file string, noBrowser bool) error { return nil }
