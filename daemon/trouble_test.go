package daemon

import (
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTroubleIsLoggedFirstThenSeldomThenOnceMore(t *testing.T) {
	log := &lines{}
	tr := &trouble{what: "commit", log: slog.New(slog.NewTextHandler(log, nil))}
	full := errors.New("disk full")
	told := func() int { return strings.Count(log.String(), "\n") }
	require.NoError(t, tr.see(0, nil))
	assert.Zero(t, told(), "nothing to tell")
	require.ErrorIs(t, tr.see(0, full), full)
	assert.Equal(t, 1, told())
	for s := range 24 * 3600 {
		_ = tr.see(time.Duration(s)*time.Second, full)
	}
	assert.Less(t, told(), 16, "a day of failures, one a second")
	assert.Contains(t, log.String(), "still fails")
	assert.True(t, tr.stands())
	require.NoError(t, tr.see(24*time.Hour, nil))
	assert.Contains(t, log.String(), "works again")
	assert.Contains(t, log.String(), "failures=86401")
	assert.False(t, tr.stands())
}
