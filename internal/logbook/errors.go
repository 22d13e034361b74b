package logbook

import (
	"errors"
	"fmt"
	"strings"
)

// Slugs of what can go wrong; the sentences stand in the catalogue.
const (
	// about the file and its folder
	SlugBusy          = "logbook.busy"            // file
	SlugFull          = "logbook.full"            // file
	SlugReadOnly      = "logbook.read-only"       // file
	SlugFolderClosed  = "logbook.folder-closed"   // folder
	SlugNoPermission  = "logbook.no-permission"   // file
	SlugFolderMissing = "logbook.folder-missing"  // folder
	SlugMissing       = "logbook.missing"         // file
	SlugExists        = "logbook.exists"          // file
	SlugNotALogbook   = "logbook.not-a-logbook"   // file
	SlugNewer         = "logbook.newer"           // file, version, known
	SlugOlder         = "logbook.older"           // file, version, known
	SlugDamaged       = "logbook.damaged"         // file
	SlugLocksFail     = "logbook.locks-fail"      // file
	SlugDevice        = "logbook.device"          // file
	SlugUnfinished    = "logbook.unfinished"      // file
	SlugForeignSchema = "logbook.foreign-schema"  // file, object
	SlugTooLarge      = "logbook.too-large"       // file, bytes, most
	SlugFaulty        = "logbook.faulty"          // file, n
	SlugDatabase      = "logbook.database"        // what the database said is the wrapped error
	SlugClosed        = "logbook.closed"          //
	SlugViewOnly      = "logbook.view-only"       //
	SlugNetworkFolder = "logbook.network-folder"  // folder; a warning
	SlugCopyBeside    = "logbook.conflict-copy"   // file, other; a warning
	SlugBackedUp      = "logbook.backed-up-first" // file, backup; a notice

	// about what was asked
	SlugNoRecord          = "logbook.no-record"          // key
	SlugNoRevision        = "logbook.no-revision"        // key
	SlugNoSource          = "logbook.no-source"          // source
	SlugKeyForm           = "logbook.key-form"           // key
	SlugKindForm          = "logbook.kind-form"          // kind
	SlugKindFixed         = "logbook.kind-fixed"         // key, kind, asked
	SlugIdentityTaken     = "logbook.identity-taken"     // identity, key, other
	SlugChangedMeanwhile  = "logbook.changed-meanwhile"  // key
	SlugTextLong          = "logbook.text-long"          // what, bytes, most
	SlugTextBroken        = "logbook.text-broken"        // what
	SlugFieldNameless     = "logbook.field-nameless"     //
	SlugStampWho          = "logbook.who-missing"        //
	SlugStampWhen         = "logbook.when-missing"       //
	SlugStampLine         = "logbook.line-form"          // line
	SlugWhyMissing        = "logbook.why-missing"        //
	SlugContentUnreadable = "logbook.content-unreadable" // what
)

// Error is a fault of the logbook, told as a slug and its parameters (string,
// int or int64); Err is what lay beneath, if anything.
type Error struct {
	Slug   string
	Params map[string]any
	Err    error
}

// newError makes an Error from pairs of name and value.
func newError(slug string, err error, pairs ...any) *Error {
	e := &Error{Slug: slug, Params: map[string]any{}, Err: err}
	for i := 0; i+1 < len(pairs); i += 2 {
		e.Params[pairs[i].(string)] = pairs[i+1]
	}
	return e
}

// NewError makes an Error for a room that stores a logbook.
func NewError(slug string, err error, pairs ...any) *Error { return newError(slug, err, pairs...) }

// Error is for a log; people read the catalogue's sentence for the slug.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Slug)
	for _, name := range sortedNames(e.Params) {
		fmt.Fprintf(&b, " %s=%v", name, e.Params[name])
	}
	if e.Err != nil {
		b.WriteString(": " + e.Err.Error())
	}
	return b.String()
}

func (e *Error) Unwrap() error { return e.Err }

// SlugOf returns the slug of the outermost Error in err, or "".
func SlugOf(err error) string {
	var e *Error
	if errors.As(err, &e) {
		return e.Slug
	}
	return ""
}
