package dashboard

import (
	"slices"

	"ductward/internal/caution"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// cautions lists what to mind for a kind of finding, in the order in which it matters.
func cautions(k finding.Kind) []string { return texts(diagnosis.Of(k).Cautions...) }

// advice is what the table of diagnoses knows about a kind of trouble.
type advice struct {
	Causes        []causeLine // likeliest first, where nothing else is known
	Else          []string    // what the readings themselves leave open
	Waits, Clears string
}

type causeLine struct{ Text, Signs, Told string }

// newAdvice takes the table's row, and of what else a finding names what the row does not have.
func newAdvice(k finding.Kind, confusable []string) advice {
	row := diagnosis.Of(k)
	a := advice{Waits: row.Waits, Clears: row.Clears}
	for _, c := range row.Causes {
		a.Causes = append(a.Causes, causeLine{capital(c.Text), c.Signs.String(), c.Told})
	}
	for _, c := range confusable {
		if !slices.Contains(row.Words(), c) {
			a.Else = append(a.Else, c)
		}
	}
	return a
}

func texts(list ...caution.Caution) []string {
	var out []string
	for _, c := range list {
		out = append(out, c.Text)
	}
	return out
}
