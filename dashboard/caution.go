package dashboard

import (
	"ductward/internal/caution"
	"ductward/internal/finding"
)

// cautions lists what to mind for a kind of finding, in the order in which it matters.
func cautions(k finding.Kind) []string { return texts(caution.For(k)...) }

func texts(list ...caution.Caution) []string {
	var out []string
	for _, c := range list {
		out = append(out, c.Text)
	}
	return out
}
