package dashboard

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// findingsBody is the content of the findings page.
type findingsBody struct {
	Sentence string
	Asking   []findingCard // active, worst first
	Held     []findingCard // active, and put aside
	Unseen   []alarmLine   // alarms whose finding is gone and that nobody has seen
	UnseenOf []string
	Record   []findingCard // ended, and what asks nothing; newest first
	By       string
	Lacks    []string
}

// findingsView collects what was found.
func (s *server) findingsView(rq *request) (any, error) {
	held := s.held()
	b := findingsBody{Asking: s.cards(rq, held.asks), Held: s.cards(rq, held.holds), By: remembered(rq.Request)}
	b.Record = s.cards(rq, func(f *finding.Finding) bool { return !asking(f) })
	sort.SliceStable(b.Record, func(i, j int) bool { return b.Record[i].at.After(b.Record[j].at) })
	b.Record = b.Record[:min(len(b.Record), maxRecord)]
	shown := map[string]bool{}
	for _, c := range slices.Concat(b.Asking, b.Held, b.Record) {
		shown[c.ID] = true
	}
	for _, a := range s.Alarms.List() {
		if l := s.alarmLine(a, rq.now); l.NeedsAck && !shown[a.ID] && !a.Held() {
			b.Unseen, b.UnseenOf = append(b.Unseen, *l), append(b.UnseenOf, s.words(a.Text))
		}
	}
	if rq.snap != nil {
		for _, c := range rq.snap.Collectors {
			b.Lacks = append(b.Lacks, c.Lacks...)
		}
	}
	b.Sentence = findingsSentence(rq, b.Asking)
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("findings: %w", err)
	}
	done := s.doneAbout(rq, entries)
	for _, cards := range [][]findingCard{b.Asking, b.Held, b.Record} {
		for i := range cards {
			cards[i].Done = done[cards[i].ID]
		}
	}
	return b, nil
}

// doneAbout is what was done about each finding, by its name.
func (s *server) doneAbout(rq *request, entries []journal.Entry) map[string][]repairLine {
	out := map[string][]repairLine{}
	if rq.snap == nil {
		return out
	}
	for _, a := range s.Alarms.List() {
		if r := a.Response; r != nil {
			out[a.ID] = append(out[a.ID], repairLine{What: fmt.Sprintf("%s, %s, found: %s. Done: %s", s.day(r.At, rq.now), r.By, r.Found, r.Action)})
		}
	}
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		for j := range c.Findings {
			f := &c.Findings[j]
			out[f.ID] = append(out[f.ID], s.repairLines(c, f, entries, rq.now)...)
		}
	}
	return out
}

// maxRecord is how many past findings the page shows; the logbook shows them all by their day.
const maxRecord = 60

// findingsSentence says at the top what the list comes to.
func findingsSentence(rq *request, asking []findingCard) string {
	if rq.snap == nil {
		return "Nothing has been looked at yet."
	}
	counts := map[string]int{}
	for _, c := range asking {
		counts[c.Class]++
	}
	var parts []string
	if n := counts[actToday.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s to act on today", count(n, "thing")))
	}
	if n := counts[plan.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s to plan", count(n, "thing")))
	}
	if n := counts[cannotTell.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s with the instruments", count(n, "trouble")))
	}
	if len(parts) == 0 {
		return "Nothing that was found asks anything of you."
	}
	verb := "There are "
	if strings.HasPrefix(parts[0], "one ") {
		verb = "There is "
	}
	return verb + sentenceList(parts) + "."
}

// cards puts all findings that keep passes into words: worst first, then the newest.
func (s *server) cards(rq *request, keep func(*finding.Finding) bool) []findingCard {
	if rq.snap == nil {
		return nil
	}
	alarms := map[string]alarm.Alarm{}
	for _, a := range s.Alarms.List() {
		alarms[a.ID] = a
	}
	held := s.held()
	var out []findingCard
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		for j := range c.Findings {
			f := &c.Findings[j]
			if !keep(f) {
				continue
			}
			card := s.card(f, alarms, rq.now)
			if a, ok := held[alarm.Cause(f)]; ok && asking(f) {
				card.Held, card.Asks, card.Class, card.rank = s.heldWords(&a, rq.now), false, "journal", 3
				if card.Alarm != nil {
					card.Alarm.NeedsAck = false
				}
			}
			out = append(out, card)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].rank != out[j].rank {
			return out[i].rank < out[j].rank
		}
		return out[i].at.After(out[j].at)
	})
	return out
}
