package draw

import (
	"fmt"
	"unicode"
)

// textWidth is a width (units) that a text in letters of the size given surely does not exceed: the widths of DejaVu
// Sans, the widest of the system fonts that the pages ask for, rounded up by class (from memory).
func textWidth(text string, size float64, bold bool) float64 {
	w := 0.0
	for _, r := range text {
		w += runeWidth(r)
	}
	if bold {
		w *= 1.13
	}
	return w * size
}

// runeWidth is the width of one letter over the size of the letters.
func runeWidth(r rune) float64 {
	switch r {
	case 'i', 'l', 'j', '\'', '|', '’':
		return 0.3
	case ' ', '\u00a0', '.', ',', ':', ';', '·', 'I':
		return 0.34
	case 'f', 't', 'r', '(', ')', '[', ']', '/', '-', '³', '!':
		return 0.42
	case 'm', 'w', 'M', 'W', '%', '…', '@', '—':
		return 1.02
	case '−', '+', '<', '>', '=', '#', '⌀', '&', 'G', 'O', 'Q', 'D', 'N', 'U', 'H':
		return 0.86
	}
	switch {
	case r < 0x0500 && unicode.IsUpper(r):
		return 0.72
	case r < 0x0500:
		return 0.65
	}
	return 1.1
}

// shorten cuts a name that is too long for the sheet, and keeps the whole of it to be told under the key.
func (k *sheet) shorten(name string) string {
	letters := []rune(name)
	if len(letters) <= longestName {
		return name
	}
	if short, ok := k.short[name]; ok {
		return short
	}
	short := string(letters[:longestName-9]) + "…" + string(letters[len(letters)-8:])
	for n := 2; k.taken[short]; n++ { // two names that differ only in what is left out
		short = fmt.Sprintf("%s…%d", string(letters[:longestName-4]), n)
	}
	if k.short == nil {
		k.short, k.taken = map[string]string{}, map[string]bool{}
	}
	k.short[name], k.taken[short] = short, true
	k.names = append(k.names, short+" is "+name)
	return short
}

// wrap breaks a text into lines no wider than width.
func wrap(text string, size, width float64) []string {
	var lines []string
	line := ""
	for _, word := range splitWords(text) {
		switch {
		case line == "":
			line = word
		case textWidth(line+" "+word, size, false) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	return append(lines, line)
}

// splitWords parts a text at its spaces, and a word that no line would hold into pieces.
func splitWords(text string) []string {
	var words []string
	var word []rune
	for _, r := range text {
		if r == ' ' || len(word) >= 2*longestName {
			words, word = append(words, string(word)), word[:0]
			if r == ' ' {
				continue
			}
		}
		word = append(word, r)
	}
	return append(words, string(word))
}
