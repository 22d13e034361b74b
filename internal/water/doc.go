// Package water answers what a file says of the water at a place: constituents, a
// local table of high and low waters, a logger's series of levels, or of
// temperature and salinity; and opens such a file, as a person keeps it for a
// site, as the water over time that windows and records are held against.
//
// Files are any that intake reads; a column is found by its heading with its unit.
// Heights are metres above the file's datum, times instants in UTC, temperature
// °C, salinity as written. Cells that cannot be read are told all at once
// (*Faulty); what cannot be meant is a *tide.Refusal. A time without an offset is
// never guessed for a table: its clock must be stated.
//
// It leaves out where the files are kept (task), and every calculation (tide,
// visits).
package water
