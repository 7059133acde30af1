package journal

import (
	"fmt"
	"regexp"
	"strconv"
)

// versionNote is how a note names a version of the baseline: "version 2", with words after it or without.
var versionNote = regexp.MustCompile(`^version ([1-9][0-9]{0,5})($|[ .,:;])`)

// VersionNote writes the note of an entry about a version of the baseline. Words may be "".
func VersionNote(version int, words string) string {
	note := fmt.Sprintf("version %d", version)
	if words != "" {
		note += ": " + words
	}
	return note
}

// Version returns the version of the baseline that the note begins with, 0 where it names none.
func (e Entry) Version() int {
	m := versionNote.FindStringSubmatch(e.Note)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1]) // the pattern lets only digits through, few enough
	return n
}

// Verdict tells whether a kind passes judgement on a version of the baseline.
func (k Kind) Verdict() bool {
	return k == BaselineAccepted || k == BaselineRejected || k == BaselineRestored
}

// Check tells whether an entry can be kept: its kind is one that there is, and it names the version that it is about.
func (e Entry) Check() error {
	if err := e.Kind.Check(); err != nil {
		return err
	}
	if (e.Kind == BaselineAccepted || e.Kind == BaselineRestored) && e.Version() == 0 {
		return fmt.Errorf("kind %q names no version of the baseline: begin the note as in \"version 2: as agreed\"", string(e.Kind))
	}
	return nil
}
