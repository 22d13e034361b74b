// Package methods answers what a reviewer asks of an analysis: what exactly was
// done, on which records, and can another program find the same numbers. It
// writes the methods section for what was really done, with its references as
// BibTeX, and a script for R that fits the comparison again.
//
// It computes nothing of its own: every number comes from rates and compare.
// Soaks are hours, rates per hour.
package methods
