// Package publish writes a season as open archives that others can use: a
// Darwin Core event archive (core of events, extensions for measurements and
// for animals seen), a Data Package with the canonical tables, GeoJSON, a
// spreadsheet and an R script that refits the published model. It also reads
// such archives back, and says beforehand what a reviewer of them would refuse
// or flag.
//
// Method: Darwin Core text guide (2023-09-13) and terms (2026-05-26), columns
// of the registered definitions of 2025-07-10 and 2023-08-28; EML 2.2.0; Data
// Package 2.0; RFC 7946. Vocabulary addresses are those of the NERC vocabulary
// server that were checked against its tables of January 2026; where it has no
// concept, the column stays empty.
//
// One place decides what may be told (prepare, in release.go): practice rows
// never, blocked rows never, names only with consent, sensitive places only
// generalised. Every writer sees the records after that.
//
// Units: degrees of WGS84, metres, hours. It leaves out what is uploaded where:
// files are written, nothing is sent.
package publish

import (
	"soakline/internal/assay"
	"soakline/internal/words"
)

// Input is a season and what is to be said of it.
type Input struct {
	Deployments []assay.Deployment
	Findings    []assay.Finding
	Protocols   map[string]assay.Protocol
	Usual       string // name of the protocol of records that name none
	Metadata    Metadata
	Version     string // of this program
	Invented    bool   // every file says so
	// LeaveOutBlocked publishes the rest where some records are impossible.
	LeaveOutBlocked bool
	// NoFit leaves out the fit whose numbers model.R prints beside its own.
	NoFit bool
	// Plans are the analysis plans kept before, or after, the data.
	Plans []Plan
	// Previous is the record of an earlier release (release.json); may be nil.
	Previous *Release
	// Why gives the reason kept with the last change of a record; may be nil.
	Why func(key string) string
	// Spend lets Write use up Deployments and Findings: whoever sets it looks at
	// neither again. A large season is then never held twice.
	Spend bool
	// Progress is told how many steps of how many are done; may be nil.
	Progress func(done, of int)
}

// File is one file that was written, its path below the folder.
type File struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// LeftOut is a record that was not published, and why.
type LeftOut struct {
	DeploymentID string         `json:"deployment_id"`
	Slug         string         `json:"slug"`
	Text         string         `json:"text"`
	With         map[string]any `json:"-"`
}

// Result tells what was written: the JSON of `soakline publish --json`.
type Result struct {
	Contract     int             `json:"contract"`
	Files        []File          `json:"files"`
	Deployments  int             `json:"deployments"`
	Events       int             `json:"events"`
	Occurrences  int             `json:"occurrences"`
	Measurements int             `json:"measurements"`
	LeftOut      []LeftOut       `json:"left_out"`
	Messages     []words.Message `json:"messages"`
	// Release is the number under which the logbook keeps it; 0 for none.
	Release int `json:"release,omitempty"`
	// Frozen is what release.json holds.
	Frozen *Release `json:"-"`
}
