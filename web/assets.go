package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
)

//go:embed static
var staticFiles embed.FS

// assets are the files that pages load. Their path holds a hash over all of
// them, so that a browser may keep them for ever.
type assets struct {
	base  string // "/static/0123abcd/"
	files map[string]asset
	work  asset // the service worker, which knows the others
}

type asset struct {
	kind          string
	plain, packed []byte
}

func newAssets(drawingCSS string) *assets {
	a := &assets{files: map[string]asset{}}
	all := sha256.New()
	add := func(name string, data []byte) {
		_, _ = all.Write([]byte(name)) // a hash never fails
		_, _ = all.Write(data)
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) {
		case ".woff2":
			kind = "font/woff2"
		case ".txt":
			kind = "text/plain; charset=utf-8"
		}
		f := asset{kind: kind, plain: data}
		if !strings.HasSuffix(name, ".woff2") {
			f.packed = packed(data)
		}
		a.files[name] = f
	}
	// The tree is embedded: walking and reading it does not fail.
	_ = fs.WalkDir(staticFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := staticFiles.ReadFile(name)
		if err == nil {
			add(path.Base(name), data)
		}
		return err
	})
	add("drawing.css", []byte(drawingCSS))
	sum := hex.EncodeToString(all.Sum(nil)[:4])
	a.base = "/static/" + sum + "/"
	a.work = workerOf(sum, a)
	return a
}

// workerOf is the service worker with what it has to know before its text: it
// changes with any file, so that a browser notices a new program.
func workerOf(sum string, a *assets) asset {
	var names []string
	for _, name := range slices.Sorted(maps.Keys(a.files)) {
		if !strings.HasSuffix(name, ".txt") && name != "worker.js" {
			names = append(names, name)
		}
	}
	list, _ := json.Marshal(names) // names of files
	head := "const version = \"" + sum + "\", base = \"" + a.base + "\", files = " + string(list) + ";\n"
	w := a.files["worker.js"]
	delete(a.files, "worker.js") // from there it would serve nothing but its own folder
	w.plain = append([]byte(head), w.plain...)
	return w
}

// worker answers with the service worker, which must come from the root to serve
// every page.
func (a *assets) worker(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", a.work.kind)
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(a.work.plain) // whoever has gone away needs no answer
}

func packed(data []byte) []byte {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is known
	_, _ = z.Write(data)                                  // a buffer takes everything
	_ = z.Close()
	return b.Bytes()
}

// serve answers with one file.
func (a *assets) serve(w http.ResponseWriter, r *http.Request) {
	name := path.Base(r.URL.Path)
	f, ok := a.files[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.kind)
	if r.URL.Path == a.base+name {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		h.Set("Cache-Control", "no-cache")
	}
	body := f.plain
	if f.packed != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		h.Set("Vary", "Accept-Encoding")
		body = f.packed
	}
	_, _ = w.Write(body) // whoever has gone away needs no answer
}
