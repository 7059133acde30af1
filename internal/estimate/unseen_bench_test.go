package estimate_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/steady"
)

// BenchmarkUnseen folds a record whose gates fall silent, and tells the time for each run whose gates have to be told by
// the pressures.
func BenchmarkUnseen(b *testing.B) {
	for _, bs := range benchShops() {
		if bs.fault {
			continue
		}
		bs.days = 21
		bs.name += ", silent"
		b.Run(bs.name, func(b *testing.B) {
			runs := runsOf(b, bs)
			s, c := mustShop(b, bs)
			var all []string
			for _, g := range c.Gates {
				all = append(all, g.Name)
			}
			slices.Sort(all)
			var fold time.Duration
			updates := 0
			for b.Loop() {
				e, err := estimate.New(s, c)
				require.NoError(b, err)
				for _, r := range runs {
					silent := r.Start > 14*24*time.Hour && (r.Kind == steady.Running || r.Kind == steady.Closed)
					if silent {
						r.Kind, r.Open, r.Unknown = steady.Unknown, nil, all
					}
					begun := time.Now()
					e.Run(r)
					if silent {
						fold += time.Since(begun)
						updates++
					}
				}
				require.NotEmpty(b, e.Guesses())
			}
			b.ReportMetric(fold.Seconds()*1e3/float64(updates), "ms/run")
		})
	}
}
