package estimate

import (
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// faultBook follows the sensors as instruments: zeros, noise, and what the hardware reports.
type faultBook struct {
	zeros  map[string]zeroTrack
	tracks map[string]*noiseTrack
	pulses map[string]pulse
	silent map[string]silentTrack
}

func newFaultBook() faultBook {
	return faultBook{zeros: map[string]zeroTrack{}, tracks: map[string]*noiseTrack{}, pulses: map[string]pulse{}, silent: map[string]silentTrack{}}
}

// isPressure tells whether a channel is a pressure of this collector.
func (e *Estimator) isPressure(channel string) bool { return isDuctPressure(e.collector, channel) }

// raiseFault raises or refreshes a finding about an instrument.
func (e *Estimator) raiseFault(kind finding.Kind, channel string, at time.Time, size float64, unit, text string) {
	f := e.standing(kind, channel)
	if f == nil {
		n := finding.Finding{Collector: e.collector.Name, Kind: kind, Subject: channel, Priority: finding.Instrument,
			Raised: at, Onset: at, OnsetLow: at, OnsetHigh: at, Confidence: 0.99}
		n.ID = e.newID(kind, channel, at)
		e.findings = append(e.findings, n)
		f = &e.findings[len(e.findings)-1]
	}
	f.Size, f.SizeLow, f.SizeHigh, f.SizeUnit = size, size, size, unit
	row := diagnosis.Of(kind)
	if kind == finding.SensorDisagrees && !e.isPressure(channel) {
		row = diagnosis.FanMeter
	}
	f.Text, f.Action, f.ConfusableWith = text, row.Action(channel), row.Others()
}

// endFault ends a finding about an instrument.
func (e *Estimator) endFault(kind finding.Kind, channel string, at time.Time) {
	if f := e.standing(kind, channel); f != nil {
		f.Ended = at
	}
}
