package dashboard

import (
	"net/http"
	"time"
)

// NewServer returns an http.Server for the handler with bounds that drop a slow or greedy client. The daemon gives it a
// listener and stops it. A stream sets its own deadline before each event, since WriteTimeout would end it.
func NewServer(h http.Handler) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
	}
}
