package main

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// How many characters a line for a person should have at most: running text, and tables whose words can be cut.
const (
	textWidth  = 80
	tableWidth = 96
)

// table is rows of words under heads. The first column and those that begin with "<" in their head stand left, numbers
// right.
type table struct {
	heads []string
	rows  [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// left tells that a column holds words.
func (t *table) left(column int) bool { return column == 0 || strings.HasPrefix(t.heads[column], "<") }

// write sets the columns two spaces apart.
func (t *table) write(w io.Writer) error {
	heads := make([]string, len(t.heads))
	for i, h := range t.heads {
		heads[i] = strings.TrimPrefix(h, "<")
	}
	widths := make([]int, len(heads))
	all := append([][]string{heads}, t.rows...)
	for _, row := range all {
		for i, c := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	for _, row := range all {
		var b strings.Builder
		for i, c := range row {
			pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c))
			if t.left(i) {
				b.WriteString(c + pad + "  ")
			} else {
				b.WriteString(pad + c + "  ")
			}
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(b.String(), " ")); err != nil {
			return err
		}
	}
	return nil
}

// cutTo shortens a text to a number of characters.
func cutTo(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return strings.TrimRight(string([]rune(s)[:max(most-1, 0)]), " ,") + "…"
}

// paragraph breaks a text into lines between words; the lines after the first are set in by two.
func paragraph(s string) string {
	var b strings.Builder
	at := 0
	for i, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case at+1+n > textWidth:
			b.WriteString("\n  ")
			at = 2
		default:
			b.WriteString(" ")
			at++
		}
		b.WriteString(word)
		at += n
	}
	return b.String() + "\n"
}
