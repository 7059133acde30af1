package daemon

import (
	"errors"
	"fmt"
	"log/slog"
	"math"
	"runtime/debug"
	"time"

	"ductward/hardware"
	"ductward/internal/reading"
)

// panicked is the code of a driver that failed in a way that it should not.
const panicked = hardware.Code("driver-failed")

// probe is one poller with when it is due and how it does. It belongs to the goroutine of its group.
type probe struct {
	poller   hardware.Poller
	channel  *channel
	interval time.Duration
	due      time.Duration // monotonic, of the next read
	recorded time.Duration // of its channel, as the intake said last
	health   health
	panics   int
}

// health turns single failures into faults: a read that fails once in a while is no news, and one good read does not
// end a fault.
type health struct {
	badSince  time.Duration // monotonic, of the first of the failed reads in a row; -1: the last read was good
	goodSince time.Duration // likewise of the good ones
	told      string        // the fault that was told, as newsOf names it; "" for none
}

// failed notes a failed read, and returns whether the fault is to be told now.
func (h *health) failed(mono time.Duration, news string, after time.Duration) bool {
	if h.badSince < 0 {
		h.badSince = mono
	}
	h.goodSince = -1
	if h.told == news || h.told == "" && mono-h.badSince < after {
		return false
	}
	h.told = news
	return true
}

// good notes a good read, and returns whether the end of a fault is to be told now.
func (h *health) good(mono time.Duration, after time.Duration) bool {
	if h.goodSince < 0 {
		h.goodSince = mono
	}
	h.badSince = -1
	if h.told == "" || mono-h.goodSince < after {
		return false
	}
	h.told = ""
	return true
}

// sound tells whether the last read was good and no fault is open.
func (h *health) sound() bool { return h.told == "" && h.goodSince >= 0 }

// start lets the part measure for the read that follows at once, if it can. A driver that panics is logged, and read tells
// how it does.
func (p *probe) start(log *slog.Logger) {
	defer func() {
		if r := recover(); r != nil {
			_ = p.panicked(r, log)
		}
	}()
	if s, ok := p.poller.(hardware.Starter); ok {
		s.Start()
	}
}

// read asks the poller once. A driver that panics fails this read and nothing else.
func (p *probe) read(log *slog.Logger) (v float64, q reading.Quality, err error) {
	defer func() {
		if r := recover(); r != nil {
			v, err = math.NaN(), p.panicked(r, log)
		}
	}()
	return p.poller.Read()
}

func (p *probe) panicked(r any, log *slog.Logger) error {
	if p.panics++; p.panics == 1 {
		log.Error("driver failed", "channel", p.channel.name, "panic", r, "stack", string(debug.Stack()))
	}
	return &hardware.Fault{Code: panicked, Channel: p.channel.name, Err: fmt.Errorf("panic: %v", r),
		Remedy: "this is a fault of the program: please report it with the log"}
}

// newsOf names a fault so that what is news of it differs: its code, and what was tried about it.
func newsOf(err error, code string) string {
	var f *hardware.Fault
	if errors.As(err, &f) {
		return code + f.Tried()
	}
	return code
}

// codeOf returns the code and the words of a failed read.
func codeOf(err error) (code, text string) {
	var f *hardware.Fault
	if !errors.As(err, &f) {
		return "failed", err.Error()
	}
	text = string(f.Code)
	if f.Where != "" {
		text += ", " + f.Where
	}
	if f.Err != nil {
		text += ": " + f.Err.Error()
	}
	text += f.Tried()
	if f.Remedy != "" {
		text += "; " + f.Remedy
	}
	return string(f.Code), text
}
