package dashboard

import (
	_ "embed"
	"net/http"
)

// description is the OpenAPI 3.1 document of everything under /api/v1. A test holds it against the handlers.
//
//go:embed openapi.yaml
var description []byte

// apiDescription answers with the document (its media type is that of RFC 9512).
func (s *server) apiDescription(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/yaml; charset=utf-8")
	_, _ = w.Write(description) // the client may have gone; there is nobody left to tell
}
