package trial

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Write writes the table for a terminal, or as Markdown.
func (t *Table) Write(w io.Writer, markdown bool) error {
	head := []string{"row", "what", "set", "world", "hoods", "air", "bound", "aim", "reached (95 %)", "n", "met"}
	var body [][]string
	for i := range t.Lines {
		body = append(body, t.Lines[i].columns())
	}
	if err := writeColumns(w, markdown, head, body); err != nil {
		return err
	}
	if len(t.Reliability) > 0 {
		if _, err := fmt.Fprint(w, "\nWhat was stated of the place, and how often it was so:\n\n"); err != nil {
			return err
		}
		body = body[:0]
		for _, b := range t.Reliability {
			body = append(body, []string{b.Of, b.Set, fmt.Sprintf("%.2f to %.2f", b.Low, b.High), fmt.Sprintf("%.2f", b.Stated),
				b.Right.text(), fmt.Sprint(b.Right.Replicates)})
		}
		if err := writeColumns(w, markdown, []string{"of", "set", "stated", "mean", "right (95 %)", "n"}, body); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "\n%d replicates, %.2f core-hours.\n", t.Replicates, t.CoreHours)
	return err
}

// columns returns the texts of a line.
func (l *Line) columns() []string {
	bound, reached, n, air := "-", "-", "0", "measured"
	if l.Bound != nil {
		bound = fmt.Sprintf("%.2g", *l.Bound)
	}
	if l.Reached != nil {
		reached, n = l.Reached.text(), fmt.Sprint(l.Reached.Replicates)
	}
	if !l.Air {
		air = "not"
	}
	what := l.What
	if l.Unit != "" {
		what += ", " + l.Unit
	}
	met := l.Met
	if l.Mark != nil {
		met += map[bool]string{true: ", passed", false: ", MARK MISSED"}[*l.Mark]
	}
	return []string{l.Row, what, l.Set, string(l.World), fmt.Sprintf("%g %%", 100*l.Hood), air, bound, aimText(l.Aim), reached, n, met}
}

// text writes an estimate with its interval.
func (e *Estimate) text() string {
	return fmt.Sprintf("%s (%s to %s)", figureText(e.Value), figureText(e.Low), figureText(e.High))
}

// figureText writes a figure to what matters of it.
func figureText(x float64) string {
	if math.Abs(x) >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.2f", x)
}

// aimText writes an aim.
func aimText(a [2]float64) string {
	switch {
	case a[0] == least:
		return fmt.Sprintf("≤ %g", a[1])
	case a[1] == most:
		return fmt.Sprintf("≥ %g", a[0])
	case a[0] == -a[1]:
		return fmt.Sprintf("± %g", a[1])
	}
	return fmt.Sprintf("%g to %g", a[0], a[1])
}

// writeColumns writes a table.
func writeColumns(w io.Writer, markdown bool, head []string, body [][]string) error {
	width := make([]int, len(head))
	for _, r := range append([][]string{head}, body...) {
		for i, c := range r {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	if markdown {
		var rule []string
		for i := range head {
			rule = append(rule, strings.Repeat("-", width[i]))
		}
		body = append([][]string{rule}, body...)
	}
	for _, r := range append([][]string{head}, body...) {
		var b strings.Builder
		for i, c := range r {
			pad := strings.Repeat(" ", width[i]-len([]rune(c)))
			if markdown {
				b.WriteString("| " + c + pad + " ")
				continue
			}
			b.WriteString(c + pad + "  ")
		}
		line := strings.TrimRight(b.String(), " ")
		if markdown {
			line += " |"
		}
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	return nil
}
