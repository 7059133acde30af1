package dashboard

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
)

//go:embed static templates third_party/echarts/echarts.min.js third_party/echarts/LICENSE third_party/echarts/NOTICE
//go:embed third_party/echarts/licenses
var files embed.FS

// asset is one embedded file that a page may ask for. It stays where it is embedded, and what is made of it is made when
// first asked for: at the start of a small board a megabyte of chart script would cost a noticeable moment, and memory
// for good although nobody may look at a chart for weeks.
type asset struct {
	body io.ReaderAt
	size int64
	kind string // Content-Type

	hashed sync.Once
	hash   string // see tag
	zipped sync.Once
	packed []byte // gzip of body
}

func (a *asset) reader() io.Reader { return io.NewSectionReader(a.body, 0, a.size) }

// tag returns the first 16 hexadecimal digits of its SHA-256.
func (a *asset) tag() string {
	a.hashed.Do(func() {
		h := sha256.New()
		_, _ = io.Copy(h, a.reader()) // neither can fail: both are memory
		a.hash = hex.EncodeToString(h.Sum(nil)[:8])
	})
	return a.hash
}

// kinds of file that are served. Another ending in static/ is a mistake of ours, told at start.
var kinds = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
	".txt": "text/plain; charset=utf-8",
}

// loadAssets finds everything under static/ and the chart script with its licence.
func loadAssets() (map[string]*asset, error) {
	names := map[string]string{
		"echarts.min.js":      "third_party/echarts/echarts.min.js",
		"echarts-licence.txt": "third_party/echarts/LICENSE",
		"echarts-notice.txt":  "third_party/echarts/NOTICE",
	}
	list, err := fs.ReadDir(files, "static")
	if err != nil {
		return nil, fmt.Errorf("dashboard: embedded files: %w", err)
	}
	for _, f := range list {
		names[f.Name()] = "static/" + f.Name()
	}
	out := make(map[string]*asset, len(names))
	for name, from := range names {
		if out[name], err = newAsset(name, from); err != nil {
			return nil, fmt.Errorf("dashboard: embedded file %q: %w", from, err)
		}
	}
	return out, nil
}

func newAsset(name, from string) (*asset, error) {
	f, err := files.Open(from)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	kind, ok := kinds[path.Ext(name)]
	if !ok {
		return nil, errors.New("no content type for its ending")
	}
	return &asset{body: f.(io.ReaderAt), size: info.Size(), kind: kind}, nil // embed promises io.ReaderAt
}

// assetURL returns the address of a static file. It carries the file's hash, so that a browser may keep it for ever and
// still gets the new one after an update.
func (s *server) assetURL(name string) (string, error) {
	a, ok := s.assets[name]
	if !ok {
		return "", fmt.Errorf("no static file %q", name)
	}
	return "/static/" + name + "?v=" + a.tag(), nil
}

// static serves one embedded file.
func (s *server) static(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("name")]
	if !ok {
		s.notFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	h.Set("ETag", `"`+a.tag()+`"`)
	h.Set("Vary", "Accept-Encoding")
	h.Set("Cache-Control", "no-cache")
	if r.URL.Query().Get("v") == a.tag() {
		h.Set("Cache-Control", "max-age=31536000, immutable")
	}
	if r.Header.Get("If-None-Match") == `"`+a.tag()+`"` {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	body := a.reader()
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		body = bytes.NewReader(a.gzip())
		h.Set("Content-Encoding", "gzip")
	}
	_, _ = io.Copy(w, body) // the client may have gone; there is nobody left to tell
}

// gzip returns the packed body.
func (a *asset) gzip() []byte {
	a.zipped.Do(func() {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = io.Copy(z, a.reader()) // a bytes.Buffer never fails
		_ = z.Close()
		a.packed = b.Bytes()
	})
	return a.packed
}
