package web

import (
	"errors"
	"net/http"
)

// open pages need a logbook; b is nil on the others.
type pageFunc func(w http.ResponseWriter, r *http.Request, b *opened) error

func (d *Desk) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /static/{name}", serveAsset)
	free := func(pattern string, f pageFunc) { mux.Handle(pattern, d.free(f)) }
	book := func(pattern string, f pageFunc) { mux.Handle(pattern, d.withBook(f)) }

	free("GET /{$}", d.home)
	free("GET /start", d.start)
	free("GET /row", d.typedRow)
	free("GET /alive", func(w http.ResponseWriter, _ *http.Request, _ *opened) error {
		w.WriteHeader(http.StatusNoContent)
		return nil
	})
	mux.Handle("POST /open", d.exclusive(d.openBook))
	mux.Handle("POST /new", d.exclusive(d.newBook))
	mux.Handle("POST /demo", d.exclusive(d.demoBook))
	free("POST /language", d.setLanguage)
	free("POST /close", d.closeDesk)

	book("GET /rows", d.rowsPage)
	book("GET /rows/new", d.newRow)
	book("POST /rows/new", d.addRow)
	book("GET /rows/{key}", d.rowPage)
	book("GET /rows/{key}/mend", d.mendPage)
	book("POST /rows/{key}/mend", d.mendRow)
	book("POST /rows/{key}/withdraw", d.withdrawRow)
	book("POST /rows/{key}/back", d.bringBack)
	book("POST /undo", d.undo)

	book("GET /questions", d.questionsPage)
	book("GET /questions/one", d.questionPage)
	book("POST /questions/answer", d.answerQuestion)
	book("POST /questions/mend", d.mendQuestion)

	book("GET /sheets", d.sheetsPage)
	book("POST /sheets", d.takeSheets)
	book("GET /sheets/{id}", d.sheetPage)
	book("POST /sheets/{id}", d.answerSheet)
	book("POST /sheets/{id}/keep", d.keepSheet)
	book("POST /sheets/{id}/drop", d.dropSheet)

	book("GET /print", d.printPage)
	book("GET /print/sheets", d.printSheets)
	book("GET /print/day", d.printDay)
	book("GET /print/labels", d.printLabels)
	book("GET /print/guide", d.printGuide)
	book("GET /print/practice", d.printCard)

	book("GET /gear", d.gearPage)
	book("POST /gear/stakes", d.settleOut)
	book("POST /gear/batch", d.saveBatch)
	book("POST /gear/sample", d.checkBatch)
	book("POST /gear/card", d.keepCard)
	book("GET /prep", d.prepPage)
	book("POST /prep/kit", d.keepKit)
	book("GET /packing", d.packPage)
	book("POST /packing", d.keepPacking)

	book("GET /type", d.typePage)
	book("GET /type/sheet", d.typeSheet)
	book("POST /type/sheet", d.takeTyping)
	book("POST /type/settle", d.settleTyping)
	book("POST /type/photo", d.addScan)
	book("GET /scans/{key}/{n}", d.showScan)

	book("GET /answer", d.answerPage)
	book("POST /answer/exact", d.exactAnswer)
	book("POST /answer/closer", d.lookCloser)
	book("POST /answer/report", d.makeReport)
	book("GET /answer/report/{id}", d.getReport)
	book("GET /answer/results/{kind}", d.getResults)
	free("GET /jobs/{id}", d.jobState)
	free("POST /jobs/{id}/cancel", d.cancelJob)

	book("GET /plan", d.planPage)
	book("POST /plan", d.keepPlan)
	book("GET /plan/{file}", d.planText)
	book("POST /plan/{hash}/withdraw", d.withdrawPlan)

	book("GET /sites", d.sitesPage)
	book("POST /sites", d.changeSite)
	book("GET /sites/{key}", d.sitePage)
	book("POST /sites/{key}", d.changeSiteBook)
	book("POST /sites/{key}/file", d.keepSiteFile)
	book("GET /days", d.daysPage)
	book("GET /days/calendar", d.daysCalendar)
	book("POST /habitats", d.addHabitat)

	book("GET /publish", d.publishPage)
	book("POST /publish/about", d.setAbout)
	book("POST /publish/creator", d.setCreator)
	book("POST /publish/funding", d.setFunding)
	book("POST /publish/source", d.setSource)
	book("POST /publish/taxon", d.setTaxon)
	book("POST /publish/taxa", d.setTaxa)
	book("POST /publish/consent", d.setConsent)
	book("POST /publish/place", d.setPlace)
	book("POST /publish/write", d.writePublish)
	book("POST /publish/release/{n}", d.remakeRelease)
	book("GET /publish/made/{id}", d.getPublished)

	book("GET /logbook", d.logbookPage)
	book("POST /logbook", d.changeSettings)
	book("GET /logbook/copy", d.copyBook)

	book("GET /keep", d.keepPage)
	book("POST /keep/look", d.lookOver)
	book("POST /keep/merge", d.bringIn)
	book("POST /keep/merge/{id}", d.answerGuest)
	book("POST /keep/protocol", d.addProtocol)
	book("GET /keep/protocols/{name}", d.protocolFile)
	free("/", func(http.ResponseWriter, *http.Request, *opened) error { return errNotHere })
	return mux
}

var errNotHere = errors.New("no such page")

// free is a page that needs no logbook; it may look whether there is one.
func (d *Desk) free(f pageFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.bookMu.RLock()
		defer d.bookMu.RUnlock()
		d.answer(w, r, f, d.book)
	})
}

// withBook is a page of a logbook; without one the start page comes.
func (d *Desk) withBook(f pageFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.bookMu.RLock()
		defer d.bookMu.RUnlock()
		if d.book == nil {
			http.Redirect(w, r, "/start", http.StatusSeeOther)
			return
		}
		d.answer(w, r, f, d.book)
	})
}

// exclusive is what opens another logbook: it waits for running requests.
func (d *Desk) exclusive(f pageFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.bookMu.Lock()
		defer d.bookMu.Unlock()
		d.answer(w, r, f, d.book)
	})
}

func (d *Desk) answer(w http.ResponseWriter, r *http.Request, f pageFunc, b *opened) {
	if err := f(w, r, b); err != nil {
		d.fail(w, r, b, err)
	}
}
