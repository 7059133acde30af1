package daemon

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/store"
)

// backs is a store whose copy is what the test says.
type backs struct {
	keeper
	up func(io.Writer) (store.Tally, error)
}

func (b backs) Backup(w io.Writer) (store.Tally, error) { return b.up(w) }

// A data folder whose name is longer than a socket's may be has its copies handed out as any other.
func TestCopyFromAFolderWithALongName(t *testing.T) {
	dir := filepath.Join(t.TempDir(), strings.Repeat("workshop", 20))
	require.NoError(t, os.Mkdir(dir, 0o755))
	require.Greater(t, len(dir), 160)
	_, err := CopyOf(t.Context(), dir, io.Discard)
	require.ErrorIs(t, err, os.ErrNotExist, "nobody answers, and there is no store either")

	c, err := newCopies(dir, backs{up: func(w io.Writer) (store.Tally, error) {
		_, err := io.WriteString(w, "the copy")
		return store.Tally{Readings: 7}, err
	}}, quiet())
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- c.run(ctx) }()
	var got strings.Builder
	held, err := CopyOf(t.Context(), dir, &got)
	require.NoError(t, err)
	assert.EqualValues(t, 7, held.Readings)
	assert.Equal(t, "the copy", got.String())
	info, err := os.Stat(filepath.Join(dir, socketName))
	require.NoError(t, err)
	assert.EqualValues(t, 0o600, info.Mode().Perm())
	stop()
	require.NoError(t, <-ended)
	assert.NoFileExists(t, filepath.Join(dir, socketName))

	_, _, err = socketIn(filepath.Join(dir, "missing"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

// answer remembers until when what is written may take.
type answer struct {
	*httptest.ResponseRecorder
	until []time.Time
}

func (a *answer) SetWriteDeadline(t time.Time) error {
	a.until = append(a.until, t)
	return nil
}

// What a copy holds is sent after it has been counted, which may take longer than any write of the copy: there is time
// for that again.
func TestThereIsTimeForTheTally(t *testing.T) {
	a := &answer{ResponseRecorder: httptest.NewRecorder()}
	counted := 0
	c := copies{log: quiet(), store: backs{up: func(w io.Writer) (store.Tally, error) {
		_, err := io.WriteString(w, "the copy")
		counted = len(a.until)
		return store.Tally{Readings: 7}, err
	}}}
	c.hand(a, nil)
	require.Equal(t, 1, counted)
	require.Len(t, a.until, 2)
	assert.False(t, a.until[1].Before(a.until[0]))
	assert.Contains(t, a.Result().Trailer.Get(tallyTrailer), `"readings":7`)
}

// A reader that takes a little now and then holds the file up for no longer than one may in all.
func TestAReaderThatTakesTooLittle(t *testing.T) {
	a := &answer{ResponseRecorder: httptest.NewRecorder()}
	now := time.Now()
	for _, end := range []time.Time{now.Add(copyLongest), now.Add(copyStall / 2), now.Add(-time.Minute)} {
		_, err := (&hasty{a, http.NewResponseController(a), end}).Write([]byte("some"))
		require.NoError(t, err)
	}
	require.Len(t, a.until, 3)
	assert.False(t, a.until[0].Before(now.Add(copyStall)))
	assert.True(t, a.until[0].Before(now.Add(copyLongest)))
	assert.Equal(t, now.Add(copyStall/2), a.until[1])
	assert.Equal(t, now.Add(-time.Minute), a.until[2], "the connection takes nothing any more")

	_, err := (&hasty{a, http.NewResponseController(httptest.NewRecorder()), now}).Write([]byte("some"))
	require.ErrorIs(t, err, errors.ErrUnsupported)
}
