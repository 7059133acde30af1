package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware"
	"ductward/hardware/rig"
	"ductward/internal/shop"
)

// shopOf is the demonstration's, with static taps along its trunk until it has that many sensors, all on ABP2: with
// eight addresses, eight a bus.
func shopOf(sensors int, every time.Duration) (*shop.Shop, error) {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	if err := shop.Errors(problems); err != nil {
		return nil, err
	}
	s.Outbound = shop.Outbound{}
	c := s.Collectors[0]
	c.Sensors = slices.DeleteFunc(c.Sensors, func(x *shop.Sensor) bool { return x.From.Kind != shop.SourceI2C })
	runs := slices.DeleteFunc(slices.Clone(c.Network.Runs), func(r *shop.Run) bool { return !strings.HasPrefix(r.Name, "trunk") })
	for i := len(c.Sensors); i < sensors; i++ {
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: fmt.Sprintf("tap %d", i), Measures: shop.StaticPressure, Run: runs[i%len(runs)].Name,
			Diameter: math.NaN(), From: shop.Source{Kind: shop.SourceI2C, Span: 4000}})
	}
	addresses := shop.ChipOf("abp2").Addresses
	for i, x := range c.Sensors {
		x.Interval, x.From.Chip, x.From.Bus, x.From.Address = every, "abp2", strconv.Itoa(1+i/len(addresses)), addresses[i%len(addresses)]
	}
	s.Raw = []byte(fmt.Sprintf("shop: %d sensors\n", sensors))
	return s, nil
}

// board is a rig whose transfers take their time, and which notes when each conversion was asked for.
type board struct {
	*rig.Still
	mu    sync.Mutex
	buses []*slowBus
}

// I2C returns a bus as a board's own: bounded in time.
func (b *board) I2C(name string) (i2c.Bus, error) {
	below, err := b.Still.I2C(name)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	slow := &slowBus{Bus: below}
	b.buses = append(b.buses, slow)
	return hardware.NewBounded(slow, time.Second), nil
}

func (b *board) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.buses {
		s.forget()
	}
}

// jitter returns by how much the time between two samples of a sensor differs from the interval, in ms: the 99th
// percentile and the most.
func (b *board) jitter(every time.Duration) (p99, most float64, n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var off []float64
	for _, s := range b.buses {
		off = append(off, s.off(every)...)
	}
	if len(off) == 0 {
		return math.NaN(), math.NaN(), 0
	}
	slices.Sort(off)
	return off[len(off)*99/100], off[len(off)-1], len(off)
}

// slowBus is a bus at 100 kHz: nine clocks a byte, the address among them (NXP UM10204, section 3.1.5).
type slowBus struct {
	i2c.Bus
	mu    sync.Mutex
	began [1 << 7][]time.Time // by address
}

// Tx makes one transfer.
func (s *slowBus) Tx(addr uint16, w, r []byte) error {
	if len(w) > 0 {
		s.mu.Lock()
		s.began[addr] = append(s.began[addr], time.Now())
		s.mu.Unlock()
	}
	time.Sleep(time.Duration(1+len(w)+len(r)) * 90 * time.Microsecond)
	return s.Bus.Tx(addr, w, r)
}

func (s *slowBus) forget() {
	s.mu.Lock()
	defer s.mu.Unlock()
	clear(s.began[:])
}

func (s *slowBus) off(every time.Duration) (off []float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, at := range s.began {
		for i := 1; i < len(at); i++ {
			off = append(off, 1e3*math.Abs((at[i].Sub(at[i-1])-every).Seconds()))
		}
	}
	return off
}
