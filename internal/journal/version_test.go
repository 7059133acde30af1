package journal

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestVersionOfANote(t *testing.T) {
	for note, want := range map[string]int{
		"version 2": 2, "version 12: after the new filter": 12, "version 3, as agreed": 3,
		"": 0, "version": 0, "version 0": 0, "version -1": 0, "version 2nd": 0, "the version 2": 0, "Version 2": 0, "version 99999999": 0,
	} {
		assert.Equal(t, want, Entry{Note: note}.Version(), "%q", note)
	}
	for _, words := range []string{"", "the ducts are as they were"} {
		e := Entry{Kind: BaselineRestored, Note: VersionNote(7, words)}
		assert.Equal(t, 7, e.Version())
		assert.NoError(t, e.Check())
	}
	assert.NoError(t, Entry{Kind: BaselineRejected}.Check(), "the one in the making has no version yet")
	assert.Error(t, Entry{Kind: BaselineAccepted, Note: "fine"}.Check())
}
