// Package report answers: what does this season say, on one page that can be
// read, printed and sent? It writes the report as one HTML file, results as tidy
// tables with a dictionary, and turns records and results into the drawings of
// package figure for the desk as well.
//
// It computes no statistics: numbers come from rates and compare. The first
// layer is in plain words; a second layer has the terms of a methods section.
package report
