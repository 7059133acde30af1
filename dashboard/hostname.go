package dashboard

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// meant tells whether a request is for this dashboard by the name in its address. A page of another site could have its
// own name made to point here (DNS rebinding), and would then be of one origin with us and read all that is shown. It
// cannot do so
//   - over TLS, where the browser has held the name against the certificate,
//   - under a number, which is not looked up,
//   - under a name that nobody outside can make lead here (localName),
//   - under a name that the owner gave.
func (s *server) meant(r *http.Request) bool {
	host := hostOf(r)
	if r.TLS != nil || s.localName(host) {
		return true
	}
	if ip, err := netip.ParseAddr(host); err == nil {
		return !s.Loopback || ip.Unmap().IsLoopback()
	}
	return slices.ContainsFunc(s.Names, func(name string) bool { return strings.EqualFold(name, host) })
}

// hostOf is the name or number in a request's address: in small letters, with neither port nor brackets nor final dot.
func hostOf(r *http.Request) string {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	return strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
}

// localName tells whether a name never leads elsewhere (localhost: RFC 6761, section 6.3) or is one of the shop's own
// network (local: RFC 6762, section 3; home.arpa: RFC 8375, section 4). The latter are asked of whoever is on that network,
// who must not reach what this machine alone is shown.
func (s *server) localName(host string) bool {
	last := host[strings.LastIndexByte(host, '.')+1:]
	return last == "localhost" || !s.Loopback && (last == "local" || strings.HasSuffix(host, ".home.arpa"))
}

// misdirect refuses a request under another name. It is no page: the shop's name is none of theirs either.
func (s *server) misdirect(w http.ResponseWriter, r *http.Request) {
	host := hostOf(r)
	s.Log.Debug("not answered", "host", host)
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(http.StatusMisdirectedRequest)
	fmt.Fprintf(w, "The dashboard does not know itself by the name %.100q, so that a page of another site cannot pass for it.\n"+
		"Open it by its number, as http://192.168.1.20:8137/, or as localhost on the machine itself,\n"+
		"or start the watch with --name and the name that stands in the address.\n", host)
}
