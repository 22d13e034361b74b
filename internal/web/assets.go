package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"sort"
	"strings"
	"sync"

	"soakline/internal/figure"
)

//go:embed ui
var ui embed.FS

// asset is one file that pages load; its name holds the hash of its bytes, so
// that a browser may keep it for good.
type asset struct {
	kind string
	data []byte
}

// assets are the style sheet (one file of all parts, in order of their names),
// the scripts, and the fonts of the drawings.
var assets = sync.OnceValue(func() map[string]asset {
	all := map[string]asset{}
	add := func(name, kind string, data []byte) {
		sum := sha256.Sum256(data)
		ext := path.Ext(name)
		all[strings.TrimSuffix(name, ext)+"."+hex.EncodeToString(sum[:6])+ext] = asset{kind, data}
	}
	faces := map[string]figure.Face{"regular": figure.Regular, "bold": figure.Bold, "italic": figure.Italic}
	for name, f := range faces {
		add("font-"+name+".woff2", "font/woff2", f.WOFF2())
	}
	names := func(ext string) []string {
		list, err := fs.Glob(ui, "ui/*"+ext)
		if err != nil {
			panic("web: " + err.Error())
		}
		sort.Strings(list)
		return list
	}
	var css bytes.Buffer
	for _, name := range names(".css") {
		b, err := ui.ReadFile(name)
		if err != nil {
			panic("web: " + err.Error())
		}
		css.Write(b)
	}
	style := css.String()
	for name := range faces {
		style = strings.ReplaceAll(style, "font-"+name+".woff2", hashed(all, "font-"+name+".woff2"))
	}
	add("desk.css", "text/css; charset=utf-8", []byte(style))
	for _, name := range names(".js") {
		b, err := ui.ReadFile(name)
		if err != nil {
			panic("web: " + err.Error())
		}
		add(path.Base(name), "text/javascript; charset=utf-8", b)
	}
	return all
})

// hashed is the full name of an asset.
func hashed(all map[string]asset, name string) string {
	ext := path.Ext(name)
	stem := strings.TrimSuffix(name, ext) + "."
	for full, a := range all {
		if a.data != nil && strings.HasPrefix(full, stem) && strings.HasSuffix(full, ext) {
			return full
		}
	}
	panic("web: no asset " + name)
}

// address of an asset, for templates.
func address(name string) string { return "/static/" + hashed(assets(), name) }

func serveAsset(w http.ResponseWriter, r *http.Request) {
	a, ok := assets()[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", a.kind)
	w.Header().Set("Cache-Control", "max-age=31536000, immutable")
	_, _ = w.Write(a.data)
}
