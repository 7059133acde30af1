package dashboard

import (
	"bytes"
	"fmt"
	"net/http"
	"sync"
	"time"
)

// eventDeadline is how long one event may take to reach its client before the stream is dropped. It replaces the
// server's write timeout, which would end every stream.
const eventDeadline = 10 * time.Second

// liveMemo keeps the newest live part of one page, so that fifty viewers cost one rendering, not fifty.
type liveMemo struct {
	mu sync.Mutex
	by map[string]livePart // by system of units
}

// livePart is the part of a page that changes, as it was made.
type livePart struct {
	made time.Time // by the clock that timers run on
	body []byte
	err  error
}

// part is what keeps itself up to date on a page.
type part struct {
	memo *liveMemo
	file string // its template
	view func(*request) (any, error)
}

// partOf returns the part of the page that a stream is for.
func (s *server) partOf(r *http.Request) part {
	if r.URL.Query().Get("page") == "hunt" {
		return part{s.hunt, "hunt.html", func(rq *request) (any, error) { return s.huntSteps(rq), nil }}
	}
	return part{s.live, "now.html", s.nowView}
}

// livePart returns the part of a page that changes, at most Refresh old.
func (s *server) livePart(r *http.Request) ([]byte, error) {
	of := s.partOf(r)
	of.memo.mu.Lock()
	defer of.memo.mu.Unlock()
	p := of.memo.by[s.system]
	if time.Since(p.made) < s.Refresh && p.body != nil {
		return p.body, p.err
	}
	p.body, p.err = s.makeLive(s.newRequest(r), of)
	p.made = time.Now()
	if of.memo.by == nil {
		of.memo.by = map[string]livePart{}
	}
	of.memo.by[s.system] = p
	return p.body, p.err
}

// makeLive renders the part of a page that changes.
func (s *server) makeLive(rq *request, p part) ([]byte, error) {
	view, err := p.view(rq)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := s.pages[p.file].ExecuteTemplate(&b, "live", view); err != nil {
		return nil, fmt.Errorf("live part of %s: %w", p.file, err)
	}
	return b.Bytes(), nil
}

// liveNow answers once with the live part, for a client that cannot keep a stream open.
func (s *server) liveNow(w http.ResponseWriter, r *http.Request) {
	body, err := s.livePart(r)
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(body) // the client may have gone; there is nobody left to tell
}

// stream sends server-sent events: "now" with the live part whenever it differs, then "beat" with the age of the
// readings, so that the page can tell a quiet shop from a lost connection. It ends with its client or with the daemon.
func (s *server) stream(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	tick := time.NewTicker(s.Refresh)
	defer tick.Stop()
	var last []byte
	for {
		body, err := s.livePart(r)
		if err != nil {
			s.Log.Error("stream ends", "error", err)
			return
		}
		if !bytes.Equal(body, last) {
			if err := sendEvent(w, "now", body); err != nil {
				return // the client has gone, or is too slow to be served
			}
			last = body
		}
		if err := sendEvent(w, "beat", []byte(s.beat(r))); err != nil {
			return
		}
		select {
		case <-tick.C:
		case <-r.Context().Done():
			return
		case <-s.Closing:
			return
		}
	}
}

// beat is the age of the newest reading in words.
func (s *server) beat(r *http.Request) string { return s.beatOf(s.newRequest(r)) }

func (s *server) beatOf(rq *request) string {
	var newest time.Time
	if rq.snap != nil {
		latest := s.Readings.Latest()
		for i := range rq.snap.Collectors {
			if at := s.newest(&rq.snap.Collectors[i], latest); at.After(newest) {
				newest = at
			}
		}
	}
	return s.ageText(newest, rq.now)
}

// sendEvent writes one event and pushes it out before its deadline.
func sendEvent(w http.ResponseWriter, event string, data []byte) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "event: %s\n", event)
	for line := range bytes.Lines(data) {
		b.WriteString("data: ")
		b.Write(bytes.TrimRight(line, "\r\n"))
		b.WriteByte('\n')
	}
	if len(data) == 0 {
		b.WriteString("data:\n")
	}
	b.WriteByte('\n')
	ctl := http.NewResponseController(w)
	if err := ctl.SetWriteDeadline(time.Now().Add(eventDeadline)); err != nil {
		return err
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return err
	}
	return ctl.Flush()
}
