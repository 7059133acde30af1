package dashboard

import (
	"context"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"ductward/internal/access"
	"ductward/internal/clock"
)

// The bounds of signing in. A host that tries passwords gets five at once and then one in ten seconds; a hundred browsers
// are more than a shop has. A device is trusted until it is taken away, but browsers keep a cookie for 400 days at most
// (RFC 6265bis, section 5.5), so that it is sent anew whenever something is changed.
const (
	sessionCookie = "ductward_session"
	sessionLasts  = 30 * 24 * time.Hour
	trustLasts    = 400 * 24 * time.Hour
	mostSessions  = 100
	mostHosts     = 1000
	freeTries     = 5
	tryEvery      = 10 * time.Second
	hashWait      = 5 * time.Second // for one's turn
)

// sessions are the browsers that have signed in. They end with the process, and with the password.
type sessions struct {
	clk  clock.Clock
	turn chan struct{} // one password is hashed at a time, each of which takes 19 MiB

	mu    sync.Mutex
	begun map[string]session          // by the hash of the cookie
	tries map[netip.Prefix]*triesLeft // by the host that tries
}

// session is one browser's.
type session struct {
	end time.Duration // monotonic
	by  access.Hash   // the password it was begun with
}

// triesLeft are how many a host has left, as of a monotonic time.
type triesLeft struct {
	n    float64
	last time.Duration
}

func newSessions(clk clock.Clock) *sessions {
	return &sessions{clk: clk, turn: make(chan struct{}, 1), begun: map[string]session{}, tries: map[netip.Prefix]*triesLeft{}}
}

// knows tells whether a cookie is one of a session that has not ended.
func (s *sessions) knows(cookie string, by access.Hash) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	one, ok := s.begun[access.TokenID(cookie)]
	return ok && one.by == by && s.clk.Mono() < one.end
}

// right tells whether a password is the shop's, unless its host has tried too many. What is tried is taken before it is
// looked at and given back if it was right, so that many at once are no more than one after another.
func (s *sessions) right(r *http.Request, password string, by access.Hash) bool {
	if !s.take(r) || !s.wait(r.Context()) {
		return false
	}
	defer func() { <-s.turn }()
	if !by.Is(password) {
		return false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.triesOf(r).n++
	return true
}

// wait waits for the turn of one hash.
func (s *sessions) wait(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, hashWait)
	defer cancel()
	select {
	case s.turn <- struct{}{}:
		return true
	case <-ctx.Done():
		return false
	}
}

// take takes one try from the host of a request.
func (s *sessions) take(r *http.Request) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := s.triesOf(r)
	if t.n < 1 {
		return false
	}
	t.n--
	return true
}

// triesOf returns what the host of a request has left now. An IPv6 host has as many addresses as it likes within its 64
// bits of network, so those count as one. The caller holds mu.
func (s *sessions) triesOf(r *http.Request) *triesLeft {
	from := peer(r)
	bits := from.BitLen()
	if from.Is6() {
		bits = 64
	}
	host, _ := from.Prefix(bits) // the zero one for a peer without an address
	now := s.clk.Mono()
	t := s.tries[host]
	if t == nil {
		if len(s.tries) >= mostHosts {
			clear(s.tries)
		}
		t = &triesLeft{n: freeTries, last: now}
		s.tries[host] = t
	}
	t.n = min(freeTries, t.n+(now-t.last).Seconds()/tryEvery.Seconds())
	t.last = now
	return t
}

// begin begins a session and returns its cookie.
func (s *sessions) begin(by access.Hash) string {
	token := access.NewToken()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.begun) >= mostSessions {
		s.dropOldest()
	}
	s.begun[access.TokenID(token)] = session{end: s.clk.Mono() + sessionLasts, by: by}
	return token
}

func (s *sessions) dropOldest() {
	oldest := ""
	for id, one := range s.begun {
		if oldest == "" || one.end < s.begun[oldest].end {
			oldest = id
		}
	}
	delete(s.begun, oldest)
}

func (s *sessions) end(cookie string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.begun, access.TokenID(cookie))
}
