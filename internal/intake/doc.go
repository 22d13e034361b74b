// Package intake answers: which records does this datasheet hold? Any sheet a
// person keeps goes in as bytes; canonical field texts for each deployment come
// out, each with its place in the file, beside every question that only a
// person can answer and every cell that could not be read.
//
// It works in three steps, each of which can be looked at on its own:
//
//   - Tables: bytes to tables of cells (CSV in any usual encoding and
//     separator, XLSX, ODS), within limits that hold before anything is parsed.
//   - Propose: a table to a Map, which says what each column is and how its
//     values are written, each with the reason for the guess.
//   - Read: tables and their confirmed maps to records, joined across tables.
//
// A map is kept as text and serves again for files with the same headings.
// Nothing is guessed silently: what the values decide is told as a reason, and
// what they leave open is a Question with a proposal.
//
// Intake judges no record: a count above the number of baits reads well and is
// the business of package quality. Only what cannot be read is a fault here.
// It leaves out formulas (the value kept with the sheet is read), pictures,
// comments on cells, and the old binary .xls format.
package intake
