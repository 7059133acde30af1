package reading

import (
	"fmt"
	"strings"
)

// qualityNames are the words of the CSV, by value.
var qualityNames = [...]string{Good: "good", Uncertain: "uncertain", Simulated: "simulated", Late: "late"}

// String returns the word that the CSV uses.
func (q Quality) String() string {
	if int(q) < len(qualityNames) {
		return qualityNames[q]
	}
	return fmt.Sprintf("quality(%d)", uint8(q))
}

// ParseQuality is the inverse of String; the empty word is Good.
func ParseQuality(s string) (Quality, error) {
	if s == "" {
		return Good, nil
	}
	for q, name := range qualityNames {
		if s == name {
			return Quality(q), nil
		}
	}
	return 0, fmt.Errorf("quality %q is not known: write one of %s", s, strings.Join(qualityNames[:], ", "))
}

// IsSwitch tells whether a channel holds the position of a gate, a selector, a contact or a fan, which stands until its
// next reading, may be not known (NaN), and has no unit.
func IsSwitch(channel string) bool {
	return strings.HasPrefix(channel, "gate/") || strings.HasPrefix(channel, "selector/") ||
		strings.HasPrefix(channel, "contact/") || strings.HasSuffix(channel, "/fan")
}
