package daemon

import (
	"context"
	"errors"
	"log/slog"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// noted is a part that notes its end and returns err.
func noted(name string, stopped *[]string, err error) part {
	return part{name, func(ctx context.Context) error {
		<-ctx.Done()
		*stopped = append(*stopped, name) // one after the other, as the test shows: no lock
		return err
	}}
}

func TestPartsStopInReverseOrderOfUse(t *testing.T) {
	var stopped []string
	ctx, stop := context.WithCancel(context.Background())
	stop()
	err := runParts(ctx, []part{noted("publishing", &stopped, nil), noted("dashboard", &stopped, nil),
		noted("fold", &stopped, nil), noted("sampling", &stopped, nil)}, quiet())
	require.NoError(t, err)
	assert.Equal(t, []string{"sampling", "fold", "dashboard", "publishing"}, stopped)
}

func TestOnePartThatFailsStopsAll(t *testing.T) {
	var stopped []string
	broken := errors.New("no more paper")
	err := runParts(context.Background(), []part{noted("publishing", &stopped, nil),
		{"dashboard", func(context.Context) error { return broken }}, noted("sampling", &stopped, nil)}, quiet())
	require.ErrorIs(t, err, broken)
	require.ErrorContains(t, err, "dashboard")
	assert.Equal(t, []string{"sampling", "publishing"}, stopped)
}

func TestAPartThatEndsByItselfIsAFailure(t *testing.T) {
	err := runParts(context.Background(), []part{{"sampling", func(context.Context) error { return nil }}}, quiet())
	require.ErrorContains(t, err, "sampling: ended by itself")
}

func TestEveryFailureOnTheWayDownIsTold(t *testing.T) {
	var stopped []string
	ctx, stop := context.WithCancel(context.Background())
	stop()
	one, two := errors.New("one"), errors.New("two")
	err := runParts(ctx, []part{noted("fold", &stopped, one), noted("sampling", &stopped, two)}, quiet())
	require.ErrorIs(t, err, one)
	require.ErrorIs(t, err, two)
}
