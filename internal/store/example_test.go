package store_test

import (
	"fmt"
	"math"
	"os"
	"time"

	"ductward/internal/reading"
	"ductward/internal/store"
)

func Example() {
	dir, err := os.MkdirTemp("", "ductward-example-")
	if err != nil {
		panic(err)
	}
	defer func() { _ = os.RemoveAll(dir) }()
	s, err := store.Open(dir, store.Options{})
	if err != nil {
		panic(err)
	}
	boot, err := s.NewBoot()
	if err != nil {
		panic(err)
	}
	// Ten minutes at one reading a second, before the board knows what time it is.
	for i := range 600 {
		r := reading.Reading{Channel: "north/filter drop", Value: 800 + float64(i%60), SD: math.NaN(), Boot: boot,
			Mono: time.Duration(i) * time.Second, Seq: uint64(i)}
		if err := s.Append([]reading.Reading{r}); err != nil {
			panic(err)
		}
	}
	if err := s.Commit(); err != nil {
		panic(err)
	}
	// Now it does, and all readings of the boot have their time.
	start := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	if err := s.PlaceBoot(boot, start); err != nil {
		panic(err)
	}
	points, err := s.Chart("north/filter drop", start, start.Add(10*time.Minute), 2)
	if err != nil {
		panic(err)
	}
	for _, p := range points {
		fmt.Printf("%s: %.0f to %.0f Pa, mean %.1f Pa of %d readings\n", p.Start.Format("15:04"), p.Min, p.Max, p.Mean, p.N)
	}
	if err := s.Close(); err != nil {
		panic(err)
	}
	// Output:
	// 08:00: 800 to 859 Pa, mean 829.5 Pa of 300 readings
	// 08:05: 800 to 859 Pa, mean 829.5 Pa of 300 readings
}
