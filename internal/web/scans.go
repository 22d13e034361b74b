package web

import (
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"

	"soakline/internal/logbook"
	"soakline/internal/scan"
	"soakline/internal/task"
	"soakline/internal/words"
)

// scanItem is a photo or scan on a page.
type scanItem struct {
	Key, Name, ID, Who, When string
	Pages                    []string // addresses of its pictures
	Hash                     string
}

func scanOf(s task.Scan) scanItem {
	x := scanItem{Key: s.Key, Name: s.Name, ID: s.ID, Who: s.Who, When: s.When.Format("2006-01-02 15:04"), Hash: s.Source}
	for n := 1; n <= s.Pages && !s.Gone; n++ {
		x.Pages = append(x.Pages, "/scans/"+s.Key+"/"+strconv.Itoa(n))
	}
	return x
}

// scansOf are the pictures of a sheet under way.
func scansOf(r *http.Request, b *opened, t *typing) (out []scanItem, err error) {
	if t.key == "" && t.id == "" {
		return nil, nil
	}
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		list, err := task.ScansOf(tx, t.key, t.id)
		for _, s := range list {
			out = append(out, scanOf(s))
		}
		return err
	})
	return out, err
}

// addScan keeps a photo or scan beside a row, or for a row that is still to be
// typed.
func (d *Desk) addScan(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	whole := r.Body
	r.Body = http.MaxBytesReader(nil, whole, scan.MaxBytes+(1<<20))
	wrong := func(status int, slug string, with words.P) error {
		return d.showType(w, r, b, status, typeView{Wrong: []string{l.Say(slug, with)}})
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return wrong(http.StatusUnprocessableEntity, "web.scan.none", nil)
	}
	fields := map[string]string{}
	name := ""
	var data []byte
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		var body []byte
		if err == nil {
			body, err = io.ReadAll(p)
		}
		if err != nil {
			var large *http.MaxBytesError
			if errors.As(err, &large) {
				_, _ = io.Copy(io.Discard, io.LimitReader(whole, 4<<30))
				return wrong(http.StatusRequestEntityTooLarge, "scan.too-large", words.P{"most": scan.MaxBytes >> 20})
			}
			return err
		}
		if p.FormName() == "photo" {
			if p.FileName() != "" {
				name, data = p.FileName(), body
			}
		} else {
			fields[p.FormName()] = strings.TrimSpace(string(body))
		}
	}
	if name == "" {
		return wrong(http.StatusUnprocessableEntity, "web.scan.none", nil)
	}
	s, err := task.AddScan(r.Context(), b.book, fields["id"], name, data, d.by(l.Say("web.why.scan", nil)))
	if err != nil {
		p, status := explain(l, err)
		return d.showType(w, r, b, status, typeView{ID: fields["id"], Wrong: p.Lines})
	}
	b.forget()
	slug := "web.done.scan"
	if s.Pages == 0 {
		slug = "web.done.scan-unseen"
	}
	d.setFlash(flash{Text: l.Say(slug, words.P{"name": s.Name, "id": s.ID})})
	to := typeHref(firstOf(s.Record, s.ID), "")
	if fields["back"] == "row" && s.Record != "" {
		to = rowHref(s.Record)
	} else if fields["level"] != "" {
		to += "&level=" + fields["level"]
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// showScan sends one picture of a scan, without position and device data.
func (d *Desk) showScan(w http.ResponseWriter, r *http.Request, b *opened) error {
	pages, _, err := task.ScanPages(r.Context(), b.book, r.PathValue("key"))
	n := atoi(r.PathValue("n"))
	if err != nil || n < 1 || n > len(pages) {
		return errNotHere
	}
	p := pages[n-1]
	w.Header().Set("Content-Type", p.Media())
	w.Header().Set("Cache-Control", "private, max-age=3600")
	_, _ = w.Write(p.Data)
	return nil
}
