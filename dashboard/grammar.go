package dashboard

import (
	"fmt"
	"strings"
)

// count writes small numbers as words.
func count(n int, what string) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six"}
	if n < len(words) {
		return words[n] + " " + what + plural(n, "", "s")
	}
	return fmt.Sprintf("%d %s%s", n, what, plural(n, "", "s"))
}

// lowerFirst undoes a capital at the start of words that go on a sentence.
func lowerFirst(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToLower(text[:1]) + text[1:]
}

// plural chooses by number.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// capital makes the first letter a capital one.
func capital(text string) string {
	for i, r := range text {
		return strings.ToUpper(string(r)) + text[i+len(string(r)):]
	}
	return text
}

// sentenceList joins names as a sentence does: "a", "a and b", "a, b and c".
func sentenceList(names []string) string {
	switch n := len(names); n {
	case 0:
		return ""
	case 1:
		return names[0]
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}
