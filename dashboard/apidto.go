package dashboard

import (
	"time"

	"ductward/internal/alarm"
	"ductward/internal/diagnosis"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/outbox"
)

// The types in this file are the JSON that other programs read: keys are added, never renamed, and each carries its
// unit. Standard errors end in _sd, as in the other files that the tool writes.

type findingDTO struct {
	ID             string          `json:"id"`
	Collector      string          `json:"collector"`
	Kind           finding.Kind    `json:"kind"`
	Subject        string          `json:"subject"`
	Priority       string          `json:"priority"`
	Raised         *time.Time      `json:"raised"`
	Onset          *time.Time      `json:"onset"`
	OnsetLow       *time.Time      `json:"onset_low"`
	OnsetHigh      *time.Time      `json:"onset_high"`
	Ended          *time.Time      `json:"ended"`
	Size           *float64        `json:"size"`
	SizeLow        *float64        `json:"size_low"`
	SizeHigh       *float64        `json:"size_high"`
	SizeUnit       string          `json:"size_unit"`
	Confidence     *float64        `json:"confidence"`
	Where          []finding.Place `json:"where"`
	ConfusableWith []string        `json:"confusable_with"`
	Text           string          `json:"text"`
	Action         string          `json:"action"`
	Evidence       string          `json:"evidence"`
	Under          string          `json:"under"`

	diagnosis.Advice
}

func newFindingDTO(f *finding.Finding) findingDTO {
	return findingDTO{
		ID: f.ID, Collector: f.Collector, Kind: f.Kind, Subject: f.Subject, Priority: string(f.Priority),
		Raised: stamp(f.Raised), Onset: stamp(f.Onset), OnsetLow: stamp(f.OnsetLow), OnsetHigh: stamp(f.OnsetHigh),
		Ended: stamp(f.Ended), Size: num(f.Size), SizeLow: num(f.SizeLow), SizeHigh: num(f.SizeHigh),
		SizeUnit: f.SizeUnit, Confidence: num(f.Confidence), Where: list(f.Where),
		ConfusableWith: list(f.ConfusableWith), Text: f.Text, Action: f.Action, Evidence: f.Evidence, Under: f.Under,
		Advice: diagnosis.For(f.Kind),
	}
}

type alarmDTO struct {
	ID             string     `json:"id"`
	Cause          string     `json:"cause"`
	Priority       string     `json:"priority"`
	State          string     `json:"state"`
	Text           string     `json:"text"`
	Action         string     `json:"action"`
	Raised         *time.Time `json:"raised"`
	Cleared        *time.Time `json:"cleared"`
	Acknowledged   *time.Time `json:"acknowledged"`
	AcknowledgedBy string     `json:"acknowledged_by"`

	Times        int             `json:"times"`
	Held         bool            `json:"held"` // by any of the next three
	Shelved      *alarm.Shelving `json:"shelved"`
	Suppressed   string          `json:"suppressed_by_design"`
	OutOfService *alarm.Service  `json:"out_of_service"`
	Response     *alarm.Response `json:"response"`

	Since      *time.Time `json:"since"`
	Confidence *float64   `json:"confidence"`
	Confusable []string   `json:"confusable_with"`
	Follows    []string   `json:"follows"`
	diagnosis.Advice
	Told []toldDTO `json:"told"` // of the newest letter about it
}

// toldDTO is whether one target has been told.
type toldDTO struct {
	Target string       `json:"target"`
	Event  alarm.Event  `json:"event"`
	State  outbox.State `json:"state"`
	At     *time.Time   `json:"at"`
}

func (s *server) newAlarmDTO(a alarm.Alarm) alarmDTO {
	out := alarmDTO{ID: a.ID, Cause: a.Cause, Priority: string(a.Priority), State: string(a.State), Text: a.Text,
		Action: a.Action, Raised: stamp(a.Raised), Cleared: stamp(a.Cleared), Acknowledged: stamp(a.Acked),
		AcknowledgedBy: a.AckedBy, Times: a.Times, Held: a.Held(), Shelved: a.Shelved, Suppressed: a.Suppressed,
		OutOfService: a.OutOfService, Response: a.Response,
		Since: stamp(a.Since), Confusable: list(a.Confusable), Follows: list(a.Follows), Advice: diagnosis.For(a.Kind()), Told: []toldDTO{}}
	if a.Confidence > 0 {
		out.Confidence = &a.Confidence
	}
	for _, it := range s.newestLetters(a.ID) {
		out.Told = append(out.Told, toldDTO{it.Target, it.Letter.Event, it.State, stamp(it.Ended)})
	}
	return out
}

type entryDTO struct {
	Time    *time.Time   `json:"time"`
	Kind    journal.Kind `json:"kind"`
	Subject string       `json:"subject"`
	Note    string       `json:"note"`
	By      string       `json:"by"`

	Number   int            `json:"number,omitempty"`
	Corrects uint64         `json:"corrects,omitempty"`
	Result   journal.Result `json:"result,omitempty"`
	Action   string         `json:"action,omitempty"`
	Alarm    string         `json:"alarm,omitempty"`
	Event    string         `json:"event,omitempty"`
}

func newEntryDTO(e journal.Entry, number int) entryDTO {
	return entryDTO{stamp(e.Time), e.Kind, e.Subject, e.Note, e.By, number, e.Corrects, e.Result, e.Action, e.Alarm, e.Event}
}

type chartDTO struct {
	Channel string      `json:"channel"`
	Unit    string      `json:"unit"`
	Buckets []bucketDTO `json:"buckets"`
}

type bucketDTO struct {
	Start time.Time `json:"start"`
	End   time.Time `json:"end"`
	Min   *float64  `json:"min"`
	Mean  *float64  `json:"mean"`
	Max   *float64  `json:"max"`
	N     int       `json:"n"`
}

func newBucketDTOs(buckets []Bucket) []bucketDTO {
	out := make([]bucketDTO, 0, len(buckets))
	for _, b := range buckets {
		d := bucketDTO{Start: b.Start.UTC(), End: b.End.UTC(), N: b.N}
		if b.N > 0 {
			d.Min, d.Mean, d.Max = num(b.Min), num(b.Mean), num(b.Max)
		}
		out = append(out, d)
	}
	return out
}

// areaDTO is the opening that would let in a leak at a suction, m², with its standard error.
func areaDTO(leak estimate.Value, suction float64) (area, sd *float64) {
	if !(suction > 0) {
		return nil, nil
	}
	return num(openArea(leak.V, suction)), num(openArea(leak.SE, suction))
}

// enoughWord says whether a machine has the air that it needs.
func enoughWord(fanOn bool, m estimate.MachineAir) string {
	switch {
	case !m.Open:
		return "shut"
	case !fanOn:
		return "fan off"
	}
	return map[airVerdict]string{enough: "yes", short: "no", closeCall: "too close to tell", noNeed: "need not stated", noAnswer: "not known"}[judge(m)]
}
