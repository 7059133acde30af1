package shop

import (
	"fmt"
	"strconv"
	"strings"
)

// nearest returns the known word that is likely to have been meant, "" if none is near. A third of the letters may
// differ; a difference in case, spaces, dashes and underscores counts as none.
func nearest(word string, known []string) string {
	best, least := "", len([]rune(word))/3+1
	if len(word) > maxName*2 {
		return ""
	}
	for _, k := range known {
		d := distance(fold(word), fold(k))
		if d < least {
			best, least = k, d
		}
	}
	return best
}

func fold(s string) string {
	return strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
}

// distance is the number of letters to insert, delete, replace or swap with a neighbour to make a into b (optimal
// string alignment).
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	var before []int
	last := make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := range s {
		row := make([]int, len(t)+1)
		row[0] = i + 1
		for j := range t {
			cost := 1
			if s[i] == t[j] {
				cost = 0
			}
			row[j+1] = min(row[j]+1, last[j+1]+1, last[j]+cost)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last = last, row
	}
	return last[len(t)]
}

// choose words what to write where a word is not among the known ones.
func choose(word string, known []string) string {
	if n := nearest(word, known); n != "" {
		return fmt.Sprintf("did you mean %q?", n)
	}
	return "write one of " + quoted(known)
}

// quoted lists words for a message; a long list is cut.
func quoted(words []string) string {
	const most = 12
	var out []string
	for i, w := range words {
		if i == most {
			out = append(out, fmt.Sprintf("… (%d in all)", len(words)))
			break
		}
		out = append(out, strconv.Quote(w))
	}
	return strings.Join(out, ", ")
}

// shown quotes a text of the file for a message and cuts it when it is long.
func shown(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return strconv.Quote(string(r[:most])) + "…"
	}
	return strconv.Quote(s)
}
