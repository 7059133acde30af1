package dashboard

import (
	"ductward/internal/caution"
	"ductward/internal/finding"
)

// cautions lists what to mind for a kind of finding, in the order in which it matters.
func cautions(k finding.Kind) []string {
	var out []string
	for _, c := range caution.For(k) {
		out = append(out, c.Text)
	}
	return out
}
